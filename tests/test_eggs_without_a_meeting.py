"""Eggs on record stay on record: laid late, or by a female of whom no meeting is written down."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from brumal import library
from brumal.insight.review.next_year import next_year
from brumal.insight.review.season import review
from brumal.insight.week import week_of
from brumal.insight.why.outlook import look_ahead
from brumal.planner.cautions import SIRE_NOT_KNOWN
from brumal.planner.describe import plan_of
from brumal.planner.plan import PlannedPair
from brumal.records.season_state import UNKNOWN_SIRE
from brumal.report.plan.words import state_words
from brumal.rules.table import judge_animal
from season_folders import ANIMALS, season_folder

HEAD = "date,animal,event,with,count,slugs,morphs\n"
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
limits: {boxes: 3, weekly: 0.9}
values: {base: 30, wanted: [{morph: Clown, value: 250}, {morph: Piebald, value: 400}]}
"""
LAID = "2027-05-20,F02,laid,,6,1,\n"


def season(folder: Path, events: str, on: str) -> library.SolvedSeason:
    season_folder(folder, season=SEASON, events=HEAD + events)
    return library.solve(library.read(folder, date.fromisoformat(on), date(2028, 1, 1)))


def pair_of(solved: library.SolvedSeason, dam: str) -> PlannedPair:
    (pair,) = [each for each in plan_of(solved).pairs if each.dam == dam]
    return pair


def test_a_female_without_a_meeting_on_record_has_box_label_and_tasks(tmp_path: Path) -> None:
    solved = season(tmp_path, LAID, "2027-05-21")
    plan = plan_of(solved)
    pair = pair_of(solved, "F02")
    assert (pair.sire, pair.eggs, pair.cautions) == (UNKNOWN_SIRE.id, 6, (SIRE_NOT_KNOWN,))
    assert "F02" not in {each.id for each in plan.resting}
    assert UNKNOWN_SIRE.id not in {each.id for each in plan.males}
    week = week_of(solved, plan, look_ahead(solved, plan))
    assert "see that no egg is retained" in {t.task for t in week.tasks if t.animal == "F02"}
    (label,) = week.labels
    assert label.dam == "F02"


def test_an_unknown_sire_brings_nothing_until_young_show_it(tmp_path: Path) -> None:
    looks = {each.morph for each in pair_of(season(tmp_path, LAID, "2027-05-21"), "F02").outcomes}
    assert looks == {"50% het Clown"}
    hatched = LAID + "2027-07-16,F02,hatched,,5,,3 Piebald; 2 Normal\n"
    shown = pair_of(season(tmp_path, hatched, "2027-07-20"), "F02").outcomes
    assert any("Piebald" in each.morph.split(" het ")[0] for each in shown)


def test_a_review_tells_of_a_clutch_of_unknown_sire(tmp_path: Path) -> None:
    now = season(tmp_path, LAID, "2027-09-01").prepared
    before = library.read(tmp_path, date(2026, 12, 1), date(2028, 1, 1))
    found = review(now, before)
    assert [(each.dam, each.went) for each in found.clutches] == [("F02", True)]
    (row,) = next_year(now.records, found).clutches
    assert (row["dam"], row["sire"], row["eggs"]) == ("F02", "", "6")
    assert UNKNOWN_SIRE.id not in {row["id"] for row in next_year(now.records, found).animals}


def test_late_eggs_come_of_the_visits_before_them(tmp_path: Path) -> None:
    """163 days after her last visit, longer than lies between two clutches at the least."""
    visits = "2026-12-10,F01,visit,M01,,,\n2027-01-12,F01,visit,M01,,,\n"
    for laid in ("2027-04-02", "2027-06-24"):
        solved = season(tmp_path, f"{visits}{laid},F01,laid,,5,1,\n", "2027-06-26")
        assert pair_of(solved, "F01").sire == "M01"
        faults = [str(fault) for fault in solved.prepared.faults]
        assert not any("any visit" in fault for fault in faults)


def test_the_stand_in_is_no_animal_of_the_tables(tmp_path: Path) -> None:
    records = season(tmp_path, LAID, "2027-05-21").prepared.records
    assert records.has_unknown_sire
    assert len(records.known) == 3
    assert not replace(records, animals=records.known).has_unknown_sire


def test_visits_of_a_male_that_was_sold_are_told_while_they_may_serve(tmp_path: Path) -> None:
    rows = "2026-12-10,F01,visit,M01,,,\n2027-01-12,F01,visit,M01,,,\n2027-01-20,M01,sold,,,,\n"
    solved = season(tmp_path, rows, "2027-02-06")
    (her,) = [each for each in plan_of(solved).resting if each.id == "F01"]
    assert "Sleet (M01), who has left, was with her on 2027-01-12 last" in her.reasons[-1].text
    assert "may lay by him" in her.reasons[-1].text
    later = plan_of(season(tmp_path, rows, "2027-03-25")).resting
    assert not any("who has left" in each.text for one in later for each in one.reasons)


def test_a_pair_with_a_new_male_does_not_claim_the_visits_of_the_one_sold(tmp_path: Path) -> None:
    other = ANIMALS + "M02,Hail,male,2020-07-01,,,Clown,900,2026-11-01,3,breeder,\n"
    rows = "2027-01-12,F01,visit,M01,,,\n2027-01-20,M01,sold,,,,\n"
    season_folder(tmp_path, season=SEASON, events=HEAD + rows, animals=other)
    solved = library.solve(library.read(tmp_path, date(2027, 2, 6), date(2028, 1, 1)))
    plan, pair = plan_of(solved), pair_of(solved, "F01")
    assert pair.sire == "M02"
    assert state_words(plan, pair) == "visited on 2027-01-12; by Sleet (M01), who has left"
    assert any("all her young count as by Hail (M02)" in each for each in pair.cautions)
    (verdict,) = [v for v in judge_animal(solved.prepared.animals["M01"], solved.prepared.rules)]
    assert "the event of 2027-01-20 in the events table" in verdict.remedy


def test_a_pair_held_back_by_two_reasons_tells_her_chance_once(tmp_path: Path) -> None:
    rows = "2027-03-20,F01,visit,M01,,,\n2027-03-22,M01,sold,,,,\n2027-03-21,F01,visit,M02,,,\n"
    two = ANIMALS.replace(
        "M01,Sleet,male",
        "M02,Hail,male,2020-07-01,,,Clown,900,2026-11-01,3,retired,\nM01,Sleet,male",
    )
    season_folder(tmp_path, season=SEASON, events=HEAD + rows, animals=two)
    solved = library.solve(library.read(tmp_path, date(2027, 4, 5), date(2028, 1, 1)))
    held = [each for each in pair_of(solved, "F01").cautions if each.startswith("No further")]
    assert len(held) > 1
    assert sum("she lays with a chance of" in each for each in held) == 1
