"""How far animals have come: from events, the clutches table and the keeper's word."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.records.faults import Severity
from brumal.records.folder import SeasonRecords
from brumal.records.read import read_season
from brumal.records.season_state import FemaleState, Stage
from season_folders import ANIMALS, faults_in, season_folder, told

HEAD = "date,animal,event,with,count,slugs,morphs\n"
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2027-06-30}
"""
TWO_MALES = ANIMALS + "M02,Hail,male,2020-07-01,,,Pastel,900,2026-11-01,3,breeder,\n"
STEPS = [
    ("2026-12-05,F01,visit,M01,,,\n", Stage.VISITED, date(2026, 12, 5)),
    ("2026-12-06,F01,lock,M01,,,\n", Stage.LOCKED, date(2026, 12, 6)),
    ("2027-01-10,F01,ovulation,,,,\n", Stage.OVULATED, date(2027, 1, 10)),
    ("2027-02-02,F01,shed,,,,\n", Stage.SHED, date(2027, 2, 2)),
    ("2027-03-03,F01,laid,,7,2,\n", Stage.LAID, date(2027, 3, 3)),
    ("2027-03-20,F01,candled,,5,,\n", Stage.LAID, date(2027, 3, 3)),
    ("2027-04-30,F01,hatched,,4,,4 Normal\n", Stage.HATCHED, date(2027, 4, 30)),
]


def season(folder: Path, events: str, more: str = "", **files: str) -> SeasonRecords:
    files = {"animals": TWO_MALES, **files}
    made = season_folder(folder, season=SEASON + more, events=HEAD + events, **files)
    records, faults = read_season(made)
    assert records is not None, told(faults, Severity.ERROR)
    return records


def frost(records: SeasonRecords) -> FemaleState:
    return records.state.females["F01"]


@pytest.mark.parametrize("steps", range(len(STEPS) + 1))
def test_the_stage_follows_from_what_happened(tmp_path: Path, steps: int) -> None:
    records = season(tmp_path, "".join(row for row, _, _ in STEPS[:steps]))
    her = frost(records)
    stage, since = STEPS[steps - 1][1:] if steps else (Stage.OPEN, None)
    assert (her.stage, her.since) == (stage, since)
    assert records.state.made == ((("F01", "M01"),) if steps else ())


def test_a_clutch_is_told_as_far_as_it_has_come(tmp_path: Path) -> None:
    records = season(tmp_path, "".join(row for row, _, _ in STEPS))
    (clutch,) = records.this_season
    assert (clutch.eggs, clutch.slugs, clutch.good, clutch.hatched) == (7, 2, 5, 4)
    assert clutch.laid == date(2027, 3, 3)
    assert clutch.young == ((4, "Normal", None),)
    assert records.clutches == ()
    assert {a.id: a.last_laid for a in records.animals}["F01"] == date(2025, 4, 2)


def test_rows_of_other_tables_are_the_same_fact(tmp_path: Path) -> None:
    """A clutch of this season in the clutches table, last_laid and the events is one clutch."""
    row = "dam,sire,laid,eggs,slugs\nF01,M02,2027-03-03,7,2\nF01,M01,2025-04-02,6,0\n"
    animals = TWO_MALES.replace("breeder,2025-04-02", "breeder,2027-03-03")
    for events in ("", "".join(row for row, _, _ in STEPS[:5])):
        records = season(tmp_path, events, clutches=row, animals=animals)
        (clutch,) = records.this_season
        assert (clutch.laid, clutch.eggs, clutch.sire) == (date(2027, 3, 3), 7, "M02")
        assert [each.laid for each in records.clutches] == [date(2025, 4, 2)]
        assert {a.id: a.last_laid for a in records.animals}["F01"] == date(2025, 4, 2)
        assert frost(records).sire == "M02"


def test_an_earlier_season_in_the_events_is_a_clutch_of_the_past(tmp_path: Path) -> None:
    rows = "2024-12-20,F01,visit,M02,,,\n2025-04-02,F01,laid,,6,1,\n2025-06-01,F01,hatched,,5,,\n"
    records = season(tmp_path, rows)
    (past,) = records.clutches
    assert (past.dam, past.sire, past.eggs, past.slugs, past.hatched) == ("F01", "M02", 6, 1, 5)
    assert frost(records).stage is Stage.OPEN
    assert records.this_season == ()


def test_a_refusal_leaves_her_open_until_they_meet_again(tmp_path: Path) -> None:
    refusal = "2026-12-05,F01,refusal,M01,,,\n"
    records = season(tmp_path, refusal)
    assert (frost(records).stage, frost(records).refused) == (Stage.OPEN, ("M01",))
    again = season(tmp_path, refusal + "2026-12-12,F01,lock,M01,,,\n")
    assert (frost(again).stage, frost(again).refused) == (Stage.LOCKED, ())


def test_a_refusal_undoes_what_the_settings_say(tmp_path: Path) -> None:
    locks = "locks: {already_paired: [[F01, M01]]}\n"
    assert frost(season(tmp_path, "", locks)).stage is Stage.VISITED
    records = season(tmp_path, "2026-12-05,F01,refusal,M01,,,\n", locks)
    assert frost(records).stage is Stage.OPEN
    assert records.already_paired == ()


def test_two_males_before_she_ovulated_share_the_clutch(tmp_path: Path) -> None:
    rows = STEPS[0][0] + "2026-12-20,F01,visit,M02,,,\n"
    records = season(tmp_path, rows)
    assert [(s.id, s.chance) for s in frost(records).sires] == [("M01", 0.5), ("M02", 0.5)]
    assert frost(records).sire == "M02"
    late = season(tmp_path, rows + "2026-12-10,F01,ovulation,,,,\n")
    assert [s.id for s in frost(late).sires] == ["M01"]
    stated = "locks: {sires: {F01: {M01: 0.8, Hail: 0.2}}}\n"
    said = season(tmp_path, rows + "2027-01-10,F01,ovulation,,,,\n", stated)
    assert [(s.id, s.chance) for s in frost(said).sires] == [("M01", 0.8), ("M02", 0.2)]
    assert frost(said).sire == "M01"


@pytest.mark.parametrize("seen", ["visit", "lock"])
def test_who_was_with_her_before_a_male_that_died_still_counts(tmp_path: Path, seen: str) -> None:
    events = f"2026-12-05,F01,{seen},M01,,,\n2026-12-20,F01,visit,M02,,,\n"
    assert season(tmp_path, events).state.made == (("F01", "M02"),)
    gone = season(tmp_path, events + "2026-12-25,M02,died,,,,\n")
    assert gone.state.made == (("F01", "M01"),)
    assert {sire.id for sire in frost(gone).sires} == {"M01", "M02"}


def test_a_male_that_she_refused_that_day_is_no_sire(tmp_path: Path) -> None:
    rows = STEPS[0][0] + "2026-12-20,F01,visit,M02,,,\n2026-12-20,F01,refusal,M02,,,\n"
    records = season(tmp_path, rows)
    assert [s.id for s in frost(records).sires] == ["M01"]
    assert frost(records).sire == "M01"


def test_the_dead_are_out_and_their_eggs_stay(tmp_path: Path) -> None:
    died = "2027-03-10,F01,died,,,,\n"
    assert frost(season(tmp_path, STEPS[0][0] + died)).stage is Stage.OUT
    her = frost(season(tmp_path, "".join(row for row, _, _ in STEPS[:5]) + died))
    assert (her.stage, her.gone) == (Stage.LAID, True)
    sire = season(tmp_path, STEPS[0][0] + "2027-03-10,M01,died,,,,\n")
    assert sire.state.males["M01"].gone
    assert "M01" in {animal.id for animal in sire.collection}


def test_visits_of_a_male_are_counted(tmp_path: Path) -> None:
    rows = STEPS[0][0] + STEPS[1][0] + "2026-12-09,F02,visit,M01,,,\n2026-12-16,F02,visit,M01,,,\n"
    him = season(tmp_path, rows).state.males["M01"]
    assert (him.visits, him.locks, him.females) == (3, 1, ("F01", "F02"))


def test_shares_of_sires_name_males_of_the_table(tmp_path: Path) -> None:
    text = SEASON + "locks: {sires: {F01: {F02: 1}, F09: {M01: 1}, F02: {M01: 0}}}\n"
    found = told(faults_in(tmp_path, season=text), Severity.ERROR)
    assert len(found) == 3
    assert any("no chance for any male" in fault for fault in found)
