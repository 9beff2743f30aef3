"""``calendar.ics`` by RFC 5545, read back by a second library."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta

import pytest
import vobject

from brumal.insight.simulate.diary import TaskKind
from brumal.report.plan.calendar_file import plan_calendar
from brumal.report.plan.season_words import task_title
from brumal.report.words import visible
from season_outputs import HOSTILE, demo, demo_files, hostile_files

Source = Callable[[], Mapping[str, bytes]]


def entries(content: bytes) -> dict[str, vobject.base.Component]:
    calendar = vobject.readOne(content.decode())
    assert calendar.version.value == "2.0"
    found = {entry.uid.value: entry for entry in calendar.vevent_list}
    assert len(found) == len(calendar.vevent_list)
    return found


def test_every_entry_of_the_diary_is_there_with_its_days() -> None:
    _, plan, outlook = demo()
    read = [
        (entry.summary.value, entry.dtstart.value, entry.dtend.value - timedelta(days=1))
        for entry in entries(demo_files()["calendar.ics"]).values()
    ]
    assert read == [(task_title(t, plan.names), t.start, t.end) for t in outlook.tasks]
    assert {task.kind for task in outlook.tasks} == set(TaskKind)


@pytest.mark.parametrize("source", [demo_files, hostile_files], ids=["demo", "hostile"])
def test_lines_keep_to_the_standard(source: Source) -> None:
    """RFC 5545, 3.1 and 3.6.1: CRLF, 75 octets, no control characters, what must be there is."""
    content = source()["calendar.ics"]
    lines = content.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR" and lines[-2:] == [b"END:VCALENDAR", b""]
    assert max(map(len, lines)) <= 75
    assert not [line for line in lines if any(octet < 0x20 and octet != 9 for octet in line)]
    for line in lines:
        line.decode()  # no character is cut in two
    events = content.split(b"BEGIN:VEVENT")[1:]
    for event in events:
        for name in (b"UID", b"DTSTAMP", b"DTSTART;VALUE=DATE", b"DTEND;VALUE=DATE", b"SUMMARY"):
            assert event.count(b"\r\n" + name + b":") == 1


@pytest.mark.parametrize("source", [demo_files, hostile_files], ids=["demo", "hostile"])
def test_every_entry_reminds_on_its_first_morning(source: Source) -> None:
    """RFC 5545, 3.6.6: an alarm that displays has an action, a trigger and a description."""
    for entry in entries(source()["calendar.ics"]).values():
        promised = entry.categories.value == ["weigh before pairing"]
        # A promised weight is brought to mind three days before as well.
        days = [0, 3] if promised else [0]
        for alarm, before in zip(entry.valarm_list, days, strict=True):
            assert alarm.action.value == "DISPLAY"
            assert alarm.trigger.value == timedelta(hours=8) - timedelta(days=before)
            assert alarm.description.value == entry.summary.value


def test_nothing_sounds_like_treatment() -> None:
    text = demo_files()["calendar.ics"].decode().replace("\r\n ", "").lower()
    for word in ("treat", "dose", "hormone", "inject", "aspirat", "medic", "cure"):
        assert word not in text


def test_a_moved_season_keeps_its_names_and_moves_its_days() -> None:
    """A new plan with other dates updates the entries instead of doubling them."""
    _, plan, outlook = demo()
    later = timedelta(days=9)
    moved = replace(
        outlook,
        tasks=tuple(
            replace(task, start=task.start + later, end=task.end + later) for task in outlook.tasks
        ),
    )
    before = entries(demo_files()["calendar.ics"])
    after = entries(plan_calendar(replace(plan, pair_from=plan.pair_from + later), moved))
    assert list(before) == list(after)
    assert all(after[uid].dtstart.value == before[uid].dtstart.value + later for uid in before)


def test_another_season_has_names_of_its_own() -> None:
    _, plan, outlook = demo()
    names = set(entries(demo_files()["calendar.ics"]))
    for other in (
        replace(plan, season="Another"),
        replace(plan, pair_from=date(plan.pair_from.year + 1, 12, 1)),
    ):
        assert not names & set(entries(plan_calendar(other, outlook)))


def test_hostile_names_come_out_inert_and_whole() -> None:
    found = entries(hostile_files()["calendar.ics"])
    text = "\n".join(f"{e.summary.value}\n{e.description.value}" for e in found.values())
    for name in HOSTILE:
        assert visible(name) in text


def test_the_same_plan_gives_the_same_bytes() -> None:
    _, plan, outlook = demo()
    assert plan_calendar(plan, outlook) == demo_files()["calendar.ics"]
