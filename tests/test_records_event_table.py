"""The events table: what may stand in it, what stands on the day, faults by row and column."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.records.animals import Event, EventKind, Result, Status
from brumal.records.faults import Severity
from brumal.records.folder import SeasonRecords
from brumal.records.read import read_season
from season_folders import ANIMALS, faults_in, season_folder, told

SEASON = "season: {name: T, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2026-11-15}\n"
HEAD = "date,animal,event,with,count,slugs,mm,morphs,result,about,id,note\n"
SHORT = "date,animal,event\n"


def season(folder: Path, events: str, **files: str) -> SeasonRecords:
    found, faults = read_season(season_folder(folder, season=SEASON, events=events, **files))
    assert found is not None, [str(fault) for fault in faults]
    return found


def errors(folder: Path, events: str, **files: str) -> list[str]:
    return told(faults_in(folder, season=SEASON, events=events, **files), Severity.ERROR)


def test_every_event_is_read_with_its_columns(tmp_path: Path) -> None:
    rows = [
        "2026-01-10,F01,visit,M01,,,,,,,,",
        "2026-01-12,F01,lock,M01,,,,,,,,",
        "2026-01-14,F01,refusal,M01,,,,,,,,",
        "2026-02-01,F01,follicles,,6,,22.5,,,,,",
        "2026-02-20,F01,ovulation,,,,,,,,,",
        "2026-03-12,F01,shed,,,,,,,,,",
        "2026-04-09,F01,laid,,7,1,,,,,,",
        "2026-05-01,F01,candled,,6,,,,,,,",
        "2026-06-08,F01,hatched,,5,,,2 Clown; 3 het Clown,,,,",
        "2026-07-01,F01,ill,,,,,,,,a1,wheezes",
        "2026-07-20,F01,cleared,,,,,,,Illness,,",
        "2026-08-01,M01,tested,,,,,,negative,illness,,",
        "2025-08-01,M01,arrived,,,,,,,,,",
        "2026-09-01,F02,sold,,,,,,,,,",
        "2026-09-02,M01,died,,,,,,,,,",
    ]
    found = season(tmp_path, HEAD + "\n".join(rows) + "\n").events
    assert {event.kind for event in found} == set(EventKind) - {EventKind.WITHDRAWN}
    by_kind = {event.kind: event for event in found}
    assert by_kind[EventKind.VISIT].mate == "M01"
    assert by_kind[EventKind.FOLLICLES].mm == 22.5
    assert (by_kind[EventKind.LAID].count, by_kind[EventKind.LAID].slugs) == (7, 1)
    assert by_kind[EventKind.HATCHED].young == ((2, "Clown", None), (3, "het Clown", None))
    assert by_kind[EventKind.CLEARED].about == "illness"
    assert by_kind[EventKind.TESTED].result is Result.NEGATIVE
    assert by_kind[EventKind.ILL] == Event(
        kind=EventKind.ILL,
        date=date(2026, 7, 1),
        animal="F01",
        id="a1",
        note="wheezes",
        row=11,
    )
    assert [event.date for event in found] == sorted(event.date for event in found)


def test_three_columns_are_enough(tmp_path: Path) -> None:
    assert len(season(tmp_path, f"{SHORT}2026-11-01,F01,ill\n").events) == 1


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("2026-11-01,F01,il,,,,,,,,,", "events.csv, row 2, event: found 'il'; expected one of "),
        ("2026-11-01,F1,ill,,,,,,,,,", "animal: found 'F1'; expected an id of the animals table"),
        (",F01,ill,,,,,,,,,", "date: found an empty cell; expected the day of the event"),
        ("2026-11-01,F01,,,,,,,,,,", "event: found an empty cell"),
        ("2026-11-01,F01,visit,,,,,,,,,", "with: found an empty cell; expected the id of the male"),
        ("2026-11-01,M01,visit,F01,,,,,,,,", "The female stands under animal, the male under with"),
        ("2026-11-01,F01,laid,,5,6,,,,,,", "slugs: found '6'; expected at most the 5 eggs laid"),
        ("2026-11-01,M01,laid,,5,,,,,,,", "animal: found 'M01', a male; expected a female"),
        ("2026-11-01,F01,cleared,,,,,,,,,", "about: found an empty cell; expected illness, laying"),
        ("2026-11-01,F01,tested,,,,,,negativ,illness,,", "Did you mean 'negative'?"),
        (
            "2026-11-01,F01,cleared,,,,,,,ilness,,",
            "about: found 'ilness'; expected illness, laying",
        ),
        ("2099-11-01,F01,ill,,,,,,,,,", "date: found '2099-11-01'; expected a day not after "),
        ("2020-11-01,F01,ill,,,,,,,,,", "expected a date after Frost (F01) hatched (2021-06-10)"),
        ("2026-11-01,F01,withdrawn,,,,,,,,x,", "id: found 'x'; expected the id of an entry on F01"),
    ],
)
def test_faults_speak_by_row_and_column(tmp_path: Path, row: str, said: str) -> None:
    found = errors(tmp_path, f"{HEAD}{row}\n")
    assert all(fault.startswith("events.csv, row 2, ") for fault in found)
    assert any(said in fault for fault in found), found


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    rows = "2026-11-01,F01,il\n2026-13-01,F02,ill\n2026-11-01,F9,ill\n"
    assert len(errors(tmp_path, SHORT + rows)) == 3


def test_a_column_that_says_nothing_of_the_event_is_a_warning(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, season=SEASON, events=f"{HEAD}2026-11-01,F01,ill,,4,,,,,,,\n")
    (warning,) = told(faults, Severity.WARNING)
    assert "count: found '4'; expected nothing beside ill" in warning


def test_what_comes_after_the_day_is_set_aside_with_one_notice(tmp_path: Path) -> None:
    """Both rows lie before the real day of any run of this test, and after the day stated."""
    text = SEASON.replace("2026-11-15", "2025-01-01")
    rows = "2024-12-30,F01,ill\n2025-02-01,F01,ill\n2025-03-01,M01,died\n"
    folder = season_folder(tmp_path, season=text, events=SHORT + rows)
    found, faults = read_season(folder)
    assert found is not None
    assert [event.date for event in found.events] == [date(2024, 12, 30)]
    notices = [text for text in told(faults, Severity.NOTICE) if "set aside" in text]
    assert len(notices) == 1
    assert "rows 3, 4" in notices[0]
    later, _ = read_season(folder, on=date(2025, 2, 10))
    assert later is not None
    assert (len(later.events), later.as_of) == (2, date(2025, 2, 10))


def test_an_entry_is_taken_back_by_its_id(tmp_path: Path) -> None:
    rows = (
        "2026-10-01,F01,ill,,,,,,,,a1,\n2026-10-02,F01,ill,,,,,,,,a2,\n"
        "2026-10-03,F01,withdrawn,,,,,,,,a1,wrong animal\n"
    )
    (left,) = season(tmp_path, HEAD + rows).events
    assert left.id == "a2"


def test_an_id_stands_once(tmp_path: Path) -> None:
    rows = "2026-10-01,F01,ill,,,,,,,,a1,\n2026-10-02,F02,ill,,,,,,,,a1,\n"
    (fault,) = errors(tmp_path, HEAD + rows)
    assert "row 3, id: found 'a1' again (first in row 2)" in fault


def test_events_give_status_and_arrival(tmp_path: Path) -> None:
    rows = "2026-09-01,F01,sold\n2026-10-01,F01,arrived\n2026-10-02,F02,sold\n2026-10-03,M01,died\n"
    animals = {animal.id: animal for animal in season(tmp_path, SHORT + rows).animals}
    assert [animals[id_].status for id_ in ("F01", "F02", "M01")] == [
        Status.BREEDER,
        Status.SOLD,
        Status.DIED,
    ]
    assert animals["F01"].arrived == date(2026, 10, 1)


def test_nothing_happens_to_an_animal_after_it_died(tmp_path: Path) -> None:
    rows = "2026-09-01,M01,died,,,,,,,,,\n2026-10-01,F01,visit,M01,,,,,,,,\n"
    (fault,) = errors(tmp_path, HEAD + rows)
    assert "visit of 'M01' on 2026-10-01; expected a day not after it died on 2026-09-01" in fault


WITH_DAYS = ANIMALS.replace("last_laid\n", "last_laid,arrived,vet_cleared\n").replace(
    "2025-04-02\n", "2025-04-02,2024-03-01,2026-06-01\n"
)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("2024-03-01,F01,arrived,,,,,,,,,", ""),
        ("2024-03-09,F01,arrived,,,,,,,,,", "but 2024-03-01 in animals.csv, row 2, arrived"),
        ("2026-09-09,F01,arrived,,,,,,,,,", ""),
        ("2026-06-03,F01,cleared,,,,,,,laying,,", "but 2026-06-01 in animals.csv, row 2, vet_clea"),
        ("2026-06-03,F01,cleared,,,,,,,illness,,", ""),
        ("2025-04-02,F01,laid,,7,,,,,,,", ""),
        ("2025-04-04,F01,laid,,7,,,,,,,", "but 2025-04-02 in animals.csv, row 2, last_laid"),
        ("2025-04-02,F01,laid,,6,,,,,,,", "'6', but 7 in clutches.csv, row 2, eggs"),
        ("2026-04-02,F01,laid,,6,,,,,,,", ""),
    ],
)
def test_one_fact_in_two_places_counts_once_or_is_one_fault(
    tmp_path: Path, row: str, said: str
) -> None:
    clutches = "dam,sire,laid,eggs\nF01,M01,2025-04-02,7\n"
    found = errors(tmp_path, f"{HEAD}{row}\n", animals=WITH_DAYS, clutches=clutches)
    quoting = [fault for fault in found if "in clutches" not in fault or "eggs" in fault]
    assert (len(quoting) == 1 and said in quoting[0]) if said else not found, found


def test_death_and_sale_disagree(tmp_path: Path) -> None:
    animals = ANIMALS.replace("3,breeder,\n", "3,sold,\n", 1)
    (fault,) = errors(tmp_path, f"{SHORT}2026-10-01,F02,died\n", animals=animals)
    assert "'died', but sold in animals.csv, row 3, status" in fault


def test_a_pair_made_with_a_male_that_never_visited_is_told(tmp_path: Path) -> None:
    animals = ANIMALS + "M02,Hail,male,2020-07-01,,,Pastel,900,2026-11-01,3,breeder,\n"
    faults = faults_in(
        tmp_path,
        season=SEASON + "locks: {already_paired: [[F01, M01]]}\n",
        animals=animals,
        events=f"{HEAD}2026-11-02,F01,visit,M02,,,,,,,,\n",
    )
    (fault,) = told(faults, Severity.ERROR)
    assert "'F01' visited by 'M02', but F01 x M01 in season.yaml, locks.already_paired[1]" in fault
