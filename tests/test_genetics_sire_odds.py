"""The sire of a clutch by its young, against plain enumeration of all parents' genotypes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.evidence.infer import ClutchYoung
from brumal.genetics.evidence.sire_odds import sire_chances, with_sires
from brumal.genetics.genotypes import Morph
from brumal.genetics.notation.parse import parse_morph
from brumal.records.animals import Animal, Sex

CATALOGUE, _ = load_catalogue(None)
GENES = ("Clown", "Pied")
CARRIED = {"Normal": {0: 1.0}, "het": {1: 1.0}, "visual": {2: 1.0}, "50%": {0: 0.5, 1: 0.5}}
"""Copies of a recessive with their chances, by what a record says."""


def morph(words: str) -> Morph:
    found, problems = parse_morph(words, CATALOGUE, None)
    assert found is not None, problems
    return found


def words_of(kinds: Sequence[str]) -> str:
    forms = {"het": "het {}", "visual": "{}", "50%": "50% het {}"}
    told = [
        forms[kind].format(gene) for kind, gene in zip(kinds, GENES, strict=True) if kind in forms
    ]
    return " ".join(sorted(told, key=lambda text: "het" in text)) or "Normal"


def visual_chance(dam: int, sire: int) -> float:
    return dam / 2 * sire / 2


def enumerated(
    parents: Mapping[str, Sequence[str]],
    before: Mapping[str, float],
    looks: Sequence[tuple[int, tuple[bool, bool]]],
    earlier: Sequence[tuple[str, str, int, tuple[bool, bool]]] = (),
) -> dict[str, float] | None:
    """Return the chance of each male, by every genotype of every parent."""
    names = sorted(parents)
    weights = dict.fromkeys(before, 0.0)
    options = [
        [(copies, p) for copies, p in CARRIED[kind].items()]
        for name in names
        for kind in parents[name]
    ]
    for each in itertools.product(*options):
        copies = {
            name: tuple(each[2 * place + gene][0] for gene in (0, 1))
            for place, name in enumerate(names)
        }
        chance = math.prod(p for _, p in each)
        for dam, sire, count, look in earlier:
            chance *= _share(copies[dam], copies[sire], look) ** count
        for sire, prior in before.items():
            likelihood = math.prod(
                _share(copies["D"], copies[sire], look) ** n for n, look in looks
            )
            weights[sire] += prior * chance * likelihood
    total = sum(weights.values())
    return {sire: weight / total for sire, weight in weights.items()} if total else None


def _share(dam: Sequence[int], sire: Sequence[int], look: Sequence[bool]) -> float:
    chances = [visual_chance(d, s) for d, s in zip(dam, sire, strict=True)]
    return math.prod(p if seen else 1 - p for p, seen in zip(chances, look, strict=True))


def young(
    dam: str, sire: str | None, looks: Sequence[tuple[int, tuple[bool, bool]]]
) -> ClutchYoung:
    told = [
        (count, morph(" ".join(g for g, seen in zip(GENES, look, strict=True) if seen) or "Normal"))
        for count, look in looks
    ]
    return ClutchYoung(dam=dam, sire=sire, young=tuple(told))


def animal(name: str) -> Animal:
    return Animal(id=name, sex=Sex.MALE if name.startswith("M") else Sex.FEMALE)


KINDS = st.tuples(st.sampled_from(sorted(CARRIED)), st.sampled_from(sorted(CARRIED)))
LOOK = st.tuples(st.booleans(), st.booleans())


@settings(max_examples=60, deadline=None)
@given(
    dam=KINDS,
    males=st.lists(KINDS, min_size=2, max_size=3),
    weights=st.lists(st.integers(1, 4), min_size=3, max_size=3),
    looks=st.lists(st.tuples(st.integers(1, 4), LOOK), min_size=1, max_size=3),
)
def test_the_chance_of_each_male_is_that_of_enumeration(
    dam: tuple[str, str],
    males: list[tuple[str, str]],
    weights: list[int],
    looks: list[tuple[int, tuple[bool, bool]]],
) -> None:
    parents = {"D": dam, **{f"M{number}": kinds for number, kinds in enumerate(males)}}
    total = sum(weights[: len(males)])
    before = {f"M{number}": weights[number] / total for number in range(len(males))}
    expected = enumerated(parents, before, looks) or before
    found = sire_chances(
        [animal(name) for name in parents],
        {name: morph(words_of(kinds)) for name, kinds in parents.items()},
        [],
        young("D", None, looks),
        before,
        CATALOGUE,
    )
    assert found == pytest.approx(expected, abs=1e-9)


def test_what_an_earlier_clutch_says_of_a_male_counts() -> None:
    """Four normals of a clown dam make a possible het less likely, and so the sire."""
    parents = {"D": ("het", "Normal"), "E": ("visual", "Normal")}
    parents |= {"M0": ("50%", "Normal"), "M1": ("50%", "Normal")}
    before, looks = {"M0": 0.5, "M1": 0.5}, [(1, (True, False)), (2, (False, False))]
    earlier = [("E", "M0", 4, (False, False))]
    expected = enumerated(parents, before, looks, earlier)
    found = sire_chances(
        [animal(name) for name in parents],
        {name: morph(words_of(kinds)) for name, kinds in parents.items()},
        [young("E", "M0", [(4, (False, False))])],
        young("D", None, looks),
        before,
        CATALOGUE,
    )
    assert expected is not None
    assert found == pytest.approx(expected, abs=1e-9)
    assert found["M1"] > 0.85


def test_a_sire_that_is_certain_is_proven_at_once() -> None:
    animals = [animal(name) for name in ("D", "M0", "M1")]
    morphs = {"D": morph("Clown"), "M0": morph("50% het Clown"), "M1": morph("Normal")}
    seen = young("D", None, [(1, (True, False)), (4, (False, False))])
    inferred, sires = with_sires(animals, morphs, [], [(seen, {"M0": 0.5, "M1": 0.5})], CATALOGUE)
    assert sires == {"D": {"M0": 1.0, "M1": 0.0}}
    (belief,) = [
        b for name, b in inferred.genotypes["M0"].groups.items() if "clown" in name.lower()
    ]
    assert len(belief) == 1


def test_young_that_no_male_explains_leave_the_chances_as_they_were() -> None:
    animals = [animal(name) for name in ("D", "M0", "M1")]
    morphs = {"D": morph("Clown"), "M0": morph("Normal"), "M1": morph("Normal")}
    seen = young("D", None, [(1, (True, False))])
    before = {"M0": 0.25, "M1": 0.75}
    assert sire_chances(animals, morphs, [], seen, before, CATALOGUE) == before
