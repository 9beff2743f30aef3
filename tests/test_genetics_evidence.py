"""Evidence against published carrier tables and a sum over every genotype of every animal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brumal.genetics.crosses.meiosis import wild_pair
from brumal.genetics.evidence.infer import ClutchYoung, Inferred, infer
from brumal.genetics.genotypes import ClaimKind, Diplotype, Morph
from brumal.records.animals import Animal, Sex
from brumal.records.faults import Severity
from genes_for_tests import SHOP, claim, morph, pair
from genotype_enumeration import Group, Locus, Member, Seen, enumerate_all

HET, POSSIBLE, PINNED = ClaimKind.HET, ClaimKind.POSSIBLE_HET, ClaimKind.PINNED
CLOWN = morph(claim(SHOP, "Clown"))
HET_CLOWN = morph(claim(SHOP, "Clown", HET))
NORMAL = morph()


def possible(chance: float, allele: str = "Clown") -> Morph:
    return morph(claim(SHOP, allele, POSSIBLE, chance=chance))


def dam(name: str, mother: str | None = None, father: str | None = None) -> Animal:
    return Animal(id=name, sex=Sex.FEMALE, dam=mother, sire=father)


def sire(name: str, mother: str | None = None, father: str | None = None) -> Animal:
    return Animal(id=name, sex=Sex.MALE, dam=mother, sire=father)


def chances(found: Inferred, name: str, group: str = "clown") -> dict[Diplotype, float]:
    genotype = found.genotypes[name]
    return dict(genotype.groups.get(group, ((pair("+", "+"), 1.0),)))


def het_chance(found: Inferred, name: str, allele: str = "Clown", group: str = "clown") -> float:
    return sum(p for d, p in chances(found, name, group).items() if (allele,) in d)


# --- the published carrier tables -----------------------------------------------------------------

# Young; Bridge 1997 (both from memory): P = p q^n / (p q^n + 1 - p), q = 1/2 for a visual mate,
# 3/4 for a carrier mate; the fractions as tabled.
VISUAL_MATE_TWO_THIRDS = {0: (2, 3), 1: (1, 2), 2: (1, 3), 3: (1, 5), 4: (1, 9), 5: (1, 17),
                          6: (1, 33), 8: (1, 129), 10: (1, 513)}  # fmt: skip
VISUAL_MATE_HALF = {0: (1, 2), 1: (1, 3), 2: (1, 5), 3: (1, 9), 4: (1, 17), 5: (1, 33),
                    6: (1, 65), 8: (1, 257), 10: (1, 1025)}  # fmt: skip
CARRIER_MATE_TWO_THIRDS = {0: (2, 3), 1: (3, 5), 2: (9, 17), 3: (27, 59), 4: (81, 209),
                           5: (243, 755), 6: (729, 2777), 8: (6561, 39329),
                           10: (59049, 583337)}  # fmt: skip
TABLES = [
    (mate, prior, n, Fraction(*value))
    for mate, prior, table in (
        (CLOWN, 2 / 3, VISUAL_MATE_TWO_THIRDS),
        (CLOWN, 1 / 2, VISUAL_MATE_HALF),
        (HET_CLOWN, 2 / 3, CARRIER_MATE_TWO_THIRDS),
    )
    for n, value in table.items()
]


@pytest.mark.parametrize(("mate", "prior", "normals", "expected"), TABLES)
def test_carrier_after_normals(mate: Morph, prior: float, normals: int, expected: Fraction) -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=((normals, NORMAL),) if normals else ())
    found = infer([dam("D"), sire("S")], {"D": possible(prior), "S": mate}, [clutch], SHOP)
    assert het_chance(found, "D") == pytest.approx(float(expected), abs=1e-12)


@pytest.mark.parametrize(("mate", "prior", "normals", "expected"), TABLES[:18])
def test_carrier_by_pedigree_and_animals(
    mate: Morph, prior: float, normals: int, expected: Fraction
) -> None:
    # The same figures where the prior comes from parents and the normals are animals.
    other = HET_CLOWN if prior > 0.6 else NORMAL
    animals = [dam("GD"), sire("GS"), dam("D", "GD", "GS"), sire("S")]
    animals += [dam(f"Y{i}", "D", "S") for i in range(normals)]
    found = infer(animals, {"GD": HET_CLOWN, "GS": other, "S": mate}, [], SHOP)
    assert het_chance(found, "D") == pytest.approx(float(expected), abs=1e-12)


def test_visual_young_prove_a_possible_het() -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=((5, NORMAL), (1, CLOWN)))
    found = infer([dam("D"), sire("S")], {"D": possible(0.5), "S": CLOWN}, [clutch], SHOP)
    assert chances(found, "D") == {pair("+", "Clown"): 1.0}
    assert [finding.severity for finding in found.findings] == [Severity.NOTICE]
    assert found.findings[0].repair == "Write 'het Clown'."


# --- against enumeration, on looped pedigrees -----------------------------------------------------

RECESSIVES = Group((Locus("albino", {"Albino": False, "Candy": False}),), ())
COMPLEX = Group((Locus("bel", {"Lesser": True, "Mojave": True}),), ())
LINKED = Group((Locus("alpha", {"Alpha": False}), Locus("beta", {"Beta": False})), (0.1,))
SEXES = Group((Locus("banana", {"Banana": True}),), (0.05,), with_sex=True)
NAMES = {"albino": RECESSIVES, "bel": COMPLEX, "alpha-beta": LINKED, "sex": SEXES}


@dataclass(frozen=True)
class Case:
    """A drawn collection, both as the tool reads it and as the enumeration does."""

    group: str
    animals: list[Animal]
    morphs: dict[str, Morph]
    clutches: list[ClutchYoung]
    members: list[Member]
    seen: list[Seen]

    def names(self) -> list[str]:
        return [f"A{place}" for place in range(len(self.members))]

    def enumerated(self) -> dict[tuple[Diplotype, ...], float] | None:
        told = {p: self.morphs[n] for p, n in enumerate(self.names()) if n in self.morphs}
        return enumerate_all(NAMES[self.group], self.members, told, self.seen)


def said(draw: st.DrawFn, name: str, *, founder: bool) -> Morph:
    """Draw what a keeper might say at the loci of a group."""
    claims = []
    for locus in NAMES[name].loci:
        allele = draw(st.sampled_from(sorted(locus.shows_in_one_copy)))
        kinds = ["nothing", "nothing", "visual", "pinned"]
        if not locus.shows_in_one_copy[allele]:
            kinds += ["het", "possible"] if founder else ["het"]
        kind = draw(st.sampled_from(kinds))
        if kind == "visual":
            side = draw(st.sampled_from(["", "", "X", "Y"])) if name == "sex" and founder else ""
            claims.append(claim(SHOP, allele, carried_on=side))
        elif kind == "pinned":
            found = tuple(
                sorted(draw(st.tuples(*[st.sampled_from(["+", *locus.shows_in_one_copy])] * 2)))
            )
            claims.append(claim(SHOP, allele, PINNED, pairs=(found,)))  # type: ignore[arg-type]
        elif kind == "het":
            claims.append(claim(SHOP, allele, HET))
        elif kind == "possible":
            chance = draw(st.sampled_from([0.5, 2 / 3, 0.1]))
            claims.append(claim(SHOP, allele, POSSIBLE, chance=chance))
    return morph(*claims)


@st.composite
def cases(draw: st.DrawFn, names: tuple[str, ...] = tuple(NAMES)) -> Case:
    name = draw(st.sampled_from(names))
    founders = draw(st.integers(2, 3))
    young = draw(st.integers(1, 3))
    members: list[Member] = []
    animals: list[Animal] = []
    morphs: dict[str, Morph] = {}
    for place in range(founders + young):
        sex = ("female", "male")[place] if place < 2 else draw(st.sampled_from(["female", "male"]))
        dams = [p for p, m in enumerate(members) if m.sex == "female"]
        sires = [p for p, m in enumerate(members) if m.sex == "male"]
        parents = (
            (draw(st.sampled_from(dams)), draw(st.sampled_from(sires)))
            if place >= founders
            else (None, None)
        )
        recorded = place >= founders or draw(st.integers(0, 4)) > 0
        members.append(Member(*parents, sex, recorded))
        if recorded:
            ids = [None if parent is None else f"A{parent}" for parent in parents]
            own = Animal(id=f"A{place}", sex=Sex(sex), dam=ids[0], sire=ids[1])
            animals.append(own)
            morphs[own.id] = said(draw, name, founder=place < founders)
    clutches, seen = [], []
    for _ in range(draw(st.integers(0, 1))):
        dam_at = draw(st.sampled_from([p for p, m in enumerate(members) if m.sex == "female"]))
        sire_at = draw(st.sampled_from([p for p, m in enumerate(members) if m.sex == "male"]))
        looks = []
        for _ in range(draw(st.integers(1, 2))):
            look = said(draw, name, founder=False)
            shown = Morph(tuple(c for c in look.claims if c.kind is ClaimKind.VISUAL))
            count = draw(st.integers(1, 4))
            looks.append((count, shown))
            seen.append(Seen(dam_at, sire_at, shown, count))
        # A hatch year of its own keeps these young apart from the animals.
        clutches.append(
            ClutchYoung(dam=f"A{dam_at}", sire=f"A{sire_at}", young=tuple(looks), hatched_year=1999)
        )
    animals = [replace(animal, hatched=date(2020, 7, 1)) for animal in animals]
    return Case(name, animals, morphs, clutches, members, seen)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_any_pedigree_against_enumeration(case: Case) -> None:
    same_as_enumerated(case)


@pytest.mark.slow
@settings(max_examples=3000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_any_pedigree_against_enumeration_at_length(case: Case) -> None:
    same_as_enumerated(case)


def same_as_enumerated(case: Case) -> None:
    expected = case.enumerated()
    found = infer(case.animals, case.morphs, case.clutches, SHOP)
    errors = [finding for finding in found.findings if finding.severity is Severity.ERROR]
    assert bool(errors) == (expected is None)
    if expected is None:
        return
    animals = found.collection.animals
    for place, name in enumerate(case.names()):
        if name not in found.genotypes:
            continue
        marginal: dict[Diplotype, float] = {}
        for genotypes, chance in expected.items():
            marginal[genotypes[place]] = marginal.get(genotypes[place], 0.0) + chance
        sex = animals[name].sex
        assert sex is not None
        wild = ((wild_pair(SHOP.groups[case.group], sex), 1.0),)
        belief = dict(found.genotypes[name].groups.get(case.group, wild))
        assert belief == pytest.approx(marginal, abs=1e-12)


# --- the rules of evidence, one by one ------------------------------------------------------------


def test_visual_young_prove_two_unstated_founders() -> None:
    found = infer([dam("D"), sire("S"), dam("Y", "D", "S")], {"Y": CLOWN}, [], SHOP)
    assert chances(found, "D") == chances(found, "S") == {pair("+", "Clown"): 1.0}
    (finding,) = found.findings
    assert finding.severity is Severity.NOTICE
    assert finding.animals == ("D", "S")
    assert finding.found == "Y is 'Clown', young of D and S"
    assert finding.repair == "This proves that D and S carry Clown: write it in the morph."


def test_visual_young_of_a_clutch_prove_too_and_name_the_row() -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=((1, CLOWN), (5, NORMAL)), row=7)
    found = infer([dam("D"), sire("S")], {"S": HET_CLOWN}, [clutch], SHOP)
    assert chances(found, "D") == {pair("+", "Clown"): 1.0}
    assert found.findings[0].animals == ("D",)
    assert found.findings[0].clutch_rows == (7,)


def test_hidden_alleles_are_laid_to_the_unrecorded_first() -> None:
    # The unknown dam explains the het; the recorded sire is not doubted.
    found = infer([sire("S"), dam("Y", None, "S")], {"Y": HET_CLOWN}, [], SHOP)
    assert chances(found, "S") == {pair("+", "+"): 1.0}
    assert found.findings == ()


def test_what_cannot_be_told_apart_is_shared_out() -> None:
    animals = [dam("D"), sire("S"), dam("C", "D", "S"), sire("M"), dam("Y", "C", "M")]
    found = infer(animals, {"Y": HET_CLOWN}, [], SHOP)
    # C or M passed it, equally likely; C had it from D or S (recomputed by hand).
    figures = [het_chance(found, name) for name in "CMDS"]
    assert figures == pytest.approx([1 / 2, 1 / 2, 1 / 4, 1 / 4], abs=1e-12)
    assert "at least one carries Clown" in found.findings[0].repair


def test_contradiction_names_dam_sire_and_young() -> None:
    young = morph(claim(SHOP, "Pastel"))
    animals = [dam("GD"), sire("GS"), dam("D", "GD", "GS"), sire("S"), dam("Y", "D", "S")]
    animals += [dam("Z", "Y", "S"), dam("SIS", "D", "S")]
    found = infer(animals, {"Y": young, "Z": young}, [], SHOP)
    errors = [f for f in found.findings if f.severity is Severity.ERROR]
    # Z has Pastel from Y: one contradiction, not two.
    assert [set(error.animals) for error in errors] == [{"D", "S", "Y"}]
    assert errors[0].found == (
        "records of Pastel that cannot all be true: Y is 'Pastel', young of D and S; "
        "D is 'Normal'; S is 'Normal'"
    )
    assert errors[0].repair == (
        "Check the morphs and the parents of Y, D, S; one of these records is wrong."
    )


def test_contradictions_apart_are_all_told() -> None:
    pastel, het = morph(claim(SHOP, "Pastel")), HET_CLOWN
    wild = morph(claim(SHOP, "Clown", PINNED, pairs=(("+", "+"),)))
    animals = [dam("D"), sire("S"), dam("A", "D", "S"), dam("E"), sire("T"), dam("B", "E", "T")]
    found = infer(animals, {"A": pastel, "E": wild, "T": wild, "B": het}, [], SHOP)
    errors = [f for f in found.findings if f.severity is Severity.ERROR]
    assert [set(error.animals) for error in errors] == [{"B", "E", "T"}, {"A", "D", "S"}]


def test_contradiction_that_only_families_together_show() -> None:
    # One copy each: D cannot be both the Mojave's and the Lesser's only source.
    animals = [sire("S"), dam("A", "D", "S"), dam("B", "D", "S"), dam("C", "D", "S")]
    morphs = {
        "A": morph(claim(SHOP, "Mojave")),
        "B": morph(claim(SHOP, "Lesser")),
        "C": NORMAL,
    }
    found = infer(animals, morphs, [], SHOP)
    (error,) = [f for f in found.findings if f.severity is Severity.ERROR]
    assert set(error.animals) == {"A", "B", "C", "S"}


def test_contradiction_in_a_clutch_names_the_row() -> None:
    pastel = morph(claim(SHOP, "Pastel"))
    clutch = ClutchYoung(dam="D", sire="S", young=((2, pastel), (3, NORMAL)), row=5)
    found = infer([dam("D"), sire("S")], {}, [clutch], SHOP)
    (error,) = found.findings
    assert error.severity is Severity.ERROR
    assert error.animals == ("D", "S")
    assert error.clutch_rows == (5,)
    assert "the clutch of D and S (row 5) has young 'Pastel'" in error.found


def test_possible_het_is_not_counted_twice() -> None:
    animals = [dam("D"), sire("S"), dam("Y", "D", "S")]
    parents = {"D": HET_CLOWN, "S": HET_CLOWN}
    plain = infer(animals, parents, [], SHOP)
    told = infer(animals, {**parents, "Y": possible(2 / 3)}, [], SHOP)
    assert het_chance(told, "Y") == het_chance(plain, "Y") == pytest.approx(2 / 3, abs=1e-15)
    assert told.findings == ()
    other = infer(animals, {**parents, "Y": possible(0.5)}, [], SHOP)
    assert het_chance(other, "Y") == pytest.approx(2 / 3, abs=1e-15)
    (finding,) = other.findings
    assert (finding.animals, finding.severity) == (("Y",), Severity.NOTICE)
    assert finding.found == "Y as 50% het Clown"
    assert finding.expected == "66.7% by its parents and all recorded young"


def test_possible_het_without_pedigree_is_the_prior() -> None:
    animals = [dam("D"), sire("S"), dam("Y", "D", "S")]
    found = infer(animals, {"Y": possible(0.5)}, [], SHOP)
    assert het_chance(found, "Y") == 0.5
    assert chances(found, "D") == chances(found, "S") == {pair("+", "+"): 1.0}
    assert found.findings == ()


def test_possible_het_beside_a_linked_gene_from_the_parents() -> None:
    # Beta comes from the pedigree, Alpha on the keeper's word alone, on either strand.
    animals = [dam("D"), sire("S"), dam("Y", "D", "S")]
    morphs = {
        "D": morph(claim(SHOP, "Beta")),
        "Y": morph(claim(SHOP, "Alpha", POSSIBLE, chance=0.5), claim(SHOP, "Beta", HET)),
    }
    found = infer(animals, morphs, [], SHOP)
    assert dict(found.genotypes["Y"].groups["alpha-beta"]) == pytest.approx(
        {
            (("+", "+"), ("+", "Beta")): 0.5,
            (("+", "+"), ("Alpha", "Beta")): 0.25,
            (("+", "Beta"), ("Alpha", "+")): 0.25,
        }
    )


def test_young_that_are_animals_count_once() -> None:
    animals = [dam("D"), sire("S")]
    young = [replace(dam(f"Y{i}", "D", "S"), hatched=date(2024, 8, 1)) for i in range(2)]
    morphs = {"D": possible(2 / 3), "S": CLOWN}
    clutch = ClutchYoung(dam="D", sire="S", young=((3, NORMAL),), hatched_year=2024)
    found = infer([*animals, *young], morphs, [clutch], SHOP)
    assert het_chance(found, "D") == pytest.approx(1 / 5, abs=1e-12)  # three normals, not five
    other = replace(clutch, hatched_year=2023)
    found = infer([*animals, *young], morphs, [other], SHOP)
    assert het_chance(found, "D") == pytest.approx(1 / 17, abs=1e-12)  # a clutch of its own
    unknown = replace(clutch, hatched_year=None)
    found = infer([*animals, *young], morphs, [unknown], SHOP)
    assert het_chance(found, "D") == pytest.approx(1 / 5, abs=1e-12)


def test_unhatched_and_unseen_young_are_no_evidence() -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=())
    found = infer([dam("D"), sire("S")], {"D": possible(0.5), "S": CLOWN}, [clutch], SHOP)
    assert het_chance(found, "D") == 0.5


def test_which_side_banana_lies_on() -> None:
    banana = morph(claim(SHOP, "Banana"))
    animals = [dam("D"), sire("S"), sire("Y", "D", "S"), sire("Z", "D", "S")]
    found = infer(animals, {"D": banana, "Y": banana}, [], SHOP)
    assert dict(found.genotypes["Y"].groups["sex"]) == {(("X", "Banana"), ("Y", "+")): 1.0}
    found = infer(animals, {"S": banana, "Y": banana}, [], SHOP)
    assert dict(found.genotypes["Y"].groups["sex"]) == {(("X", "+"), ("Y", "Banana")): 1.0}
    # S: one Banana son and one normal son, prior 1/2: Y side .95 x .05, X side .05 x .95.
    assert dict(found.genotypes["S"].groups["sex"])[("X", "+"), ("Y", "Banana")] == pytest.approx(
        0.5
    )
    stated = morph(claim(SHOP, "Banana", carried_on="Y"))
    found = infer(animals, {"S": stated}, [], SHOP)
    assert dict(found.genotypes["S"].groups["sex"]) == {(("X", "+"), ("Y", "Banana")): 1.0}


def test_sons_show_on_which_side_their_sire_carries() -> None:
    # Three Banana sons at r = .05: .95^3 : .05^3 (split (1-r) : r, common practice, no source).
    banana = morph(claim(SHOP, "Banana"))
    animals = [dam("D"), sire("S"), *(sire(f"Y{i}", "D", "S") for i in range(3))]
    morphs = {"S": banana, **{f"Y{i}": banana for i in range(3)}}
    found = infer(animals, morphs, [], SHOP)
    on_y = dict(found.genotypes["S"].groups["sex"])[("X", "+"), ("Y", "Banana")]
    assert on_y == pytest.approx(0.95**3 / (0.95**3 + 0.05**3), abs=1e-12)


def test_unknown_sex_holds_both_and_a_look_speaks_for_one() -> None:
    found = infer([Animal(id="A")], {}, [], SHOP)
    assert [p for _, p in found.genotypes["A"].groups["sex"]] == [0.5, 0.5]
    stated = morph(claim(SHOP, "Banana", carried_on="Y"))
    animals = [dam("D"), sire("S"), Animal(id="Y", dam="D", sire="S")]
    found = infer(animals, {"S": stated}, [], SHOP)
    females = sum(p for d, p in found.genotypes["Y"].groups["sex"] if d[1][0] == "X")
    assert females == pytest.approx(0.95, abs=1e-12)


def test_groups_certainly_wild_are_left_out_and_beliefs_shared() -> None:
    animals = [dam("D"), sire("S"), dam("A", "D", "S"), dam("B", "D", "S"), dam("W")]
    found = infer(animals, {"D": HET_CLOWN, "S": HET_CLOWN}, [], SHOP)
    assert set(found.genotypes["W"].groups) == {"sex"}
    a, b = (found.genotypes[name].groups for name in "AB")
    assert a["clown"] is b["clown"]
    assert a["sex"] is found.genotypes["W"].groups["sex"]


def test_order_of_rows_does_not_matter() -> None:
    animals = [dam("D"), sire("S"), dam("A", "D", "S"), sire("B", "D", "S"), dam("C", "A", "B")]
    morphs = {"D": possible(0.5), "S": possible(2 / 3)}
    one = infer(animals, morphs, [], SHOP)
    other = infer(animals[::-1], morphs, [], SHOP)
    assert one.genotypes == other.genotypes


def test_cycles_and_double_roles_are_refused() -> None:
    with pytest.raises(ValueError, match="cycle"):
        infer([dam("A", "B"), dam("B", "A")], {}, [], SHOP)
    with pytest.raises(ValueError, match="both dam and sire: X"):
        infer([dam("A", "X", "S"), dam("B", "D", "X")], {}, [], SHOP)


def test_over_the_limit_is_said_and_approximated() -> None:
    animals = [dam("D"), sire("S"), dam("A", "D", "S"), sire("B", "D", "S"), dam("C", "A", "B")]
    morphs = {"D": possible(0.5), "S": possible(2 / 3)}
    exact = infer(animals, morphs, [], SHOP)
    rough = infer(animals, morphs, [], SHOP, largest_table=4)
    (warning,) = rough.findings
    assert warning.severity is Severity.WARNING
    assert set(warning.animals) == {"D", "S", "A", "B", "C"}
    assert "approximate" in warning.repair
    for name in "DSABC":
        assert het_chance(rough, name) == pytest.approx(het_chance(exact, name), abs=0.02)
