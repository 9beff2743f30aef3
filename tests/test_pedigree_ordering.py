"""The order of the heat map: average linkage against SciPy, and lines that stand together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.cluster.hierarchy import linkage
from scipy.spatial.distance import squareform

from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.ordering import joinings, line_order
from brumal.records.animals import Animal
from pedigrees_for_tests import herds, pedigree_of, sound


@given(st.integers(2, 40), st.integers(0, 10**6))
def test_joinings_are_those_of_scipy(count: int, seed: int) -> None:
    """Without ties average linkage is unique: same heights, same groups."""
    upper = np.triu(np.random.default_rng(seed).random((count, count)), 1)
    phi = upper + upper.T + np.eye(count)
    found = joinings(phi)
    tree = linkage(squareform(1.0 - phi, checks=False), "average")
    assert [one.phi for one in found] == pytest.approx(list(1.0 - tree[:, 2]))
    groups: list[frozenset[int]] = [frozenset((at,)) for at in range(count)]
    for left, right in tree[:, :2].astype(int):
        groups.append(groups[left] | groups[right])
    assert {frozenset(one.left + one.right) for one in found} == set(groups[count:])


@given(herds())
def test_every_animal_once_whatever_the_order_of_the_block(animals: list[Animal]) -> None:
    pedigree = sound(animals)
    names = [one.id for one in animals]
    order = line_order(kinship_block(pedigree, names))
    assert sorted(order) == sorted(names)
    assert order == line_order(kinship_block(pedigree, names[::-1]))


def test_lines_stand_together() -> None:
    """Two litters and a stranger, mixed by name."""
    pedigree = pedigree_of("A:S,D B:T,E C:S,D F:T,E G:S,D H:0,0")
    order = line_order(kinship_block(pedigree, "ABCFGH"))
    assert [set(order[:3]), set(order[3:5]), set(order[5:])] == [set("ACG"), set("BF"), {"H"}]
    assert line_order(kinship_block(pedigree, "")) == ()
