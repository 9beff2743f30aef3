"""Who is ready: on the terminal, as a page and as a table."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import date

from rich.console import Console
from rich.padding import Padding

from brumal.report.csv_cells import inert
from brumal.report.page import picture, render
from brumal.report.ready.pictures import weight_picture
from brumal.report.ready.words import (
    HEADINGS,
    facts,
    ledger_line,
    outlook,
    own_reasons,
    reasons,
    shared_lines,
)
from brumal.rules.readiness import Readiness, State

COLUMNS = (
    "id",
    "name",
    "sex",
    "state",
    "ready_on",
    "may_start",
    "held_by",
    "chance",
    "weigh_on",
    "weight_g",
    "weighed",
    "gain_g_day",
    "asked_g",
    "missing_g",
    "condition",
    "rules_failed",
    "reasons",
)


def print_ready(
    found: Sequence[Readiness], season: str, on: date, screen: Console, as_of: date | None = None
) -> None:
    """Print every animal under its heading, the nearest to ready first; it is seen ``as_of``."""
    screen.print(f"{season}: who is ready on {on}", style="bold")
    if as_of is not None:
        screen.print(f"Seen from {as_of}.")
    screen.print(summary(found))
    for line in shared_lines(found):
        screen.print(Padding(f"Caution: {line}", (0, 0, 0, 4)))
    for state, animals in by_state(found):
        screen.print()
        screen.print(f"{HEADINGS[state]} ({len(animals)})", style="bold")
        for one in animals:
            _print_one(one, on, screen)


def summary(found: Sequence[Readiness]) -> str:
    """Return the counts in one sentence."""
    counts = ", ".join(f"{len(animals)} {state}" for state, animals in by_state(found))
    return f"{len(found)} animals: {counts}." if found else "No animals."


def by_state(found: Sequence[Readiness]) -> list[tuple[State, list[Readiness]]]:
    """Return the animals by state, empty states left out, the order kept."""
    groups = [(state, [one for one in found if one.state is state]) for state in State]
    return [(state, animals) for state, animals in groups if animals]


def ready_page(found: Sequence[Readiness], season: str, on: date, as_of: date | None = None) -> str:
    """Return ``ready.html``: self-contained, no script, no network."""
    pictures = {one.animal.id: weight_picture(one, on) for one in found}
    return render(
        "ready.html",
        season=season,
        on=on,
        summary=f"Seen from {as_of}. {summary(found)}" if as_of else summary(found),
        groups=by_state(found),
        headings=HEADINGS,
        facts=facts,
        outlook=outlook,
        reasons=own_reasons,
        shared=shared_lines(found),
        ledger=ledger_line,
        pictures={id: picture(image) for id, image in pictures.items() if image is not None},
    )


def ready_csv(found: Sequence[Readiness]) -> str:
    """Return the table: one row an animal in the order of the report, empty where not known."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for one in found:
        last, trend = one.series.last, one.series.trend
        rows.writerow(
            inert(
                one.animal.id,
                one.animal.name,
                str(one.animal.sex or ""),
                str(one.state),
                str(one.ready_on or ""),
                str(one.start.day or ""),
                one.start.held_by,
                "" if one.start.day is None else f"{one.start.chance:.3g}",
                str(one.start.weigh_on or ""),
                "" if last is None else f"{last.grams:g}",
                "" if last is None else str(last.on or ""),
                "" if trend is None else f"{trend.gain:.2f}",
                "" if one.limit_g is None else f"{one.limit_g:g}",
                _missing(one),
                "" if one.animal.condition is None else f"{one.animal.condition:g}",
                " ".join(verdict.rule for verdict in one.failed),
                " ".join(reasons(one)),
            )
        )
    return out.getvalue()


def _missing(one: Readiness) -> str:
    if one.limit_g is None or one.series.last is None:
        return ""
    return f"{max(one.limit_g - one.series.last.grams, 0):g}"


def _print_one(one: Readiness, on: date, screen: Console) -> None:
    screen.print()
    screen.print(f"{one.animal.label}: {facts(one, on)}")
    for line in (*own_reasons(one), outlook(one), ledger_line(one)):
        if line:
            screen.print(Padding(line, (0, 0, 0, 4)))
    for note in one.series.notes:
        screen.print(Padding(f"Weights: {note}", (0, 0, 0, 4)))
