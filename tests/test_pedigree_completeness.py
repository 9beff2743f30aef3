"""Completeness of pedigrees against a count of the known ancestors one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from brumal.pedigree.completeness import (
    completeness_index,
    generations_known,
    known_generations,
    known_shares,
)
from brumal.pedigree.graph import Pedigree
from brumal.records.animals import Animal
from pedigrees_for_tests import herds, pedigree_of, sound


def slots(pedigree: Pedigree, name: str, depth: int) -> list[list[str | None]]:
    """Return the ancestors of each generation, parents first, ``None`` for each unknown one."""
    generations: list[list[str | None]] = []
    present: list[str | None] = [name]
    for _ in range(depth):
        present = [p for one in present for p in (pedigree.parents(one) if one else (None, None))]
        generations.append(present)
    return generations


@given(herds(16))
def test_against_a_count_of_slots(animals: list[Animal]) -> None:
    pedigree = sound(animals)
    shares = known_shares(pedigree, 4)
    complete = generations_known(pedigree)
    for at, name in enumerate(pedigree.ids):
        counted = [
            np.mean([one is not None for one in level]) for level in slots(pedigree, name, 4)
        ]
        assert shares[at].tolist() == counted
        full = [share == 1.0 for share in counted]
        expected = full.index(False) if False in full else 4
        assert min(complete[at], 4) == expected
        assert known_generations(pedigree, name) == complete[at]


def test_index_by_hand() -> None:
    """MacCluer et al. 1983 (from memory): 2 C_d C_s / (C_d + C_s) over two generations.

    A's dam is known with one parent of two: C_d = (1 + 1/2) / 2; the sire with none: 1/2.
    """
    pedigree = pedigree_of("A:S,D D:X,0 B:S,0 C:S,D2 E:C,A")
    index = dict(zip(pedigree.ids, completeness_index(pedigree, 2), strict=True))
    assert index["A"] == pytest.approx(2 * 0.75 * 0.5 / 1.25)
    assert index["B"] == index["S"] == 0.0
    assert index["E"] == 1.0


@given(herds())
def test_the_index_is_a_share(animals: list[Animal]) -> None:
    pedigree = sound(animals)
    index = completeness_index(pedigree)
    assert np.all((index >= 0.0) & (index <= 1.0))
    assert np.array_equal(index == 1.0, generations_known(pedigree) >= 4)
    half_known = (pedigree.dams < 0) | (pedigree.sires < 0)
    assert np.all(index[half_known] == 0.0)
