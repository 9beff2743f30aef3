"""The odds of a cross as bars: a bar for one young, a mark for the whole clutch."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.insight.sheets.cross_sheet import CrossSheet
from brumal.insight.sheets.young_odds import Chances
from brumal.report.cross.words import look_name, share, within_reach
from brumal.report.svg import Picture, shorten

WIDTH = 360.0
LEFT, RIGHT, ROW = 2.0, 300.0, 34.0
NAME_LENGTH = 40
MOST_BARS = 24
"""So many looks are drawn, the likeliest; the table beside the picture holds them all."""

Bar = tuple[str, Chances]


def looks_picture(sheet: CrossSheet) -> Picture:
    """Draw the odds of each look."""
    bars = [(look_name(look), look.chances) for look in sheet.looks[:MOST_BARS]]
    return _bars("Odds of each look", bars)


def wanted_picture(sheet: CrossSheet) -> Picture | None:
    """Draw the odds of what is wanted and this pair can give."""
    bars = [(wish.morph, wish.chances) for wish in within_reach(sheet)]
    return _bars("Odds of what you want", bars) if bars else None


def undrawn(sheet: CrossSheet) -> int:
    """Return how many looks of the table the picture leaves out."""
    return max(len(sheet.looks) - MOST_BARS, 0)


def _bars(title: str, bars: Sequence[Bar]) -> Picture:
    told = "; ".join(
        f"{name}: {share(odds.each)} of the young, at least one with {share(odds.one)}"
        for name, odds in bars
    )
    picture = Picture(WIDTH, ROW * len(bars) + 4, title, f"{told}.")
    for number, (name, odds) in enumerate(bars):
        _draw(picture, name, odds, ROW * number + 14)
    return picture


def _draw(picture: Picture, name: str, odds: Chances, y: float) -> None:
    span = RIGHT - LEFT
    picture.text(LEFT, y, shorten(name, NAME_LENGTH))
    picture.text(WIDTH - 2, y, f"one or more {share(odds.one)}", "small", "end")
    picture.add("rect", x=LEFT, y=y + 5, width=span, height=9, class_="trough")
    if odds.each > 0:
        picture.add("rect", x=LEFT, y=y + 5, width=span * odds.each, height=9, class_="fill-one")
    x = LEFT + span * odds.one
    picture.add("path", d=f"M {x:.2f} {y + 3:.2f} l 4 6.5 -4 6.5 -4 -6.5 Z", class_="fill-two")
    picture.text(WIDTH - 2, y + 13, share(odds.each), "label", "end")
