"""What cannot have happened in this order is a fault; what is unlikely or left out is a notice."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from openpyxl import Workbook

from brumal.records.animals import Event, EventKind
from brumal.records.cycles import cycles
from brumal.records.faults import Severity
from brumal.records.read import read_season
from season_folders import ANIMALS, faults_in, season_folder, told

HEAD = "date,animal,event,with,count,slugs\n"
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2027-06-30}
"""
VISIT = "2026-12-05,F01,visit,M01,,\n"
LAID = "2027-03-03,F01,laid,,7,2\n"
AWAY = ANIMALS.replace("last_laid\n", "last_laid,arrived\n").replace(
    "M01,Sleet,male,2020-07-01,,,Pastel,900,2026-11-01,3,breeder,",
    "M01,Sleet,male,2020-07-01,,,Pastel,900,2026-11-01,3,loan,,2026-12-20",
)


def said(tmp_path: Path, rows: str, severity: Severity, animals: str = ANIMALS) -> list[str]:
    faults = faults_in(tmp_path, season=SEASON, animals=animals, events=HEAD + rows)
    return [text for text in told(faults, severity) if text.startswith("events.csv")]


@pytest.mark.parametrize(
    ("rows", "fault"),
    [
        (
            LAID + "2027-03-05,F01,ovulation,,,\n",
            "ovulation of 'F01' on 2027-03-05; expected a day",
        ),
        (LAID + "2027-03-05,F01,shed,,,\n", "the shed before laying of 'F01' on 2027-03-05"),
        ("2027-03-01,F01,hatched,,5,\n" + LAID, "hatching of the clutch of 'F01' on 2027-03-01"),
        ("2027-03-01,F01,candled,,5,\n" + LAID, "candling of the clutch of 'F01' on 2027-03-01"),
        (
            LAID + "2027-04-03,F01,candled,,6,\n",
            "'6'; expected at most 5: 7 eggs laid less 2 slugs",
        ),
        (
            LAID + "2027-05-01,F01,hatched,,6,\n",
            "'6'; expected at most 5: 7 eggs laid less 2 slugs",
        ),
        ("2026-12-10,M01,died,,,\n2027-01-05,F01,visit,M01,,\n", "not after it died on 2026-12-10"),
        (
            "2026-12-10,F01,died,,,\n" + LAID,
            "laid of 'F01' on 2027-03-03; expected a day not after",
        ),
    ],
)
def test_an_impossible_order_is_a_fault(tmp_path: Path, rows: str, fault: str) -> None:
    (found,) = said(tmp_path, rows, Severity.ERROR)
    assert fault in found


def test_a_mating_with_a_male_that_had_not_come_is_a_fault(tmp_path: Path) -> None:
    (found,) = said(tmp_path, VISIT, Severity.ERROR, AWAY)
    assert "visit with 'M01' on 2026-12-05; expected a day not before it came in on" in found
    later = VISIT.replace("12-05", "12-25")
    assert not said(tmp_path, later, Severity.ERROR, AWAY)


def test_a_male_sold_between_is_away_until_he_comes_back(tmp_path: Path) -> None:
    sold = "2026-12-01,M01,sold,,,\n"
    (found,) = said(tmp_path, sold + VISIT, Severity.ERROR)
    assert "expected a day not after it was sold on 2026-12-01" in found
    back = "2026-12-03,M01,arrived,,,\n"
    assert not said(tmp_path, sold + back + VISIT, Severity.ERROR)


def test_an_ancestor_outside_the_collection_visits_nobody(tmp_path: Path) -> None:
    animals = ANIMALS.replace("900,2026-11-01,3,breeder", "900,2026-11-01,3,outside")
    (found,) = said(tmp_path, VISIT, Severity.ERROR, animals)
    assert "with: found visit with 'M01'" in found


@pytest.mark.parametrize(
    ("rows", "notice"),
    [
        (
            VISIT + LAID + "2027-03-20,F01,visit,M01,,\n",
            "with a male on 2027-03-20, though she laid",
        ),
        (VISIT + LAID + "2027-04-20,F01,laid,,5,\n", "a second clutch of 'F01' on 2027-04-20"),
        (VISIT + LAID + "2027-04-01,F01,hatched,,5,\n", "29 days between the laying and the hatch"),
        (
            VISIT + "2027-02-20,F01,ovulation,,,\n" + LAID,
            "11 days between an ovulation and the lay",
        ),
        (
            VISIT + VISIT.replace("F01", "F02"),
            "'M01' put to 'F02' on 2026-12-05, though it was put",
        ),
        (
            VISIT + LAID + "2027-04-20,F01,candled,,3,\n2027-05-01,F01,hatched,,4,\n",
            "4 eggs or young, though 3 were still good on 2027-04-20",
        ),
    ],
)
def test_what_is_unlikely_is_a_notice(tmp_path: Path, rows: str, notice: str) -> None:
    assert not said(tmp_path, rows, Severity.ERROR)
    assert [text for text in said(tmp_path, rows, Severity.NOTICE) if notice in text]


def test_stages_not_written_down_are_one_notice(tmp_path: Path) -> None:
    rows = LAID + VISIT.replace("F01", "F02") + "2027-05-01,F02,hatched,,5,\n"
    (notice,) = said(tmp_path, rows, Severity.NOTICE)
    assert "any visit of F01; the ovulation of F01, F02; the laying of F02" in notice


def test_a_season_in_full_has_nothing_to_tell(tmp_path: Path) -> None:
    whole = (
        VISIT
        + "2026-12-06,F01,lock,M01,,\n2027-01-10,F01,ovulation,,,\n2027-02-02,F01,shed,,,\n"
        + LAID
        + "2027-03-20,F01,candled,,5,\n2027-04-30,F01,hatched,,4,\n"
    )
    assert not said(tmp_path, whole, Severity.ERROR)
    assert not said(tmp_path, whole, Severity.NOTICE)


def test_seasons_part_between_two_clutches() -> None:
    def event(day: str, kind: EventKind) -> Event:
        return Event(kind=kind, date=date.fromisoformat(day), animal="F")

    days = ["2026-04-01", "2026-06-01", "2026-11-01", "2027-03-01", "2027-08-20", "2028-02-01"]
    kinds = [EventKind.LAID, EventKind.HATCHED, *[EventKind.VISIT] * 4]
    found = cycles([event(*each) for each in zip(days, kinds, strict=True)])["F"]
    assert [len(cycle) for cycle in found] == [2, 2, 1, 1]


def test_a_workbook_of_events_reads_as_a_csv(tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "events"
    for cells in (
        ["date", "animal", "event", "with", "count", "slugs"],
        [date(2026, 12, 5), "F01", "visit", "M01", None, None],
        [date(2027, 3, 3), "F01", "laid", None, 7, 2],
        [date(2027, 3, 5), "F01", "ovulation", None, None, None],
    ):
        book.active.append(cells)
    folder = season_folder(tmp_path, season=SEASON)
    book.save(folder / "events.xlsx")
    errors = told(read_season(folder)[1], Severity.ERROR)
    assert len(errors) == 1
    assert errors[0].startswith("events.xlsx, row 4, date: found ovulation of 'F01'")


def test_weights_and_clutches_of_later_days_are_set_aside(tmp_path: Path) -> None:
    text = "season: {name: Test, pair_from: 2024-12-01, pair_to: 2025-03-31, as_of: 2025-05-01}\n"
    weights = "animal,date,grams\nF01,2025-04-20,1500\nF01,2025-05-20,1600\n"
    clutches = "dam,laid,eggs\nF01,2025-04-02,6\nF02,2025-05-20,6\n"
    animals = ANIMALS.replace("2026-11-01", "2024-11-01").replace("2022-07-01", "2021-07-01")
    folder = season_folder(
        tmp_path, season=text, weights=weights, clutches=clutches, animals=animals
    )
    records, faults = read_season(folder)
    assert records is not None
    assert [each.grams for each in records.weighings] == [1500.0]
    assert [each.dam for each in records.this_season] == ["F01"]
    aside = [each for each in told(faults, Severity.NOTICE) if "set aside" in each]
    assert [each.split(":")[0] for each in aside] == ["clutches.csv", "weights.csv"]
    later, _ = read_season(folder, on=date(2025, 6, 1))
    assert later is not None
    assert len(later.weighings) == 2
