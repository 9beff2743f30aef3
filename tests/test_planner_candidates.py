"""Which pairs may meet: the short way asks no less of a pair than the whole cross."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from brumal.genetics.welfare import watched_genes
from brumal.pipeline import prepare
from brumal.planner.candidates import _Meetings, pair_figures
from brumal.rules.table import pair_barred

SCENARIOS = Path(__file__).parent.parent / "scenarios"


@pytest.mark.parametrize("name", ["demo", "small"])
def test_pairs_are_barred_without_a_cross_as_with_it(name: str) -> None:
    prepared = prepare(SCENARIOS / name)
    own = [animal for animal in prepared.records.animals if animal.status != "outside"]
    genes = {a.id: watched_genes(prepared.genotypes[a.id], prepared.catalogue) for a in own}
    meetings = _Meetings(prepared, genes)
    for dam, sire in itertools.product(own, own):
        if dam.sex == "female" and sire.sex == "male":
            figures = pair_figures(prepared, dam, sire)
            assert meetings.barred(dam, sire) == pair_barred(figures, prepared.rules)
