"""Days known to the month or the year only count as the day least favourable to a rule."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.forecast.ledger import ledgers
from brumal.forecast.ovulation import forecast_ovulation
from brumal.pipeline import prepare
from brumal.records.faults import Severity
from brumal.records.read import read_season
from season_folders import season_folder, told

SEASON = "season: {name: T, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2026-11-15}\n"
ANIMALS = """id,sex,hatched,morph,weight_g,weighed,condition,last_laid,arrived
F1,female,2021,Clown,1900,2026-11-01,3,{laid},{arrived}
M1,male,2020-05,Clown,900,2026-11-01,3,,
"""


def folder(tmp_path: Path, laid: str = "", arrived: str = "", clutches: str = "") -> Path:
    animals = ANIMALS.format(laid=laid, arrived=arrived)
    more = {"clutches": clutches} if clutches else {}
    return season_folder(tmp_path, animals=animals, season=SEASON, **more)


@pytest.mark.parametrize(
    ("written", "counted"),
    [
        ("2026-04-20", date(2026, 4, 20)),
        ("2026-04", date(2026, 4, 30)),
        ("2025", date(2025, 12, 31)),
        # Not after the day that the season is seen from.
        ("2026-11", date(2026, 11, 15)),
        ("2026", date(2026, 11, 15)),
    ],
)
def test_the_last_day_it_can_have_been_counts(tmp_path: Path, written: str, counted: date) -> None:
    records, faults = read_season(folder(tmp_path, laid=written, arrived=written))
    assert records is not None
    her = records.animals[0]
    assert (her.last_laid, her.arrived) == (counted, counted)
    notices = [each for each in faults if each.severity is Severity.NOTICE]
    named = {each.where.column for each in notices} & {"last_laid", "arrived"}
    assert named == (set() if len(written) == 10 else {"last_laid", "arrived"})


def test_a_laying_of_the_year_pairing_begins_in_is_of_the_season_before(tmp_path: Path) -> None:
    season = SEASON.replace("2026-11-15", "2027-02-01")
    animals = ANIMALS.format(laid="2026", arrived="")
    records, _ = read_season(season_folder(tmp_path, animals=animals, season=season))
    assert records is not None
    assert records.animals[0].last_laid == date(2026, 11, 30)


def test_a_weight_from_within_the_month_of_laying_tells_nothing_of_now(tmp_path: Path) -> None:
    clutches = "dam,laid,eggs\nF1,2026-11,6\n"
    prepared = prepare(folder(tmp_path, clutches=clutches))
    assert prepared.records.clutches[0].laid_from == date(2026, 11, 1)
    start = prepared.starts["F1"]
    assert start.day is None
    assert {"weight", "recovered"} <= {each.rule for each in start.first if not each.passed}


def test_a_month_that_is_none_is_a_fault(tmp_path: Path) -> None:
    faults = told(read_season(folder(tmp_path, arrived="2026-13"))[1], Severity.ERROR)
    assert len(faults) == 1
    assert "There is no such month." in faults[0]


def test_a_laying_known_to_the_year_tells_nothing_of_her_day(tmp_path: Path) -> None:
    rows = "dam,laid,eggs\nF1,2024-04-20,6\n"
    (tmp_path / "less").mkdir()
    (tmp_path / "more").mkdir()
    less = prepare(folder(tmp_path / "less", clutches=rows)).ovulations.of("F1").days
    more = (
        prepare(folder(tmp_path / "more", clutches=f"{rows}F1,2022,6\n")).ovulations.of("F1").days
    )
    assert less.first == more.first
    assert less.chances.tolist() == more.chances.tolist()


@pytest.mark.parametrize("row", ["2026-04-20", "2026-04", "2026"])
@pytest.mark.parametrize("column", ["2026-04-20", "2026-04", "2026"])
def test_one_laying_told_twice_is_the_one_told_more_exactly(
    tmp_path: Path, row: str, column: str
) -> None:
    """``last_laid: 2026`` beside a clutch of 20 April is that clutch and no second one."""
    made = folder(tmp_path, laid=column, clutches=f"dam,laid,eggs\nF1,{row},6\n")
    records, _ = read_season(made)
    assert records is not None
    (clutch,) = records.clutches
    closest = max(row, column, key=len)
    counted = {10: date(2026, 4, 20), 7: date(2026, 4, 30), 4: date(2026, 11, 15)}
    assert clutch.laid == records.animals[0].last_laid == counted[len(closest)]
    assert ledgers(records)["F1"].most_in_a_row == 1


def test_a_clutch_of_another_year_stays_another(tmp_path: Path) -> None:
    made = folder(tmp_path, laid="2026", clutches="dam,laid,eggs\nF1,2025-04-20,6\n")
    records, _ = read_season(made)
    assert records is not None
    assert records.animals[0].last_laid == date(2026, 11, 15)
    assert ledgers(records)["F1"].most_in_a_row == 2


def test_an_event_within_the_month_is_the_same_fact(tmp_path: Path) -> None:
    made = folder(tmp_path, laid="2026-04", arrived="2026-10")
    (made / "events.csv").write_text(
        "date,animal,event,count\n2026-04-12,F1,laid,6\n2026-10-03,F1,arrived,\n"
    )
    records, faults = read_season(made)
    assert told(faults, Severity.ERROR) == []
    assert records is not None
    her = records.animals[0]
    assert (her.last_laid, her.arrived) == (date(2026, 4, 12), date(2026, 10, 3))


def test_a_year_alone_in_the_animals_table_tells_nothing_of_her_day(tmp_path: Path) -> None:
    for written, known in (("2025", 0), ("2025-04", 1)):
        records, _ = read_season(folder(tmp_path, laid=written))
        assert records is not None
        assert forecast_ovulation(records).of("F1").layings == known


def test_a_weighing_or_a_clearance_without_its_day_is_a_fault_that_says_why(tmp_path: Path) -> None:
    animals = (
        "id,sex,hatched,morph,weight_g,weighed,vet_cleared\n"
        "F1,female,2021,Clown,1900,2026-10,2026\n"
    )
    weights = "animal,date,grams\nF1,2026-09,1800\n"
    made = season_folder(tmp_path, animals=animals, weights=weights, season=SEASON)
    faults = " ".join(told(read_season(made)[1], Severity.ERROR))
    assert "Leave it empty where the day is not known" in faults
    assert "A clearance counts from its day" in faults
    assert "leave the row out where the day is not known" in faults
