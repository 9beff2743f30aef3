"""Looks that hide others, against plain enumeration of every genotype of every animal.

The enumeration knows looks by rules of its own, written out in ``seen`` below.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Mask
from brumal.genetics.crosses.clutch_odds import visual_classes
from brumal.genetics.crosses.cross import cross
from brumal.genetics.evidence.infer import ClutchYoung, infer
from brumal.genetics.genotypes import (
    SEX_GROUP,
    WILD,
    AllelePair,
    ClaimKind,
    Genotype,
    Morph,
)
from brumal.genetics.masks import scene_of, scene_of_pairs
from brumal.genetics.notation.class_names import class_name
from brumal.genetics.notation.parse import parse_morph
from brumal.records.animals import Animal, Sex
from genes_for_tests import (
    DOMINANT,
    FEMALE,
    INCOMPLETE,
    MALE,
    RECESSIVE,
    catalogue_of,
    certain,
    claim,
    morph,
    pair,
)

CATALOGUE = load_catalogue()[0]

SINGLE = {
    "Mojave": ("bel", INCOMPLETE),
    "Lesser": ("bel", INCOMPLETE),
    "Ivy": ("ivy", INCOMPLETE),
    "Dusk": ("dusk", INCOMPLETE),
    "Clown": ("clown", RECESSIVE),
    "Pastel": ("pastel", INCOMPLETE),
    "Pinstripe": ("pinstripe", DOMINANT),
}
LOCI = ("bel", "ivy", "dusk", "clown", "pastel", "pinstripe")
MASKS = (
    Mask(
        locus="bel",
        pairs=frozenset({("Lesser", "Lesser"), ("Lesser", "Mojave"), ("Mojave", "Mojave")}),
        hides=frozenset(LOCI) - {"bel"},
    ),
    Mask(locus="ivy", pairs=frozenset({("Ivy", "Ivy")}), hides=frozenset(LOCI) - {"ivy"}),
    Mask(
        locus="dusk",
        pairs=frozenset({("Dusk", "Dusk")}),
        hides=frozenset({"pinstripe", "bel"}),
    ),
)
GENES = replace(catalogue_of(SINGLE), masks=MASKS)

Pairs = Mapping[str, AllelePair]


def seen(pairs: Pairs) -> tuple[object, ...]:
    """Return all that an eye can tell, by rules written out: white first, then black, then rest."""
    bel, ivy, dusk = (pairs.get(locus, (WILD, WILD)) for locus in ("bel", "ivy", "dusk"))
    # Black hides the single copies of the blue-eyed series, not the white snake of two.
    if WILD not in bel:
        return ("blue-eyed", bel)
    if WILD not in ivy:
        return ("white",)
    clown = "Clown" if pairs.get("clown") == ("Clown", "Clown") else ""
    pastel = pairs.get("pastel", (WILD, WILD))
    pin = "Pinstripe" in pairs.get("pinstripe", ())
    if WILD not in dusk:
        return ("black", ivy, clown, pastel)
    return (bel, ivy, dusk, clown, pastel, pin)


# --- the published example, by the formula of the carrier tables ---------------------------------


def test_white_young_are_no_evidence_on_what_they_hide() -> None:
    """Two young that could show it: 2/3 (1/2)^2 / (2/3 (1/2)^2 + 1/3) = 1/3 (Young; Bridge 1997).

    Taken as normal, the four white ones would make it 1/33, which is 3.0 %.
    """
    read = {
        name: parse_morph(text, CATALOGUE)[0]
        for name, text in (
            ("dam", "Yellow Belly 66% het Piebald"),
            ("sire", "Ivory Piebald"),
            ("white", "Ivory"),
            ("yellow", "Yellow Belly"),
        )
    }
    morphs = {name: found for name, found in read.items() if found is not None}
    clutch = ClutchYoung(
        dam="dam", sire="sire", young=((4, morphs["white"]), (2, morphs["yellow"]))
    )
    animals = [Animal(id="dam", sex=Sex.FEMALE), Animal(id="sire", sex=Sex.MALE)]
    found = infer(animals, morphs, [clutch], CATALOGUE)
    chances = dict(found.genotypes["dam"].groups["piebald"])
    assert chances[pair(WILD, "Piebald")] == pytest.approx(1 / 3, abs=1e-12)
    # What a keeper knows of a white young by its parents is no sight of it either.
    known = parse_morph("Ivory Piebald", CATALOGUE)[0]
    assert known is not None
    clutch = replace(clutch, young=((4, known), (2, morphs["yellow"])))
    again = infer(animals, morphs, [clutch], CATALOGUE)
    assert dict(again.genotypes["dam"].groups["piebald"]) == pytest.approx(chances)


def test_a_white_animal_is_one_of_the_white_young_whatever_is_known_of_it() -> None:
    ivory, known = (parse_morph(text, CATALOGUE)[0] for text in ("Ivory", "Ivory Piebald"))
    yellow = parse_morph("Yellow Belly het Piebald", CATALOGUE)[0]
    assert ivory is not None and known is not None and yellow is not None
    animals = [
        Animal(id="dam", sex=Sex.FEMALE),
        Animal(id="sire", sex=Sex.MALE),
        Animal(id="kept", sex=Sex.MALE, dam="dam", sire="sire", hatched=date(2024, 7, 1)),
    ]
    clutch = ClutchYoung(dam="dam", sire="sire", young=((2, ivory),), hatched_year=2024)
    found = infer(animals, {"dam": yellow, "sire": yellow, "kept": known}, [clutch], CATALOGUE)
    assert found.collection.clutches[0].young == ((1, ivory),)


# --- random looped pedigrees ----------------------------------------------------------------------

_LINES = ("ivy", "clown", "pastel")
_GENE = {"ivy": "Ivy", "clown": "Clown", "pastel": "Pastel"}


@dataclass
class Herd:
    """Animals drawn with genotypes, and what a keeper could write of them."""

    animals: list[Animal] = field(default_factory=list)
    true: dict[str, dict[str, int]] = field(default_factory=dict)
    morphs: dict[str, Morph] = field(default_factory=dict)
    priors: dict[str, list[tuple[dict[str, int], float]]] = field(default_factory=dict)
    clutches: list[ClutchYoung] = field(default_factory=list)
    born: list[tuple[str, str, list[dict[str, int]]]] = field(default_factory=list)


def as_pairs(copies: Mapping[str, int]) -> dict[str, AllelePair]:
    found = {}
    for locus, count in copies.items():
        one, two = sorted([WILD] * (2 - count) + [_GENE[locus]] * count)
        found[locus] = (one, two)
    return found


def written(copies: Mapping[str, int]) -> Morph:
    """Return what a keeper writes of a look: what can be seen and nothing else."""
    claims = []
    if copies["ivy"]:
        both = as_pairs(copies)["ivy"]
        claims.append(claim(GENES, "Ivy", pairs=(both,)))
    if copies["ivy"] < 2:
        if copies["clown"] == 2:
            claims.append(claim(GENES, "Clown"))
        if copies["pastel"]:
            claims.append(claim(GENES, "Pastel", pairs=(as_pairs(copies)["pastel"],)))
    return morph(*claims)


def born_of(
    dam: Mapping[str, int], sire: Mapping[str, int]
) -> Iterator[tuple[dict[str, int], float]]:
    """Yield every young of two animals by copies of each gene, with its chance."""
    tables = []
    for locus in _LINES:
        p, q = dam[locus] / 2, sire[locus] / 2
        odds = ((0, (1 - p) * (1 - q)), (1, p * (1 - q) + q * (1 - p)), (2, p * q))
        tables.append([(count, chance) for count, chance in odds if chance])
    for parts in itertools.product(*tables):
        copies = dict(zip(_LINES, (count for count, _ in parts), strict=True))
        yield copies, math.prod(chance for _, chance in parts)


@st.composite
def herds(draw: st.DrawFn) -> Herd:
    herd = Herd()
    for place in range(draw(st.integers(4, 6))):
        name = f"A{place}"
        sex = ("female", "male")[place] if place < 2 else draw(st.sampled_from(["female", "male"]))
        if place < 2 or (place == 2 and draw(st.booleans())):
            copies = {"ivy": draw(st.integers(0, 2)), "pastel": draw(st.integers(0, 1))}
            chance = draw(st.sampled_from([0.5, 2 / 3]))
            copies["clown"] = int(draw(st.booleans()))
            if copies["ivy"] == 2:
                copies["pastel"] = 0  # a founder is what its record says, and that is not seen
            look = written(copies)
            said = claim(GENES, "Clown", ClaimKind.POSSIBLE_HET, chance=chance)
            herd.morphs[name] = morph(*look.claims, said)
            herd.priors[name] = [
                ({**copies, "clown": 0}, 1 - chance),
                ({**copies, "clown": 1}, chance),
            ]
            herd.animals.append(Animal(id=name, sex=Sex(sex)))
        else:
            dam, sire = (
                draw(st.sampled_from([a.id for a in herd.animals if a.sex == of]))
                for of in ("female", "male")
            )
            options = list(born_of(herd.true[dam], herd.true[sire]))
            copies = draw(st.sampled_from([found for found, _ in options]))
            herd.morphs[name] = written(copies)
            herd.animals.append(Animal(id=name, sex=Sex(sex), dam=dam, sire=sire))
        herd.true[name] = copies
    for _ in range(draw(st.integers(0, 2))):
        dam, sire = (
            draw(st.sampled_from([a.id for a in herd.animals if a.sex == of]))
            for of in ("female", "male")
        )
        if any((a.dam, a.sire) == (dam, sire) for a in herd.animals):
            continue
        options = [found for found, _ in born_of(herd.true[dam], herd.true[sire])]
        young = draw(st.lists(st.sampled_from(options), min_size=1, max_size=4))
        herd.born.append((dam, sire, young))
        told = tuple((1, written(copies)) for copies in young)
        herd.clutches.append(ClutchYoung(dam=dam, sire=sire, young=told))
    return herd


def enumerated(herd: Herd) -> dict[str, dict[tuple[str, AllelePair], float]]:
    """Return the chance of each pair at each locus of each animal, by every joint genotype."""
    total: dict[str, dict[tuple[str, AllelePair], float]] = defaultdict(lambda: defaultdict(float))

    def assign(place: int, sofar: dict[str, dict[str, int]], weight: float) -> None:
        if place == len(herd.animals):
            for dam, sire, young in herd.born:
                by_look: dict[object, float] = defaultdict(float)
                for copies, chance in born_of(sofar[dam], sofar[sire]):
                    by_look[seen(as_pairs(copies))] += chance
                weight *= math.prod(by_look[seen(as_pairs(copies))] for copies in young)
            for name, copies in sofar.items():
                for locus, both in as_pairs(copies).items():
                    total[name][locus, both] += weight
            return
        animal = herd.animals[place]
        options = herd.priors.get(animal.id)
        if options is None:
            assert animal.dam is not None and animal.sire is not None
            look = seen(as_pairs(herd.true[animal.id]))
            options = [
                (copies, chance)
                for copies, chance in born_of(sofar[animal.dam], sofar[animal.sire])
                if seen(as_pairs(copies)) == look
            ]
        for copies, chance in options:
            assign(place + 1, {**sofar, animal.id: copies}, weight * chance)

    assign(0, {}, 1.0)
    return total


@settings(max_examples=150, deadline=None)
@given(herds())
def test_evidence_under_masks_on_looped_pedigrees(herd: Herd) -> None:
    found = infer(herd.animals, herd.morphs, herd.clutches, GENES)
    expected = enumerated(herd)
    for name, odds in expected.items():
        whole = sum(chance for (locus, _), chance in odds.items() if locus == "ivy")
        for locus in _LINES:
            belief = dict(found.genotypes[name].groups.get(locus, ((pair(WILD, WILD), 1.0),)))
            for (at, both), chance in odds.items():
                if at == locus:
                    assert belief.get(pair(*both), 0.0) == pytest.approx(chance / whole, abs=1e-9)


# --- what the young of a pair look like -----------------------------------------------------------


@st.composite
def parents(draw: st.DrawFn) -> tuple[Genotype, Genotype]:
    made = []
    for sex in (FEMALE, MALE):
        groups = {SEX_GROUP: certain(sex)}
        for locus in LOCI:
            alleles = [WILD, *(name for name, (at, _) in SINGLE.items() if at == locus)]
            pairs = [pair(*both) for both in itertools.combinations_with_replacement(alleles, 2)]
            options = draw(st.lists(st.sampled_from(pairs), min_size=1, max_size=2, unique=True))
            groups[locus] = tuple((each, 1 / len(options)) for each in sorted(options))
        made.append(Genotype(groups))
    return made[0], made[1]


def every_young(dam: Genotype, sire: Genotype) -> Iterator[tuple[dict[str, AllelePair], float]]:
    tables = []
    for locus in LOCI:
        odds: dict[AllelePair, float] = defaultdict(float)
        for mother, p in dam.groups[locus]:
            for father, q in sire.groups[locus]:
                for (egg,), (sperm,) in itertools.product(mother, father):
                    one, two = sorted((egg, sperm))
                    odds[one, two] += p * q / 4
        tables.append(list(odds.items()))
    for parts in itertools.product(*tables):
        pairs = dict(zip(LOCI, (both for both, _ in parts), strict=True))
        yield pairs, math.prod(chance for _, chance in parts)


@settings(max_examples=40, deadline=None)
@given(parents())
def test_looks_of_young_against_every_genotype(both: tuple[Genotype, Genotype]) -> None:
    dam, sire = both
    by_look: dict[object, list[tuple[dict[str, AllelePair], float]]] = defaultdict(list)
    for pairs, chance in every_young(dam, sire):
        by_look[seen(pairs)].append((pairs, chance))
    found = visual_classes(cross(dam, sire, GENES), GENES)
    assert math.fsum(look.chance for look in found) == pytest.approx(1.0)
    met: set[object] = set()
    for look in found:
        # One of the young that look so tells which class of the enumeration it is.
        shown = dict(look.shown)
        members = [
            key
            for key, young in by_look.items()
            if all(
                scene_of_pairs(pairs, GENES) == scene_of_pairs(shown, GENES)
                and all(
                    locus in look.scene.hidden
                    or dict(look.shown).get(locus, (WILD, WILD)) == told(locus, pairs[locus])
                    for locus in LOCI
                )
                for pairs, _ in young
            )
        ]
        assert len(members) == 1
        met.add(members[0])
        young = by_look[members[0]]
        share = math.fsum(chance for _, chance in young)
        assert look.chance == pytest.approx(share, abs=1e-12)
        for hidden in look.hidden:
            carried = math.fsum(c for pairs, c in young if pairs[hidden.locus] == hidden.pair)
            assert hidden.chance == pytest.approx(carried / share, abs=1e-9)
    assert met == set(by_look)


def told(locus: str, both: AllelePair) -> AllelePair:
    if locus == "clown" and both != ("Clown", "Clown"):
        return (WILD, WILD)
    return (WILD, "Pinstripe") if both == ("Pinstripe", "Pinstripe") else both


# --- the shipped catalogue and the words ----------------------------------------------------------


def named(dam: str, sire: str) -> dict[str, float]:
    """Return the names of the looks of two morphs' young, with their odds."""
    morphs = {"dam": parse_morph(dam, CATALOGUE)[0], "sire": parse_morph(sire, CATALOGUE)[0]}
    known = {name: found for name, found in morphs.items() if found is not None}
    animals = [Animal(id="dam", sex=Sex.FEMALE), Animal(id="sire", sex=Sex.MALE)]
    genotypes = infer(animals, known, (), CATALOGUE).genotypes
    young = cross(genotypes["dam"], genotypes["sire"], CATALOGUE)
    return {
        class_name(look, CATALOGUE): round(look.chance, 9)
        for look in visual_classes(young, CATALOGUE)
    }


def test_what_is_certain_by_the_parents_is_named_and_the_rest_by_its_chance() -> None:
    assert named("Lesser Clown", "Mojave Clown") == {
        "Clown": 0.25,
        "Lesser Clown": 0.25,
        "Lesser Mojave Clown": 0.25,
        "Mojave Clown": 0.25,
    }
    assert named("Ivory het Clown", "Ivory Pastel het Clown") == {
        "Ivory 75% het Clown 50% Pastel": 1.0
    }
    # Those that are not blue-eyed have one Mojave for certain: two would show.
    assert named("Super Mojave Ivory", "Mojave Ivory") == {
        "Ivory Mojave": 0.5,
        "Ivory Super Mojave": 0.5,
    }
    assert named("Ivory Super Pastel", "Ivory Clown") == {"Ivory Pastel het Clown": 1.0}
    # Of a dominant the keeper may hold one copy or two: as a founder it is taken to be one.
    assert named("Super Cinnamon", "Super Cinnamon Pinstripe Piebald") == {
        "Super Cinnamon het Piebald 50% Pinstripe": 1.0
    }


def test_scales_show_under_white_and_piebald_under_black() -> None:
    def hidden(text: str) -> frozenset[str]:
        found, problems = parse_morph(text, CATALOGUE)
        assert found is not None, problems
        return scene_of(found, CATALOGUE).hidden

    white = hidden("Ivory")
    assert {"clown", "piebald", "pastel", "spider", "cinnamon"} <= white
    assert not {"scaleless head", "microscale", "yellow belly"} & white
    assert hidden("Blue Eyed Leucistic") == hidden("Lesser Mojave")
    assert "yellow belly" in hidden("Lesser Mojave Ivory")
    assert "blue-eyed leucistic" not in hidden("Lesser Mojave Ivory")
    black = hidden("Super Cinnamon")
    assert "pinstripe" in black and not {"piebald", "albino", "pastel"} & black
    for text in ("Lesser", "Purple Passion", "Mystic Potion", "Platinum", "Superstripe", "Spied"):
        assert not hidden(text)


def test_a_keeper_takes_a_shipped_look_back_or_adds_one() -> None:
    text = """
hides:
  - {looks: [Crystal], genes: []}
  - {looks: [Super Champagne], genes: [Pinstripe]}
"""
    catalogue, faults = load_catalogue(text)
    assert not [fault for fault in faults if fault.severity == "error"]
    for morph_text, hides in (("Crystal", False), ("Super Champagne", True), ("Ivory", True)):
        found = parse_morph(morph_text, catalogue)[0]
        assert found is not None
        assert bool(scene_of(found, catalogue).hidden) == hides
