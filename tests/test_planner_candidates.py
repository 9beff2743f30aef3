"""Which pairs may meet: the short way asks no less of a pair than the whole cross."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from brumal.genetics.welfare import watched_genes
from brumal.pipeline import prepare
from brumal.planner.candidates import _Meetings, pair_figures

SCENARIOS = Path(__file__).parent.parent / "scenarios"


@pytest.mark.parametrize("name", ["demo", "small"])
def test_figures_without_a_cross_are_those_with_it(name: str) -> None:
    prepared = prepare(SCENARIOS / name)
    own = [animal for animal in prepared.records.animals if animal.status != "outside"]
    genes = {a.id: watched_genes(prepared.genotypes[a.id], prepared.catalogue) for a in own}
    meetings = _Meetings(genes)
    for dam, sire in itertools.product(own, own):
        if dam.sex == "female" and sire.sex == "male":
            assert meetings.figures(prepared, dam, sire) == pair_figures(prepared, dam, sire)
