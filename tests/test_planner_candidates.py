"""Which pairs may meet: the short way asks no less of a pair than the whole cross."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from brumal.genetics.welfare import watched_genes
from brumal.pipeline import prepare
from brumal.planner.pairs.candidates import _Meetings, find_candidates, pair_figures
from brumal.rules.table import pair_barred
from season_folders import season_folder
from solved_seasons import HEAD, SURE, female, male

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


@pytest.mark.parametrize("excepted", [("F1", "M1"), ("F2", "M2"), ("F1", "M2")])
def test_an_exception_opens_its_own_pair_and_no_other(
    excepted: tuple[str, str], tmp_path: Path
) -> None:
    """Four pairs of full sibs: the same F, the same generations."""
    old = {"status": "outside", "hatched": "2014-06-01"}
    rows = [female("D", **old), male("S", **old)]
    rows += [female(name, dam="D", sire="S") for name in ("F1", "F2")]
    rows += [male(name, dam="D", sire="S") for name in ("M1", "M2")]
    kin = f"kin: {{exceptions: [[{', '.join(excepted)}, the last of the line]]}}\n"
    season_folder(tmp_path, animals=HEAD + "".join(rows), season=SURE + kin)
    found = find_candidates(prepare(tmp_path))
    assert list(found.clutches) == [excepted]
    assert len(found.barred) == 3
