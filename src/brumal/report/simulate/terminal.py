"""Simulated seasons on the terminal: readable at 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table

from brumal.insight.simulate.seasons import Simulation
from brumal.insight.why.steadiness import Steady
from brumal.insight.why.whole import Subject
from brumal.report.plan.words import CAUTIONS, luck_line, worst_line
from brumal.report.simulate.words import (
    bars,
    look_row,
    mean_line,
    room_rows,
    steady_head,
    steady_lines,
    target_row,
)
from brumal.report.terminal import heading, item

BAND = "1 in 10 - half - 9 in 10"


def print_simulation(
    luck: Simulation, steady: Steady | None, subject: Subject, screen: Console
) -> None:
    """Print money, targets, looks and room of the seasons, then how steady the plan is."""
    screen.print(f"{subject.season}: simulated seasons", style="bold")
    if subject.as_of is not None:
        screen.print(f"Seen from {subject.as_of}.")
    for line in (
        mean_line(luck, subject),
        luck_line(luck, subject.currency),
        worst_line(luck, subject.currency),
    ):
        screen.print(line)
    heading(f"Money of a season ({subject.currency}), from", screen)
    _table(("", "", ""), bars(luck), screen, right=(0, 2))
    if luck.targets:
        heading(f"What you want (young: {BAND})", screen)
        heads = ("morph", "chance of one", "asked", "sold as such", "needed", "chance of all")
        _table(heads, map(target_row, luck.targets), screen, right=(1, 2, 3, 4, 5))
    heading(f"Young by look ({len(luck.looks)} of {luck.looks_met}; {BAND})", screen)
    _table(("look", "young", "mean", "chance"), map(look_row, luck.looks), screen, right=(1, 2, 3))
    heading(f"Room ({BAND} of seasons need no more)", screen)
    _table(("", "limit", "needed", "most", "over it"), room_rows(luck), screen, right=(1, 2, 3, 4))
    if steady is not None:
        heading("How steady the plan is", screen)
        screen.print(steady_head(steady))
        for line in steady_lines(steady, subject):
            item(line, screen)
    heading("Cautions", screen)
    for line in CAUTIONS:
        item(line, screen)


def _table(
    heads: Sequence[str], rows: Iterable[Sequence[str]], screen: Console, right: Sequence[int]
) -> None:
    table = Table(box=None, pad_edge=False, show_header=any(heads))
    for number, head in enumerate(heads):
        table.add_column(head, justify="right" if number in right else "left")
    for row in rows:
        table.add_row(*row)
    screen.print(table)
