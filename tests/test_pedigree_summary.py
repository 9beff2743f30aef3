"""The collection at a glance: mean kinship, founders, pairs."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.pedigree.graph import build_pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.summary import mean_kinship, summarise, young_mean_kinship
from brumal.records.animals import Animal, Sex
from pedigrees_for_tests import herds, pedigree_of, sound

SIX = "1:0,0 2:0,0 3:1,2 4:1,0 5:4,3 6:5,2"
"""Mrode & Thompson 2014, Table 2.1; id: sire, dam."""


@pytest.mark.parametrize(
    ("living", "expected", "mean"),
    [
        # Definition of Ballou & Lacy 1995 (from memory), own kinship included; recomputed.
        ("123456", "11/48 19/96 55/192 43/192 61/192 19/64", "149/576"),
        ("3456", "39/128 35/128 49/128 43/128", "83/256"),
    ],
)
def test_mean_kinship(living: str, expected: str, mean: str) -> None:
    pedigree = pedigree_of(SIX)
    block = kinship_block(pedigree, living)
    found = mean_kinship(block)
    assert found == pytest.approx([float(Fraction(term)) for term in expected.split()], abs=1e-15)
    summary = summarise(pedigree, block)
    assert summary.mean == pytest.approx(float(Fraction(mean)), abs=1e-15)
    assert [one.mean_kinship for one in summary.animals] == sorted(found)


def test_founders_of_the_six_animals() -> None:
    """Shares by hand for 6 alone: half from 2, half from 5 = 4 x 3; 4 is half 1, half unknown."""
    pedigree = pedigree_of(SIX)
    summary = summarise(pedigree, kinship_block(pedigree, "6"))
    assert [(one.id, one.share) for one in summary.founders] == [("2", 0.625), ("1", 0.25)]
    assert summary.unknown_share == 0.125
    # 1 / sum p^2 (Lacy 1989, from memory).
    assert summary.effective_founders == pytest.approx(1 / (0.625**2 + 0.25**2 + 0.125**2))


def test_equal_founders_count_in_full() -> None:
    pedigree = pedigree_of("A:1,2 B:3,4")
    assert summarise(pedigree, kinship_block(pedigree, "AB")).effective_founders == 4.0


def test_pairs_are_of_a_female_and_a_male() -> None:
    sexes = {"A": Sex.FEMALE, "B": Sex.MALE, "C": Sex.MALE, "E": Sex.FEMALE}
    pedigree = pedigree_of("A:S,D B:S,D C:S,T E:0,0", sexes=sexes)
    summary = summarise(pedigree, kinship_block(pedigree, "ABCE"))
    assert [(one.dam, one.sire, one.phi) for one in summary.closest] == [
        ("A", "B", 0.25), ("A", "C", 0.125)
    ]  # fmt: skip
    # Among the unrelated, first the pair that is least kin to all: C before B.
    assert [(one.dam, one.sire, one.phi) for one in summary.furthest[:2]] == [
        ("E", "C", 0.0), ("E", "B", 0.0)
    ]  # fmt: skip
    assert (summary.pairs, summary.unrelated) == (4, 2)


@given(herds(), st.data())
def test_mean_kinship_of_a_young_before_it_is_bred(
    animals: list[Animal], data: st.DataObject
) -> None:
    """Against the matrix with the young bred in truth."""
    names = [one.id for one in animals]
    dam, sire = (data.draw(st.sampled_from(names)) for _ in range(2))
    living = data.draw(st.lists(st.sampled_from(names), min_size=1, unique=True))
    bred = build_pedigree([*animals, Animal(id="New", dam=dam, sire=sire)])[0]
    block = kinship_block(bred, (*living, "New"))
    assert young_mean_kinship(sound(animals), living, dam, sire) == pytest.approx(
        np.mean([block.phi("New", name) for name in living])
    )


def test_nobody_living_is_refused() -> None:
    with pytest.raises(ValueError, match="no living"):
        young_mean_kinship(pedigree_of(SIX), (), "1", "2")


@given(herds())
def test_laws_of_the_summary(animals: list[Animal]) -> None:
    pedigree = sound(animals)
    names = [one.id for one in animals]
    block = kinship_block(pedigree, names)
    summary = summarise(pedigree, block, shown=10**6)
    shares = [founder.share for founder in summary.founders]
    assert sum(shares) + summary.unknown_share == pytest.approx(1.0)
    assert 1.0 <= summary.effective_founders <= len(pedigree.ids) + 2 * len(names)
    assert summarise(pedigree, kinship_block(pedigree, names[::-1]), shown=10**6) == summary
    pairs = {(a.id, b.id) for a in animals for b in animals if (a.sex, b.sex) == tuple(Sex)}
    assert {(one.dam, one.sire) for one in summary.furthest} == pairs
    furthest = [one.phi for one in summary.furthest]
    assert furthest == sorted(furthest)
    closest = [one.phi for one in summary.closest]
    assert closest == sorted((phi for phi in furthest if phi > 0.0), reverse=True)


def test_founder_shares_against_the_matrix_of_genes() -> None:
    """The share of a founder is its mean relationship to the living while founders are unrelated
    and nobody is inbred: here four grandparents of two litters.
    """
    pedigree = pedigree_of("P:1,2 Q:3,4 X:P,Q Y:P,Q Z:P,5")
    living = ("X", "Y", "Z")
    block = kinship_block(pedigree, (*living, *"12345"))
    summary = summarise(pedigree, kinship_block(pedigree, living))
    for founder in summary.founders:
        rows = [2.0 * block.phi(name, founder.id) for name in living]
        assert founder.share == pytest.approx(np.mean(rows))
