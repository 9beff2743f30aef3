"""What the keeper is told of each animal, word for word."""

from __future__ import annotations

from brumal.genetics.evidence.infer import ClutchYoung, Inferred, infer
from brumal.genetics.evidence.why_known import why_known
from brumal.genetics.genotypes import ClaimKind, Morph
from brumal.records.animals import Animal, Sex
from genes_for_tests import SHOP, claim, morph

HET, POSSIBLE = ClaimKind.HET, ClaimKind.POSSIBLE_HET
CLOWN = morph(claim(SHOP, "Clown"))
NORMAL = morph()
ANIMALS = [
    Animal(id="D", name="Dora", sex=Sex.FEMALE),
    Animal(id="S", name="Sol", sex=Sex.MALE),
    Animal(id="Y", sex=Sex.MALE, dam="D", sire="S"),
]


def known(morphs: dict[str, Morph], *clutches: ClutchYoung) -> Inferred:
    return infer(ANIMALS, morphs, clutches, SHOP)


def test_visual_and_stated() -> None:
    found = known({"D": CLOWN, "S": morph(claim(SHOP, "Clown", HET)), "Y": CLOWN})
    assert why_known(found, "D") == ("'Clown': stated in its morph.",)
    assert why_known(found, "S") == ("'het Clown': stated in its morph.",)


def test_proved_by_young() -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=((2, CLOWN), (1, NORMAL)), row=7)
    found = known({"Y": CLOWN}, clutch)
    # Y hatched in an unknown year and stands for one of the two.
    assert why_known(found, "D") == ("het Clown: certain, proved by visual young (Y, 1 in row 7).",)


def test_certain_by_a_visual_parent() -> None:
    assert why_known(known({"S": CLOWN}), "Y") == (
        "het Clown: certain, Sol (S) is Clown and passes it to every young.",
    )


def test_possible_by_parents() -> None:
    half = morph(claim(SHOP, "Clown", POSSIBLE, chance=0.5))
    found = known({"D": half, "S": morph(claim(SHOP, "Clown", HET))})
    # Dam after one normal young: 1/2 x 3/4 / (1/2 x 3/4 + 1/2) = 3/7; young: by Bayes 4/7.
    assert why_known(found, "D") == (
        "het Clown: 42.9%, stated in its morph as 50%; "
        "1 normal young from carrier Sol (S) makes it less likely.",
    )
    assert why_known(found, "Y") == (
        "het Clown: 57.1%, Dora (D) carries it with 42.9%; Sol (S) carries it.",
    )


def test_normals_from_a_visual_mate() -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=((4, NORMAL),), hatched_year=1999)
    half = morph(claim(SHOP, "Clown", POSSIBLE, chance=2 / 3))
    found = infer(ANIMALS[:2], {"D": half, "S": CLOWN}, [clutch], SHOP)
    assert why_known(found, "D") == (
        "het Clown: 11.1%, stated in its morph as 66%; "
        "4 normal young from visual Sol (S) make it less likely.",
    )


def test_one_of_several() -> None:
    found = known({"Y": morph(claim(SHOP, "Clown", HET))})
    assert why_known(found, "D") == (
        "het Clown: 50.0%, one of several that may have passed it to young on record.",
    )


def test_sides_of_a_sex_linked_gene() -> None:
    banana = morph(claim(SHOP, "Banana"))
    assert why_known(known({"S": banana}), "S") == (
        "'Banana': stated in its morph.",
        # One normal son: .05 (on the Y) to .95 (on the X).
        "Banana: on the Y with 5.0%, on the X with 95.0%.",
    )
    assert why_known(known({"S": banana, "Y": banana}), "Y")[1] == (
        "Banana: on the Y, passed by Sol (S); most young that get it are sons."
    )
    assert why_known(known({"D": banana, "Y": banana}), "Y")[1] == (
        "Banana: on the X, passed by Dora (D); most young that get it are daughters."
    )


def test_two_copies_of_a_dominant() -> None:
    pin = morph(claim(SHOP, "Pinstripe"))
    assert why_known(known({"D": pin, "S": pin, "Y": pin}), "Y") == (
        "'Pinstripe': stated in its morph.",
        "two copies of Pinstripe: 33.3%.",
    )


def test_nothing_to_say_of_the_wild_type() -> None:
    assert why_known(known({}), "Y") == ()
