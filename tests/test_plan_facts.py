"""Facts of a running season: they stand, no visit goes where none serves, forecasts follow them."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from brumal import library
from brumal.cli import main
from brumal.insight.review.season import review
from brumal.insight.simulate.seasons import simulate
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason
from brumal.records.season_state import Stage
from brumal.report.plan.words import came_line, state_words
from season_outputs import ROOT

HEAD = "date,animal,event,with,count,slugs,morphs\n"
LATE = date(2027, 9, 1)
VISIT = "2026-12-05,F1,visit,M2,,,\n"
OVULATED = VISIT + "2027-02-10,F1,ovulation,,,,\n"
LAID = OVULATED + "2027-03-25,F1,laid,,6,2,\n"
HATCHED = LAID + "2027-05-21,F1,hatched,,3,,\n"


def solved(tmp_path: Path, events: str, on: str, **changes: str) -> tuple[SolvedSeason, Plan]:
    """Solve the small season as it stands on a day, keys of its settings replaced."""
    folder = tmp_path / "small"
    if not folder.exists():
        shutil.copytree(ROOT / "scenarios" / "small", folder)
    (folder / "events.csv").write_text(HEAD + events)
    text = (ROOT / "scenarios" / "small" / "season.yaml").read_text()
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    (folder / "season.yaml").write_text(text)
    season = library.solve(library.read(folder, date.fromisoformat(on), LATE))
    return season, plan_of(season)


def pair_of(plan: Plan, dam: str) -> tuple[str, Stage]:
    found = next(pair for pair in plan.pairs if pair.dam == dam)
    return found.sire, found.state


def visited(season: SolvedSeason) -> set[str]:
    return {visit.female for visit in season.laid_out.calendar.visits}


def test_a_pair_that_has_met_stands_and_goes_on_being_visited(tmp_path: Path) -> None:
    season, plan = solved(tmp_path, VISIT.replace("M2", "M1"), "2026-12-08")
    assert pair_of(plan, "F1") == ("M1", Stage.VISITED)
    mine = season.laid_out.calendar.of("F1", "M1")
    assert mine[0].number == 2
    assert mine[0].start >= date(2026, 12, 5 + 2 + 14 + 1)


@pytest.mark.parametrize(
    ("events", "on", "stage"),
    [
        (OVULATED, "2027-02-12", Stage.OVULATED),
        (LAID, "2027-03-28", Stage.LAID),
        (HATCHED, "2027-05-25", Stage.HATCHED),
    ],
)
def test_no_male_is_sent_where_no_visit_serves(
    tmp_path: Path, events: str, on: str, stage: Stage
) -> None:
    season, plan = solved(tmp_path, events, on)
    assert pair_of(plan, "F1") == ("M2", stage)
    assert "F1" not in visited(season)
    assert not next(pair for pair in plan.pairs if pair.dam == "F1").cautions


def test_real_eggs_take_the_place_of_the_forecast(tmp_path: Path) -> None:
    """Of 6 eggs with 2 slugs, 4 may hatch: 4 x 0.75 = 3 young; once hatched they are what came."""
    season, plan = solved(tmp_path, LAID, "2027-03-28")
    pair = next(pair for pair in plan.pairs if pair.dam == "F1")
    assert (pair.goes, pair.eggs, pair.box_eggs) == (1.0, 6.0, 4.0)
    assert pair.young == pytest.approx(4 * 0.75)
    dates = season.laid_out.dates["F1", "M2"]
    assert dates.laying.first == dates.laying.last == date(2027, 3, 25)
    _, plan = solved(tmp_path, HATCHED, "2027-05-25")
    pair = next(pair for pair in plan.pairs if pair.dam == "F1")
    assert (pair.young, pair.eggs, pair.box_eggs) == (3.0, 6.0, 0.0)


def test_a_refused_pair_falls_to_the_next_best_sire(tmp_path: Path) -> None:
    _, before = solved(tmp_path, "", "2026-12-08")
    assert pair_of(before, "F1")[0] == "M2"
    _, plan = solved(tmp_path, "2026-12-05,F1,refusal,M2,,,\n", "2026-12-08")
    assert pair_of(plan, "F1") == ("M1", Stage.OPEN)


def test_a_female_whose_male_has_died_is_open_again(tmp_path: Path) -> None:
    season, plan = solved(tmp_path, VISIT + "2026-12-07,M2,died,,,,\n", "2026-12-08")
    assert pair_of(plan, "F1")[0] == "M1"
    assert {visit.male for visit in season.laid_out.calendar.visits} == {"M1"}
    locked = VISIT + "2026-12-06,F1,lock,M2,,,\n2026-12-07,M2,died,,,,\n"
    season, plan = solved(tmp_path, locked, "2026-12-08")
    assert pair_of(plan, "F1") == ("M2", Stage.LOCKED)
    assert "F1" not in visited(season)


def test_a_female_that_died_or_fell_ill_is_not_visited(tmp_path: Path) -> None:
    season, plan = solved(tmp_path, VISIT + "2026-12-07,F1,died,,,,\n", "2026-12-08")
    assert "F1" not in {pair.dam for pair in plan.pairs} | visited(season)
    season, plan = solved(tmp_path, VISIT + "2026-12-07,F1,ill,,,,\n", "2026-12-08")
    assert pair_of(plan, "F1") == ("M2", Stage.VISITED)
    assert "F1" not in visited(season)


def test_facts_stand_whatever_the_limits_say(tmp_path: Path) -> None:
    """M1 serves one female at most and there are no boxes: what is made stands all the same."""
    rows = "".join(f"2026-12-{day:02},{dam},visit,M1,,,\n" for day, dam in ((3, "F1"), (9, "F2")))
    season, plan = solved(tmp_path, rows, "2026-12-15", **{"boxes: 3": "boxes: 0"})
    assert plan.room.over
    assert "and you have 0. Agree beforehand where a clutch goes" in plan.cautions[0].text
    assert {(pair.dam, pair.sire) for pair in plan.pairs} == {("F1", "M1"), ("F2", "M1")}
    assert season.solution.objective is not None


def test_boxes_with_eggs_in_are_not_given_again(tmp_path: Path) -> None:
    rows = LAID.replace("F1", "F5").replace("M2", "M1")
    _, plan = solved(tmp_path, rows, "2027-03-28", **{"boxes: 3": "boxes: 1"})
    assert [pair.dam for pair in plan.pairs] == ["F5"]
    assert plan.room.boxes == 1


def test_what_can_no_longer_be_had_is_told_and_the_season_goes_on(tmp_path: Path) -> None:
    wish = "- {morph: Clown, value: 120, chance: 0.99}"
    rows = VISIT.replace("F1", "F5") + "2027-03-20,F5,laid,,2,2,\n"
    _, plan = solved(tmp_path, rows, "2027-03-30", **{"- {morph: Clown, value: 120}": wish})
    assert plan.objective is not None
    assert any("No plan can keep this any more" in note for note in plan.notes)


def test_signs_sharpen_the_days(tmp_path: Path) -> None:
    plain = solved(tmp_path, VISIT, "2026-12-08")[0].laid_out.dates["F1", "M2"]
    seen = solved(tmp_path, OVULATED, "2027-02-12")[0].laid_out.dates["F1", "M2"]
    assert seen.ovulation.by(date(2027, 2, 9)) == 0
    assert seen.ovulation.by(date(2027, 2, 10)) == pytest.approx(1)
    assert (seen.laying.last - seen.laying.first) < (plain.laying.last - plain.laying.first)
    assert seen.laying.first > date(2027, 2, 12)


def test_a_season_seen_again_from_an_earlier_day_gives_the_same_bytes(tmp_path: Path) -> None:
    folder = tmp_path / "small"
    shutil.copytree(ROOT / "scenarios" / "small", folder)
    (folder / "season.yaml").write_text(
        (folder / "season.yaml").read_text().replace("2026-11-15", "2027-06-01")
    )
    (folder / "events.csv").write_text(HEAD + OVULATED)
    told = []
    for events in (OVULATED, HATCHED):
        (folder / "events.csv").write_text(HEAD + events)
        out = tmp_path / f"out{len(told)}"
        assert main(["plan", str(folder), "--on", "2027-02-12", "--out", str(out)]) == 0
        plan = json.loads((out / "plan.json").read_text())
        del plan["inputs"]["fingerprints"]
        told.append((plan, (out / "calendar.ics").read_bytes()))
    assert told[0] == told[1]


@pytest.mark.parametrize("lock", ["sit_out: [F1]", "never_pair: [[F1, M2]]", "sit_out: [M2]"])
def test_a_fact_stands_against_a_lock_without_further_visits(tmp_path: Path, lock: str) -> None:
    text = {"costs:": f"locks: {{{lock}}}\ncosts:"}
    season, plan = solved(tmp_path, VISIT, "2026-12-08", **text)
    assert pair_of(plan, "F1") == ("M2", Stage.VISITED)
    assert "F1" not in visited(season)
    mine = next(pair for pair in plan.pairs if pair.dam == "F1")
    assert mine.cautions[0].startswith("No further visit of this pair is planned. First: take ")


def test_young_held_back_of_facts_stand_against_their_limits(tmp_path: Path) -> None:
    """M2 sires all that is held back, and kinship may be none: the season goes on all the same."""
    keep = {
        "- {morph: Clown, value: 120}": "- {morph: Clown, value: 120, keep: {count: 1, extra: 50}}",
        "costs:": "kin: {max_kept_kinship: 0.0}\ncosts:",
        "limits: {": "limits: {sire_share: 0.1, ",
    }
    rows = VISIT + VISIT.replace("F1", "F2").replace("12-05", "12-15")
    _, plan = solved(tmp_path, rows, "2026-12-20", **keep)
    assert {("F1", "M2"), ("F2", "M2")} <= {(pair.dam, pair.sire) for pair in plan.pairs}


def males_of(plan: Plan) -> dict[str, tuple[int, int]]:
    return {male.id: (male.pairings, male.limit) for male in plan.males}


def test_a_female_that_two_males_visited_is_a_pairing_of_both(tmp_path: Path) -> None:
    """M1 is good for one female a season: having been with F1 he is put to nobody else."""
    both = VISIT + VISIT.replace("M2", "M1").replace("12-05", "12-20")
    _, plan = solved(tmp_path, both, "2026-12-24")
    assert pair_of(plan, "F1")[0] == "M1"
    assert males_of(plan)["M1"] == (1, 1)
    _, plan = solved(tmp_path, both + VISIT.replace("12-05", "12-30"), "2027-01-02")
    assert pair_of(plan, "F1")[0] == "M2"
    assert {pair.dam for pair in plan.pairs if pair.sire == "M1"} == set()
    assert males_of(plan)["M1"] == (1, 1)
    assert males_of(plan)["M2"][0] == 1 + sum(p.sire == "M2" for p in plan.pairs if p.dam != "F1")


def test_a_female_from_outside_that_has_met_counts_for_her_male(tmp_path: Path) -> None:
    folder = shutil.copytree(ROOT / "scenarios" / "small", tmp_path / "small")
    animals = (folder / "animals.csv").read_text(encoding="utf-8")
    animals = animals.replace("Clown,1900,2026-11-15,3,breeder", "Clown,1900,2026-11-15,3,outside")
    (folder / "animals.csv").write_text(animals, encoding="utf-8")
    with (folder / "season.yaml").open("a", encoding="utf-8") as file:
        file.write("\nlocks: {already_paired: [[F1, M2]]}\n")
    assert library.solve(library.read(folder, date(2026, 12, 1), LATE)).mates["F1"] == "M2"


def test_females_that_need_no_more_visits_leave_a_male_his_days(tmp_path: Path) -> None:
    """In March there is time for two more: those that have ovulated are none of them."""
    rows = OVULATED + OVULATED.replace("F1", "F3") + "2027-02-12,M1,died,,,,\n"
    folder = tmp_path / "small"
    shutil.copytree(ROOT / "scenarios" / "small", folder)
    animals = folder / "animals.csv"
    animals.write_text(animals.read_text().replace("breeder,,2,", "breeder,,6,"))
    season, plan = solved(tmp_path, rows, "2027-03-01")
    assert {(pair.dam, pair.sire) for pair in plan.pairs} == {(f, "M2") for f in ("F1", "F3", "F5")}
    assert visited(season) == {"F5"}
    assert males_of(plan)["M2"] == (3, 4)


def test_simulated_boxes_fill_from_the_day_that_she_laid(tmp_path: Path) -> None:
    """However long after her ovulation that was."""
    rows = VISIT + "2027-02-10,F1,ovulation,,,,\n2027-06-30,F1,laid,,6,2,\n"
    season, _ = solved(tmp_path, rows, "2027-07-05")
    season = replace(season, solution=replace(season.solution, chosen=(season.place["F1", "M2"],)))
    weeks = simulate(season, 200).room.weeks
    assert weeks[0].monday == date(2027, 6, 28)
    assert [week.boxes.mean for week in weeks[:8]] == [1.0] * 8


def test_a_hatched_clutch_names_its_sire_and_what_it_came_to(tmp_path: Path) -> None:
    """Only M2 has Mojave: the pair is his, and beside the odds stands what review counts."""
    events = "2026-12-01,F1,visit,M1,,,\n" + HATCHED.replace(
        "hatched,,3,,", "hatched,,3,,1 Mojave Clown; 2 Clown"
    )
    _, plan = solved(tmp_path, events, "2027-05-25")
    pair = next(pair for pair in plan.pairs if pair.dam == "F1")
    assert (pair.sire, pair.state) == ("M2", Stage.HATCHED)
    assert pair.came is not None
    assert pair.came.looks == (("Mojave Clown", 1), ("Clown", 2))
    now = library.read(tmp_path / "small", date(2027, 5, 25), LATE)
    back = review(now, library.read(tmp_path / "small", date(2026, 12, 1), LATE))
    assert pair.came.money == pytest.approx(back.clutches[0].money.came)
    assert "Hatched: 1 Mojave Clown; 2 Clown. They come to" in came_line(plan, pair)
    assert " or " not in state_words(plan, pair)


def test_an_ill_female_is_counted_by_the_visits_she_has_had(tmp_path: Path) -> None:
    """No male goes to her until she is well: one chance of laying, told with the cause."""
    rows, free = VISIT + "2026-12-07,F1,ill,,,,\n", {"goes: 0.8, ": ""}
    season, plan = solved(tmp_path, rows, "2026-12-08", **free)
    hers = ("F1", "M2")
    by_visits = season.laid_out.clutches[hers].goes
    assert season.found.clutches[hers].goes == pytest.approx(by_visits)
    mine = next(pair for pair in plan.pairs if pair.dam == "F1")
    assert mine.goes == pytest.approx(by_visits)
    assert by_visits < 0.3
    assert "was ill on 2026-12-07" in mine.cautions[0]
    assert mine.cautions[0].endswith(f"she lays with a chance of {by_visits:.0%}.")
    assert not [note for note in plan.notes if "Too few visits of" in note and "F1" in note]
    _, plan = solved(tmp_path, rows, "2027-04-05", **free)
    several = next(pair for pair in plan.pairs if pair.dam == "F1").cautions
    assert sum("No further visit" in each for each in several) > 1
    assert sum("she lays with a chance of" in each for each in several) == 1
