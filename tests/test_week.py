"""The week's tasks, the boxes of real clutches, and the calendar that is brought up to date."""

from __future__ import annotations

import json
import shutil
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from brumal import library
from brumal.cli import main
from brumal.insight.simulate.diary import Task, TaskKind
from brumal.insight.week import Week, _boxes, _of_diary, week_of
from brumal.insight.why.outlook import days_of, look_ahead
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.records.season_facts import SeasonClutch
from brumal.records.settings import Box
from brumal.report.plan.calendar_file import plan_calendar
from brumal.report.plan.page import plan_page
from brumal.report.week.report import week_json, week_page
from season_outputs import ROOT

DAY = timedelta(days=1)
MARCH = ROOT / "scenarios" / "demo-march"


@cache
def march(on: str) -> tuple[Week, str, bytes, bytes]:
    season = library.solve(library.read(MARCH, date.fromisoformat(on)))
    plan = plan_of(season)
    outlook = look_ahead(season, plan)
    week = week_of(season, plan, outlook)
    early = plan_calendar(plan, outlook)
    return week, plan_page(plan, outlook, week), early, b""


def tasks(on: str) -> set[tuple[str, str, str]]:
    return {(str(task.day), task.animal, task.task) for task in march(on)[0].tasks}


def test_no_male_goes_to_a_female_that_no_visit_serves() -> None:
    week = march("2027-03-08")[0]
    visited = {task.animal for task in week.tasks if task.task == "male goes to her"}
    assert visited
    assert visited.isdisjoint({"F09", "F12", "F19"})
    assert not any({task.animal, task.mate} == {"F14", "M04"} for task in week.tasks)
    assert all(week.first <= task.day <= week.last for task in week.tasks)


def test_a_laying_brings_its_tasks_each_with_its_day() -> None:
    found = tasks("2027-03-03")
    laid = date(2027, 3, 3)
    steps = (
        (0, "leave her until she has finished"),
        (1, "see that no egg is retained"),
        (1, "weigh her"),
        (1, "clean her enclosure"),
    )
    for days, task in steps:
        assert (str(laid + timedelta(days=days)), "F09", task) in found
    # The look over stands on the day that the season states, here and in the calendar.
    assert ("2027-03-10", "F09", "look her over, offer a first meal") in tasks("2027-03-08")
    calendar = {
        (str(entry.decoded("dtstart")), str(entry["summary"]).partition(": ")[2])
        for entry in Calendar.from_ical(march("2027-03-08")[2]).walk("VEVENT")
        if entry.decoded("categories") and "F09" in str(entry["summary"])
    }
    assert ("2027-03-10", "look her over, offer a first meal") in calendar
    assert ("2027-03-17", "weigh again") in calendar and ("2027-03-31", "weigh again") in calendar
    assert ("2027-03-04", "weigh her") not in calendar
    assert ("2027-03-03", "F09", "eggs into their box") in found
    assert ("2027-03-13", "F09", "candle clutch 1") in tasks("2027-03-08")


def test_what_she_lost_with_her_eggs_is_no_wasting(tmp_path: Path) -> None:
    folder = tmp_path / "demo-march"
    shutil.copytree(MARCH, folder)
    weights = (folder / "weights.csv").read_text("utf-8")
    rows = "2027-02-20,2000", "2027-03-04,1300"
    told = "".join(f"F09,{row},\n" for row in rows)
    (folder / "weights.csv").write_text(f"{weights.rstrip()}\n{told}", "utf-8")
    season = library.solve(library.read(folder, date(2027, 3, 8)))
    assert not any(each.rule == "wasting" for each in season.found.verdicts["F09"])
    assert not any("no laying" in note for note in season.prepared.rules.series["F09"].notes)


@pytest.mark.parametrize(
    ("kept", "day", "since"),
    [("ovulation", "2027-03-09", "2027-03-09"), ("shed", "2027-03-09", "2027-03-08")],
)
def test_a_female_without_eggs_after_the_longest_span_is_overdue(
    tmp_path: Path, kept: str, day: str, since: str
) -> None:
    """57 days after ovulation, 33 after the shed (docs/files.md, dates)."""
    rows = ["2026-12-05,F1,visit,M2", "2027-01-10,F1,ovulation,", "2027-02-02,F1,shed,"]
    told = [row for row in rows if kept == "shed" or "shed" not in row]
    plan, week = overdue_week(tmp_path, told, day)
    lines = [(str(task.day), task.task) for task in week.tasks if task.animal == "F1"]
    assert lines == [(day, f"overdue since {since}: a licensed vet")]
    assert any(since in each.text and "vet" in each.text for each in plan.cautions)
    assert {pair.dam: pair.goes for pair in plan.pairs}["F1"] == 0
    day_before = overdue_week(tmp_path / "before", told, str(date.fromisoformat(since) - DAY))
    assert not any("overdue" in task.task for task in day_before[1].tasks)


def test_eggs_after_the_longest_span_are_overdue_and_their_label_stays(tmp_path: Path) -> None:
    told = ["2026-12-05,F1,visit,M2", "2027-03-20,F1,laid,"]
    labels = []
    for day in ("2027-04-01", "2027-05-17", "2027-05-20", "2027-05-25"):
        plan, week = overdue_week(tmp_path / day, told, day)
        late = day >= "2027-05-20"
        lines = {task.task for task in week.tasks if task.animal == "F1"}
        assert ("her eggs are overdue since 2027-05-20: look at them" in lines) is late
        assert any("2027-05-20" in each.text for each in plan.cautions) is late
        assert not (late and "look for hatching" in lines)
        labels.append(week.labels)
    assert labels[0] and all(each == labels[0] for each in labels)


def overdue_week(folder: Path, rows: list[str], on: str) -> tuple[Plan, Week]:
    shutil.copytree(ROOT / "scenarios" / "small", folder / "small")
    text = "\n".join(["date,animal,event,with", *rows, ""])
    (folder / "small" / "events.csv").write_text(text, "utf-8")
    season = library.solve(library.read(folder / "small", date.fromisoformat(on)))
    plan = plan_of(season)
    return plan, week_of(season, plan, days_of(season, plan))


def test_an_animal_that_is_ill_comes_before_all_else(tmp_path: Path) -> None:
    folder = tmp_path / "demo-march"
    shutil.copytree(MARCH, folder)
    with (folder / "events.csv").open("a", encoding="utf-8") as table:
        width = len((MARCH / "events.csv").read_text("utf-8").splitlines()[0].split(","))
        table.write("2027-03-05,F16,ill" + "," * (width - 3) + "\n")
    season = library.solve(library.read(folder, date(2027, 3, 8)))
    plan = plan_of(season)
    week = week_of(season, plan, look_ahead(season, plan))
    hers = [task for task in week.tasks if task.animal == "F16"]
    assert [(task.day, task.task) for task in hers if task.task == "ask a vet"] == [
        (week.first, "ask a vet")
    ]
    assert all(task.task != "male goes to her" for task in hers)


@pytest.mark.parametrize(
    ("kind", "open_yet"), [(TaskKind.LAYING, "if she goes, "), (TaskKind.FIRST_SHED, "")]
)
def test_what_follows_the_eggs_no_longer_hangs_on_whether_she_goes(
    kind: TaskKind, open_yet: str
) -> None:
    start, end = date(2027, 6, 13), date(2027, 6, 20)
    task = Task(kind=kind, subject="F1", number=1, animals=("F1",), start=start, end=end)
    (told,) = _of_diary(task, start, end)
    assert told.why == f"{open_yet}in four cases of five from 2027-06-13 to 2027-06-20"


def test_what_she_lost_is_told_beside_what_is_usual() -> None:
    week = march("2027-03-17")[0]
    (again,) = [task for task in week.tasks if task.task == "weigh again"]
    assert again.animal == "F09"
    assert "30 to 40% lost at laying is usual" in again.why
    # 2,050 g in February, 1,330 g the day after: 35 % below.
    assert "2,050 g before the eggs" in again.why
    assert "35% below" in again.why


def test_a_box_is_labelled_with_what_a_keeper_needs() -> None:
    (label,) = march("2027-03-08")[0].labels
    assert (label.number, label.box, label.dam, label.sires) == (1, 1, "F09", ("M01",))
    assert (label.laid, label.eggs, label.slugs) == (date(2027, 3, 3), 7, 2)
    assert date(2027, 4, 27) <= label.hatching.early <= label.hatching.late <= date(2027, 5, 2)


def test_the_week_as_data_and_as_pages() -> None:
    week, page = march("2027-03-08")[:2]
    told = json.loads(week_json(week))
    assert all(list(each) == ["day", "animal", "task", "with", "why"] for each in told)
    assert [each["day"] for each in told] == sorted(each["day"] for each in told)
    html = week_page(week)
    assert "Monday" in html and "Clutch 1, box 1" in html
    assert "<script" not in html
    assert page.index("This week") < page.index('id="pairs"')


CLUTCHES = st.lists(
    st.tuples(st.integers(0, 120), st.integers(1, 12), st.one_of(st.none(), st.integers(50, 70))),
    max_size=12,
)


@given(laid=CLUTCHES, boxes=st.integers(1, 6), share=st.integers(1, 3), small=st.integers(1, 8))
def test_no_box_is_ever_promised_twice(
    laid: list[tuple[int, int, int | None]], boxes: int, share: int, small: int
) -> None:
    start = date(2027, 3, 1)
    clutches = [
        SeasonClutch(
            dam=f"F{number:02}",
            laid=start + timedelta(days=day),
            eggs=eggs,
            hatched_on=start + timedelta(days=day + days) if days else None,
            hatched=eggs if days else None,
        )
        for number, (day, eggs, days) in enumerate(sorted(laid, key=lambda each: each[0]))
    ]
    found = _boxes(clutches, boxes, Box(clutches=share, small_clutch=small))
    for day in {each.laid for each in clutches}:
        assert day is not None
        for box in range(1, boxes + 1):
            inside = [
                each
                for each in clutches
                if found[each.dam] == box
                and each.laid is not None
                and each.laid <= day
                and (each.hatched_on is None or each.hatched_on > day)
            ]
            assert len(inside) <= share
            assert len(inside) <= 1 or all((each.eggs or 0) <= small for each in inside)


def test_withdrawn_entries_of_the_calendar_are_cancelled(tmp_path: Path) -> None:
    folder, out = tmp_path / "demo-march", tmp_path / "out"
    shutil.copytree(MARCH, folder)
    words = ["week", str(folder), "--out", str(out), "--on"]
    assert main([*words, "2027-02-19"]) == 0
    first = entries(out)
    assert main([*words, "2027-03-08"]) == 0
    second = entries(out)
    assert set(first) <= set(second)
    gone = [uid for uid in first if second[uid].get("status") == "CANCELLED"]
    assert gone
    assert all(second[uid].decoded("dtend") > date(2027, 3, 8) for uid in gone)
    before = (out / "calendar.ics").read_bytes()
    assert main([*words, "2027-03-08"]) == 0
    assert (out / "calendar.ics").read_bytes() == before


def entries(out: Path) -> dict[str, object]:
    calendar = Calendar.from_ical((out / "calendar.ics").read_bytes())
    return {str(entry["uid"]): entry for entry in calendar.walk("VEVENT")}


@pytest.mark.parametrize("day", ["2027-01-10", "2027-02-05"])
def test_a_season_is_seen_from_any_earlier_day(day: str) -> None:
    assert march(day)[0].first == date.fromisoformat(day)


def test_a_refused_pair_costs_no_more_than_its_second_choice(tmp_path: Path) -> None:
    """Planned anew after a refusal, the season loses at most what was told beforehand."""
    folder = tmp_path / "demo"
    shutil.copytree(ROOT / "scenarios" / "demo", folder)
    day, later = date(2026, 12, 2), date(2027, 1, 1)
    (folder / "events.csv").write_text("date,animal,event,with\n2026-12-01,F28,ill,\n")
    before = plan_of(library.solve(library.read(folder, day, later)))
    pair = max((pair for pair in before.pairs if pair.second), key=lambda pair: pair.value)
    (folder / "events.csv").write_text(
        f"date,animal,event,with\n2026-12-01,F28,ill,\n2026-12-02,{pair.dam},refusal,{pair.sire}\n"
    )
    after = plan_of(library.solve(library.read(folder, day, later)))
    assert before.objective and after.objective and before.gap is not None
    assert pair.second is not None
    allowed = pair.second.less + 0.01 * before.objective
    assert after.objective >= before.objective - allowed
    assert (pair.dam, pair.sire) not in {(each.dam, each.sire) for each in after.pairs}
