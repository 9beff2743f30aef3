"""The diary as a calendar file (RFC 5545) that calendars on phones and computers take in."""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from brumal import __version__
from brumal.insight.simulate.diary import Task, TaskKind
from brumal.insight.why.outlook import Days
from brumal.planner.plan import Plan
from brumal.report.plan.season_words import task_note, task_title
from brumal.report.words import visible

if TYPE_CHECKING:
    from icalendar import Alarm, Event

NAMES = UUID("0b0c4a5e-9a1e-5d7b-8a55-6272756d616c")
MORNING = timedelta(hours=8)
DAYS_BEFORE = timedelta(days=3)
"""So long before a promised weight is due it is brought to mind."""
HALF_YEAR = timedelta(days=183)
_END = b"END:VCALENDAR\r\n"
CAUTION = "Estimates; living animals differ. A licensed vet decides on health."


def plan_calendar(plan: Plan, days: Days, before: bytes | None = None) -> bytes:
    """Return ``calendar.ics``, the same bytes for the same plan and the same file ``before``.

    Entries of the file before that the plan no longer has are cancelled, so that calendars drop
    them; those of days gone by stay as they were.
    An entry keeps its UID while the season's name and year, the kind of entry and the animal stay
    the same, whatever its dates: a new plan moves entries instead of doubling them.
    """
    # Loading the library takes longer than most commands; only this one needs it.
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", f"-//brumal//season plan {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", visible(f"{plan.season}: pairings"))
    for task in days.tasks:
        calendar.add_component(_entry(plan, task))
    made = bytes(calendar.to_ical(sorted=False))
    if before is None:
        return made
    new = {str(entry["uid"]) for entry in calendar.walk("VEVENT")}
    left = b"".join(_left_over(entry, plan) for entry in _of_before(before, new))
    return made.removesuffix(_END) + left + _END


def _entry(plan: Plan, task: Task) -> Event:
    from icalendar import Event

    entry = Event()
    entry.add("uid", _uid(plan, task))
    # A time of the plan, not of the clock: the same plan is the same file.
    entry.add("dtstamp", datetime.combine(plan.pair_from, time(), UTC))
    entry.add("dtstart", task.start)
    entry.add("dtend", task.end + timedelta(days=1))
    entry.add("summary", visible(task_title(task, plan.names)))
    entry.add("description", visible(f"{task_note(task, plan.names)} {CAUTION}"))
    entry.add("categories", [str(task.kind)])
    entry.add("transp", "TRANSPARENT")
    entry.add_component(_alarm(task, plan, MORNING))
    if task.kind is TaskKind.WEIGH_FIRST:
        entry.add_component(_alarm(task, plan, MORNING - DAYS_BEFORE))
    return entry


def _alarm(task: Task, plan: Plan, at: timedelta) -> Alarm:
    """Remind so long after the first day begins (RFC 5545, 3.6.6)."""
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", at)
    alarm.add("description", visible(task_title(task, plan.names)))
    return alarm


def _of_before(before: bytes, new: Collection[str]) -> list[bytes]:
    """Return the lines of those entries of an earlier file that are not among the ``new``, by UID.

    The file is as this module wrote it, with UIDs too short to be folded.
    """
    whole = re.compile(rb"^BEGIN:VEVENT\r\n.*?^END:VEVENT\r\n", re.DOTALL | re.MULTILINE)
    found = whole.findall(before)
    uids = [re.search(rb"^UID:(.*)\r$", entry, re.MULTILINE) for entry in found]
    return [
        entry
        for entry, uid in zip(found, uids, strict=True)
        if uid is None or uid[1].decode() not in new
    ]


def _left_over(lines: bytes, plan: Plan) -> bytes:
    """Cancel an entry still to come; one of days gone by stays, and one cancelled already."""
    from icalendar import Event

    if plan.as_of is None or b"\r\nSTATUS:CANCELLED\r\n" in lines:
        return lines
    entry = Event.from_ical(lines)
    if entry.decoded("dtend") <= plan.as_of:
        return lines
    entry.add("status", "CANCELLED")
    entry.add("sequence", 1)
    return bytes(entry.to_ical(sorted=False))


def _uid(plan: Plan, task: Task) -> str:
    """Name an entry by season, kind, animal and number; the year is that of the season's young."""
    year = (plan.pair_from + HALF_YEAR).year
    return str(uuid5(NAMES, f"{plan.season}\n{year}\n{task.kind}\n{task.subject}\n{task.number}"))
