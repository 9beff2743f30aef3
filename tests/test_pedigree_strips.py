"""The parts of A = T D T' against published values."""

from __future__ import annotations

import numpy as np
import pytest

from brumal.pedigree import strips
from brumal.pedigree.lineage import Floats, lineage_of
from brumal.pedigree.strips import strip_kinship
from pedigrees_for_tests import pedigree_of, random_animals, sound

SIX = "1:0,0 2:0,0 3:1,2 4:1,0 5:4,3 6:5,2"
"""Mrode & Thompson 2014, Table 2.1; id: sire, dam."""


def parts_of_six() -> tuple[dict[str, int], Floats, Floats]:
    """Return the place of each animal, T and D of the six-animal example."""
    pedigree = pedigree_of(SIX)
    line = lineage_of(pedigree, np.arange(6))
    genes, drawn = strips._strip(line, slice(0, 6), np.zeros(7))
    return dict(pedigree.index), genes, drawn


def test_mendelian_variances() -> None:
    """Mrode & Thompson 2014, Table 2.1 pedigree; recomputed in exact fractions."""
    place, _, drawn = parts_of_six()
    assert [drawn[place[name]] for name in "123456"] == [1, 1, 1 / 2, 3 / 4, 1 / 2, 15 / 32]


def test_step_trace_for_animal_5() -> None:
    """Mrode & Thompson 2014, App. B.1, after Meuwissen & Luo 1992 (from memory); recomputed."""
    place, genes, drawn = parts_of_six()
    row = {name: genes[place["5"], place[name]] for name in "123456"}
    assert row == {"1": 0.5, "2": 0.25, "3": 0.5, "4": 0.5, "5": 1, "6": 0}
    steps = np.cumsum([row[name] ** 2 * drawn[place[name]] for name in "54321"])
    assert steps.tolist() == [0.5, 0.6875, 0.8125, 0.875, 1.125]


@pytest.mark.parametrize("width", [1, 3, 64, 1000])
def test_strips_of_any_width_give_the_same(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    pedigree = sound(random_animals(150, 8, np.random.default_rng(3), window=30))
    line = lineage_of(pedigree, np.arange(len(pedigree.ids)))
    wanted = np.arange(100, 150)
    monkeypatch.setattr(strips, "STRIP", 150)
    expected = strip_kinship(line, wanted)
    monkeypatch.setattr(strips, "STRIP", width)
    np.testing.assert_allclose(strip_kinship(line, wanted), expected, rtol=0, atol=1e-15)
