"""A review on the terminal, as a page, as data, and the rows to take over."""

from __future__ import annotations

import json

from rich.console import Console
from rich.padding import Padding

from brumal.insight.review.money import MoneyFigure
from brumal.insight.review.next_year import NextYear
from brumal.insight.review.season import ClutchReview, Review
from brumal.insight.review.windows import DayFigure, Figure
from brumal.records.animal_table import ANIMALS
from brumal.records.clutch_table import CLUTCHES
from brumal.records.csv_text import csv_text
from brumal.report.bidi import isolator
from brumal.report.page import render
from brumal.report.review import words

VERSION = 2
INDENT = (0, 0, 0, 4)


def print_review(review: Review, screen: Console) -> None:
    """Print every pair, then how the forecasts held."""
    screen.print(f"{review.season}: forecast against what came", style="bold")
    if review.as_of is not None:
        screen.print(f"Seen from {review.as_of}.")
    screen.print(words.head(review))
    for clutch in review.clutches:
        screen.print()
        screen.print(words.clutch_head(review, clutch), style="bold")
        screen.print(Padding(words.went_line(clutch), INDENT))
        for what, mean, window, came, held in words.figure_rows(clutch):
            line = f"{what}: {came}; expected {mean}, window {window}, held: {held}"
            screen.print(Padding(line, INDENT))
        for look, chance, expected, came in words.look_rows(clutch):
            line = f"{look}: {came}; {expected} expected ({chance} each)"
            screen.print(Padding(line, INDENT))
        screen.print(Padding(words.money_line(clutch, review.currency), INDENT))
    if review.held:
        screen.print()
        screen.print("Windows that should hold in eight cases of ten:", style="bold")
        for windows in review.held:
            screen.print(Padding(words.held_line(windows), INDENT))
        if review.money is not None:
            screen.print(Padding(words.money_in_all(review), INDENT))
    if review.own:
        screen.print()
        screen.print("Your collection's own figures:", style="bold")
        for own in review.own:
            screen.print(Padding(words.own_line(own), INDENT))


def review_page(review: Review) -> str:
    """Return ``review.html``: self-contained, no script, no network."""
    looks = [look.look for clutch in review.clutches for look in clutch.looks]
    return render(
        "review.html",
        review=review,
        words=words,
        told=isolator([*review.names.values(), review.season, *looks]),
    )


def review_files(review: Review, rows: NextYear) -> dict[str, str | bytes]:
    """Return every file of a review by name."""
    return {
        "review.html": review_page(review),
        "review.json": json.dumps(_content(review), indent=1, ensure_ascii=False) + "\n",
        "next-clutches.csv": csv_text(CLUTCHES.columns, rows.clutches),
        "next-animals.csv": csv_text(ANIMALS.columns, rows.animals),
        "next-young.csv": csv_text(ANIMALS.columns, rows.young),
    }


def _content(review: Review) -> dict[str, object]:
    expected, went, of = review.goes
    return {
        "version": VERSION,
        "season": review.season,
        "as_of": str(review.as_of) if review.as_of else None,
        "currency": review.currency,
        "goes": {"expected": round(expected, 6), "came": went, "of": of},
        "money": None if review.money is None else _money(review.money),
        "held": [{"what": each.what, "held": each.held, "of": each.of} for each in review.held],
        "own": [
            {"what": own.what, "before": round(own.before, 6), "now": round(own.now, 6)}
            for own in review.own
        ],
        "clutches": [_clutch(each) for each in review.clutches],
    }


def _clutch(each: ClutchReview) -> dict[str, object]:
    laid = each.clutch.laid if each.clutch is not None else None
    return {
        "dam": each.dam,
        "sires": [{"id": sire, "chance": round(chance, 9)} for sire, chance in each.sires],
        "state": str(each.stage),
        "goes": round(each.goes, 6),
        "went": each.went,
        "laid": laid.isoformat() if laid else None,
        "eggs": _figure(each.eggs),
        "fertile": _figure(each.fertile),
        "hatched": _figure(each.hatched),
        "days": {what: _day(getattr(each, what)) for what in ("shed", "laying", "hatching")},
        "looks": [
            {
                "look": look.look,
                "chance": round(look.chance, 9),
                "expected": round(look.expected, 6),
                "came": look.came,
                "value": round(look.value, 6),
            }
            for look in each.looks
        ],
        "money": _money(each.money),
    }


def _figure(found: Figure | None) -> dict[str, object] | None:
    if found is None:
        return None
    return {
        "expected": round(found.mean, 6),
        "window": [found.low, found.high],
        "came": found.came,
        "held": found.held,
    }


def _money(found: MoneyFigure) -> dict[str, object]:
    return {
        "expected": round(found.mean, 6),
        "window": [round(found.low, 6), round(found.high, 6)],
        "came": None if found.came is None else round(found.came, 6),
        "held": found.held,
    }


def _day(found: DayFigure | None) -> dict[str, object] | None:
    if found is None:
        return None
    return {
        "expected": found.mean.isoformat(),
        "window": [found.low.isoformat(), found.high.isoformat()],
        "came": found.came.isoformat(),
        "held": found.held,
    }
