"""Kinship and F against published tables, exact fractions, sgkit, and the laws they obey.

Sources are named beside each table; "from memory" marks one that was recalled, not opened.
"Recomputed" figures were worked out in exact fractions outside this project and agree with sgkit.
"""

from __future__ import annotations

import random
import warnings
from fractions import Fraction
from functools import cache

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.pedigree import kinship, tabular
from brumal.pedigree.graph import FounderFacts, Pedigree, build_pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.records.animals import Animal
from pedigrees_for_tests import facts_for, herds, inbreeding, pedigree_of, random_animals, sound

SIX = "1:0,0 2:0,0 3:1,2 4:1,0 5:4,3 6:5,2"
"""Mrode & Thompson 2014, Table 2.1 (3rd ed.); id: sire, dam."""

# Mrode & Thompson 2014, sec. 2.2: block of 1, 4, 5 read, the rest from memory and recomputed.
SIX_A = [
    [1, 0, 0.5, 0.5, 0.5, 0.25],
    [0, 1, 0.5, 0, 0.25, 0.625],
    [0.5, 0.5, 1, 0.25, 0.625, 0.5625],
    [0.5, 0, 0.25, 1, 0.625, 0.3125],
    [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
    [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
]

# Rules of Henderson 1976 and Quaas 1976, Biometrics 32 (both from memory); recomputed, inbreeding
# accounted for.
SIX_INVERSE = """
11/6 1/2   -1  -2/3 0     0
1/2  61/30 -1  0    8/15  -16/15
-1   -1    5/2 1/2  -1    0
-2/3 0     1/2 11/6 -1    0
0    8/15  -1  -1   38/15 -16/15
0    -16/15 0  0    -16/15 32/15
"""


def relationships(pedigree: Pedigree, *names: str) -> np.ndarray:
    return 2.0 * kinship_block(pedigree, names).matrix


def test_six_animal_example() -> None:
    assert np.array_equal(relationships(pedigree_of(SIX), *"123456"), SIX_A)
    assert inbreeding(pedigree_of(SIX), *"123456") == [0, 0, 0, 0, 0.125, 0.125]


def test_six_animal_inverse() -> None:
    inverse = np.array(
        [[float(Fraction(cell)) for cell in row.split()] for row in SIX_INVERSE.split("\n") if row]
    )
    product = relationships(pedigree_of(SIX), *"123456") @ inverse
    np.testing.assert_allclose(product, np.eye(6), atol=1e-14)


# Wright 1922; Falconer & Mackay 1996, ch. 5 (from memory); minimal pedigrees, all recomputed.
FULL_SIBS = "1:0,0 2:0,0 3:1,2 4:1,2 5:3,4"
HALF_SIBS = "1:0,0 2:0,0 3:0,0 4:1,2 5:1,3 6:4,5"
SIRE_DAUGHTER = "1:0,0 2:0,0 3:1,2 4:1,3"
GRANDSIRE = "1:0,0 2:0,0 3:1,2 4:0,0 5:4,3 6:1,5"
UNCLE_NIECE = "1:0,0 2:0,0 3:1,2 4:1,2 5:0,0 6:5,4 7:3,6"
COUSINS = "1:0,0 2:0,0 3:0,0 4:0,0 5:1,2 6:1,2 7:5,3 8:4,6 9:7,8"
DOUBLE_COUSINS = "1:0,0 2:0,0 3:0,0 4:0,0 5:1,2 6:1,2 7:3,4 8:3,4 9:5,7 10:6,8 11:9,10"
HALF_COUSINS = "1:0,0 2:0,0 3:0,0 4:1,2 5:1,3 6:4,0 7:5,0 8:6,7"
ONCE_REMOVED = f"{COUSINS} 10:8,0 11:7,10"
SECOND_COUSINS = f"{COUSINS} 10:8,0 12:7,0 13:12,10"


@pytest.mark.parametrize(
    ("text", "young", "expected"),
    [
        (SIRE_DAUGHTER, "4", 1 / 4),
        (FULL_SIBS, "5", 1 / 4),
        (HALF_SIBS, "6", 1 / 8),
        (GRANDSIRE, "6", 1 / 8),
        (UNCLE_NIECE, "7", 1 / 8),
        (DOUBLE_COUSINS, "11", 1 / 8),
        (COUSINS, "9", 1 / 16),
        (HALF_COUSINS, "8", 1 / 32),
        (ONCE_REMOVED, "11", 1 / 32),
        (SECOND_COUSINS, "13", 1 / 64),
    ],
)
def test_standard_relationships(text: str, young: str, expected: float) -> None:
    pedigree = pedigree_of(text)
    dam, sire = pedigree.parents(young)
    assert dam and sire
    assert inbreeding(pedigree, young) == [expected]
    assert kinship_block(pedigree, (dam, sire)).phi(dam, sire) == expected


def test_minimal_pedigrees() -> None:
    full = relationships(pedigree_of(FULL_SIBS), *"12345")
    assert (full[4, 4], full[2, 4]) == (1.25, 0.75)
    assert relationships(pedigree_of(HALF_SIBS), "4", "6")[0, 1] == 0.625
    back = relationships(pedigree_of(SIRE_DAUGHTER), *"124")
    assert (back[0, 2], back[1, 2]) == (0.75, 0.25)
    assert relationships(pedigree_of(COUSINS), "7", "9")[0, 1] == 0.5625


def repeated(system: str, generations: int) -> list[float]:
    """F by generation of young when each generation is bred so."""
    text = {"sibs": "1:0,0 2:0,0", "back": "1:0,0 2:0,0", "self": "2:0,0"}[system]
    young = []
    for at in range(generations):
        a, b = 2 * at + 1, 2 * at + 2
        sire, dam = {"sibs": (a, b), "back": (1, b), "self": (b, b)}[system]
        text += f" {a + 2}:{sire},{dam} {b + 2}:{sire},{dam}"
        young.append(str(b + 2))
    return inbreeding(pedigree_of(text), *young)


@pytest.mark.parametrize(
    ("system", "sequence"),
    [
        # Wright 1921, Genetics 6; Falconer & Mackay 1996, Table 5.1 (from memory); recomputed.
        ("sibs", "0 1/4 3/8 1/2 19/32 43/64 47/64 201/256 423/512 55/64"),
        ("back", "0 1/4 3/8 7/16 15/32 31/64"),
        # A test of software only: no reptile selfs.
        ("self", "1/2 3/4 7/8 15/16 31/32"),
    ],
)
def test_repeated_close_mating(system: str, sequence: str) -> None:
    expected = [float(Fraction(term)) for term in sequence.split()]
    assert repeated(system, len(expected)) == expected


def test_further_pedigrees() -> None:
    # Own example, no publication; recomputed.
    own = pedigree_of("1:0,0 2:0,0 3:1,2 4:1,0 5:3,4 6:1,4 7:5,6")
    assert inbreeding(own, *"1234567") == [0, 0, 0, 0, 1 / 8, 1 / 4, 9 / 32]
    matrix = relationships(own, *"1234567")
    assert matrix[6].tolist() == [0.625, 0.125, 0.5, 0.6875, 0.84375, 0.90625, 1.28125]
    assert matrix[4, 5] == 0.5625
    # Exercise of a public university course (livestock breeding and genomics, 2024), pedigree
    # read, solutions not seen; recomputed.
    course = pedigree_of("6:2,1 7:2,3 8:6,4 9:7,5 10:8,9 11:10,5")
    names = [str(at) for at in range(1, 12)]
    assert inbreeding(course, *names) == [0] * 9 + [1 / 32, 1 / 8]


def exact(pedigree: Pedigree) -> dict[tuple[str, str], Fraction]:
    """Kinship by its recursive definition (Emik & Terrill 1949, from memory), in fractions."""
    facts = pedigree.founders

    @cache
    def phi(a: str | None, b: str | None) -> Fraction:
        if a is None or b is None:
            return Fraction(0)
        younger, elder = (a, b) if pedigree.index[a] >= pedigree.index[b] else (b, a)
        dam, sire = pedigree.parents(younger)
        if a == b:
            own = Fraction(facts.F.get(a, 0)) if dam is None and sire is None else phi(dam, sire)
            return (1 + own) / 2
        if dam is None and sire is None:
            return Fraction(facts.phi(a, b))
        return (phi(dam, elder) + phi(sire, elder)) / 2

    return {(a, b): phi(a, b) for a in pedigree.ids for b in pedigree.ids}


@given(herds(), st.data())
def test_both_methods_agree_with_exact_fractions(
    animals: list[Animal], data: st.DataObject
) -> None:
    facts = data.draw(facts_for(sound(animals)))
    pedigree = sound(animals, facts)
    wanted = data.draw(st.lists(st.sampled_from(pedigree.ids), min_size=1, unique=True))
    truth = exact(pedigree)
    for whole_up_to in (-1.0, np.inf):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(kinship, "WHOLE_UP_TO", whole_up_to)
            patch.setattr(kinship, "STRIPS_FROM", 0)
            block = kinship_block(pedigree, wanted)
        for a in wanted:
            for b in wanted:
                assert block.phi(a, b) == pytest.approx(float(truth[a, b]), abs=1e-14)


@given(herds(), st.data())
def test_laws_of_kinship(animals: list[Animal], data: st.DataObject) -> None:
    pedigree = sound(animals, data.draw(facts_for(sound(animals))))
    block = kinship_block(pedigree)
    assert np.array_equal(block.matrix, block.matrix.T)
    assert np.all((block.F >= 0.0) & (block.F < 1.0))
    assert np.all((block.matrix >= 0.0) & (block.matrix < 1.0))
    assert np.array_equal(np.diagonal(block.matrix), (1.0 + block.F) / 2.0)
    for name in pedigree.ids:
        dam, sire = pedigree.parents(name)
        if dam and sire:
            assert block.F[block.index[name]] == pytest.approx(block.phi(dam, sire), abs=1e-15)


@given(herds(), st.randoms(use_true_random=False))
def test_row_order_does_not_matter(animals: list[Animal], shuffler: random.Random) -> None:
    shuffled = list(animals)
    shuffler.shuffle(shuffled)
    names = [one.id for one in animals]
    first = kinship_block(build_pedigree(animals)[0], names)
    second = kinship_block(build_pedigree(shuffled)[0], names)
    assert np.array_equal(first.matrix, second.matrix)


@given(herds(), st.data())
def test_a_new_descendant_changes_nothing_above(animals: list[Animal], data: st.DataObject) -> None:
    dam, sire = (data.draw(st.sampled_from(animals[at::2])) for at in (0, 1))
    names = [one.id for one in animals]
    young = Animal(id="New", dam=dam.id, sire=sire.id)
    before = kinship_block(build_pedigree(animals)[0], names)
    after = kinship_block(build_pedigree([*animals, young])[0], names)
    assert np.array_equal(before.matrix, after.matrix)


def test_stated_kinship_of_founders_reaches_their_young() -> None:
    facts = FounderFacts(F={"1": 0.25}, kinship={("1", "2"): 0.125})
    pedigree = pedigree_of("1:0,0 2:0,0 3:1,2 4:1,0", facts)
    # By hand: F3 = phi12; phi34 = (phi11 + phi12) / 4; phi44 = 1/2 as its dam is unknown.
    block = kinship_block(pedigree, "1234")
    assert block.F.tolist() == [0.25, 0, 0.125, 0]
    assert block.phi("3", "4") == pytest.approx((0.625 + 0.125) / 4, abs=1e-15)


def test_only_the_animals_asked_for_in_their_order() -> None:
    block = kinship_block(pedigree_of(SIX), ("6", "1"))
    assert block.ids == ("6", "1")
    assert block.matrix.tolist() == [[0.5625, 0.125], [0.125, 0.5]]
    assert not block.matrix.flags.writeable


def test_unknown_and_repeated_ids_are_refused() -> None:
    with pytest.raises(KeyError, match="'9'"):
        kinship_block(pedigree_of(SIX), ("1", "9"))
    with pytest.raises(ValueError, match="twice"):
        kinship_block(pedigree_of(SIX), ("1", "1"))
    assert kinship_block(pedigree_of(SIX), ()).matrix.shape == (0, 0)


def by_sgkit(animals: list[Animal]) -> np.ndarray:
    """Return sgkit's kinship matrix in the order of the rows."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import sgkit

    places = {one.id: at for at, one in enumerate(animals)}
    parents = [[places.get(p or "", -1) for p in (one.dam, one.sire)] for one in animals]
    data = xr.Dataset({"parent": (["samples", "parents"], np.array(parents))})
    result = sgkit.pedigree_kinship(data, allow_half_founders=True)
    return np.asarray(result["stat_pedigree_kinship"].values)


def assert_as_sgkit(animals: list[Animal], block: int) -> None:
    expected = by_sgkit(animals)
    pedigree = sound(animals)
    names = [one.id for one in animals]
    whole = kinship_block(pedigree, names).matrix
    assert np.abs(whole - expected).max() < 1e-14
    youngest = np.arange(len(names) - block, len(names))
    for whole_up_to in (-1, len(names)):  # by strips, and by the matrix of all ancestors
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(kinship, "WHOLE_UP_TO", whole_up_to)
            few = kinship_block(pedigree, names[-block:]).matrix
        assert np.abs(few - expected[np.ix_(youngest, youngest)]).max() < 1e-14


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("window", [6, 40, None])
def test_random_pedigrees_as_sgkit(seed: int, window: int | None) -> None:
    """Looped, inbred (a narrow window) and half-known, rows out of order."""
    rng = np.random.default_rng(seed)
    clutch = (1, 1) if seed % 2 else (3, 8)
    animals = random_animals(400, 12, rng, window=window, unknown=0.15, clutch=clutch)
    animals = [animals[at] for at in rng.permutation(len(animals))]
    assert_as_sgkit(animals, block=20)


@pytest.mark.slow
@pytest.mark.parametrize("window", [60, 1000, None])
def test_pedigrees_of_5000_as_sgkit(window: int | None) -> None:
    animals = random_animals(5000, 200, np.random.default_rng(7), window=window, clutch=(1, 8))
    assert_as_sgkit(animals, block=300)


@settings(max_examples=25)
@given(st.integers(1, 7), st.integers(1, 40), st.integers(0, 99))
def test_tiles_of_any_size_give_the_same(tile: int, width: int, seed: int) -> None:
    animals = random_animals(60, 5, np.random.default_rng(seed), window=15, clutch=(1, 5))
    expected = kinship_block(sound(animals)).matrix
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tabular, "TILE", tile)
        patch.setattr(tabular, "WIDTH", width)
        assert np.array_equal(kinship_block(sound(animals)).matrix, expected)
