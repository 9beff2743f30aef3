"""A comparison as one page."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from brumal.insight.compare.comparison import Comparison
from brumal.insight.compare.differences import females
from brumal.insight.compare.sweeps import Step, Sweep
from brumal.report.bidi import isolator
from brumal.report.compare import words
from brumal.report.compare.pictures import bars_picture, curve_picture
from brumal.report.page import picture, render
from brumal.report.plan.words import clash_head, clash_lines

MOST_ROWS = 60
"""A matrix of more females than this shows only those whose season differs somewhere."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What becomes of a female in one scenario; ``differs`` from the first column."""

    words: str
    differs: bool


def compare_page(comparison: Comparison) -> str:
    """Return ``compare.html``: self-contained, no script, no network."""
    rows, hidden = _matrix(comparison)
    bars = bars_picture(comparison.columns, comparison.currency)
    return render(
        "compare.html",
        comparison=comparison,
        currency=comparison.currency,
        names=comparison.names,
        words=words,
        told=isolator([*comparison.names.values(), comparison.season]),
        bars=None if bars is None else picture(bars),
        rows=rows,
        hidden=hidden,
        sweeps=[(sweep, _curve(sweep, comparison.currency)) for sweep in comparison.sweeps],
        grid=_grid,
        clash_head=clash_head,
        clash_lines=clash_lines,
    )


def _matrix(comparison: Comparison) -> tuple[list[tuple[str, list[Cell]]], int]:
    """Return one row a female, and how many are left out because nothing moves them."""
    columns = comparison.columns
    rows = []
    for dam in females(columns):
        told = [words.cell_words(column, dam, comparison.names) for column in columns]
        cells = [Cell(text, text not in (told[0], words.NO_PLAN)) for text in told]
        rows.append((comparison.names.get(dam, dam), cells))
    if len(rows) <= MOST_ROWS:
        return rows, 0
    moved = [row for row in rows if any(cell.differs for cell in row[1])]
    return moved, len(rows) - len(moved)


def _curve(sweep: Sweep, currency: str) -> Markup | None:
    drawn = curve_picture(sweep, currency)
    return None if drawn is None else picture(drawn)


def _grid(sweep: Sweep) -> list[tuple[str, list[Step]]]:
    """Return the steps of two axes as rows of the first one's values."""
    width = len(sweep.axes[1].steps)
    return [
        (value, list(sweep.steps[number * width : (number + 1) * width]))
        for number, value in enumerate(sweep.axes[0].steps)
    ]
