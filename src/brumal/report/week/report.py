"""The week on the terminal, as a page to print or hold, and as data."""

from __future__ import annotations

import json
from datetime import date

from rich.console import Console
from rich.padding import Padding

from brumal.insight.week import BoxLabel, Week, WeekTask
from brumal.report.bidi import isolator
from brumal.report.page import render
from brumal.report.words import counted

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
INDENT = (0, 0, 0, 4)
CAUTION = "If a female strains or stops mid-lay, or you are in doubt: a licensed vet at once."


def day_name(day: date) -> str:
    """Return a day with its weekday."""
    return f"{WEEKDAYS[day.weekday()]} {day}"


def title(week: Week) -> str:
    """Return the heading of the week."""
    return f"{week.season}: the week from {day_name(week.first)} to {day_name(week.last)}"


def task_line(week: Week, task: WeekTask) -> str:
    """Say a task in one line."""
    if not task.animal:
        return f"{task.task[:1].upper()}{task.task[1:]}"
    who = week.names.get(task.animal, task.animal)
    if not task.mate:
        return f"{who}: {task.task}"
    return f"{who}: {task.task.replace('male', week.names.get(task.mate, task.mate))}"


def label_lines(week: Week, label: BoxLabel) -> list[str]:
    """Return what stands on the label of a box."""
    sires = " or ".join(week.names.get(sire, sire) for sire in label.sires)
    eggs = "eggs not counted" if label.eggs is None else counted(label.eggs, "egg")
    slugs = f", {counted(label.slugs, 'slug')}" if label.slugs else ""
    return [
        f"{week.names.get(label.dam, label.dam)} x {sires or 'sire not known'}",
        f"Laid {label.laid}: {eggs}{slugs}",
        f"Should hatch {label.hatching.early} to {label.hatching.late}",
        f"Candle {', '.join(str(day) for day in label.candle)}",
    ]


def label_head(label: BoxLabel) -> str:
    """Return the number of the clutch and its box."""
    box = f"box {label.box}" if label.box is not None else "no box has room"
    return f"Clutch {label.number}, {box}"


def print_week(week: Week, screen: Console) -> None:
    """Print every day with its tasks, then the boxes."""
    screen.print(title(week), style="bold")
    for day, tasks in week.days:
        screen.print()
        screen.print(day_name(day), style="bold")
        for task in tasks:
            why = f" - {task.why}" if task.why else ""
            screen.print(Padding(f"[ ] {task_line(week, task)}{why}", INDENT))
        if not tasks:
            screen.print(Padding("nothing", INDENT))
    for label in week.labels:
        screen.print()
        screen.print(label_head(label), style="bold")
        for line in label_lines(week, label):
            screen.print(Padding(line, INDENT))
    screen.print()
    screen.print(CAUTION)


def week_page(week: Week) -> str:
    """Return ``week.html``: one page in print, one column on a phone, no script, no network."""
    return render(
        "week.html",
        week=week,
        title=title(week),
        day_name=day_name,
        task_line=task_line,
        label_head=label_head,
        label_lines=label_lines,
        caution=CAUTION,
        told=isolator([*week.names.values(), week.season]),
    )


def week_json(week: Week) -> str:
    """Return the tasks as data, one object each, by day."""
    told = [
        {
            "day": task.day.isoformat(),
            "animal": task.animal or None,
            "task": task.task,
            "with": task.mate or None,
            "why": task.why,
        }
        for task in week.tasks
    ]
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"
