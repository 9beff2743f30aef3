"""One picture of the season by week: who is with whom, what is to come, boxes in use."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from brumal.forecast.dates import Window
from brumal.insight.simulate.diary import ClutchOutlook
from brumal.insight.why.outlook import Outlook
from brumal.planner.plan import Plan
from brumal.report.plan.pictures import MOST_ROWS
from brumal.report.svg import Picture, shorten
from brumal.report.words import figure

WIDTH, ROW, HEAD, FOOT = 720.0, 16.0, 30.0, 46.0
LEFT, RIGHT = 190.0, 712.0
LONGEST = 32
BOX_HEIGHT = 24.0
SHOWN_FROM = 0.05
LANES = (
    ("visit", "fill-one", 1.0, 4.0),
    ("ovulation", "fill-two", 5.5, 2.5),
    ("laying", "fill-three", 8.5, 2.5),
    ("hatching", "fill-stop", 11.5, 2.5),
)
"""Each has a height of its own in a female's row, so that no colour has to be told apart."""


def season_pictures(plan: Plan, outlook: Outlook) -> tuple[Picture, ...]:
    """Draw the season by week, a row a female, in parts that fit on a page."""
    clutches = outlook.clutches
    parts = [clutches[at : at + MOST_ROWS] for at in range(0, len(clutches), MOST_ROWS)]
    return tuple(_picture(plan, outlook, part) for part in parts)


def _picture(plan: Plan, outlook: Outlook, clutches: Sequence[ClutchOutlook]) -> Picture:
    first, last = _span(outlook)
    bottom = HEAD + ROW * len(clutches)
    told = "; ".join(_told(plan, clutch) for clutch in clutches)
    picture = Picture(WIDTH, bottom + FOOT, "The season by week", f"{told}.")
    _legend(picture)
    _weeks(picture, first, last, bottom)
    for number, clutch in enumerate(clutches):
        top = HEAD + ROW * number
        words = f"{plan.names[clutch.dam]}, {plan.names[clutch.sire]}"
        picture.text(LEFT - 6, top + 11, shorten(words, LONGEST), "small", "end")
        spans = [(visit.start, visit.end) for visit in clutch.visits]
        _bars(picture, 0, spans, (first, last), top)
        for lane, window in enumerate((clutch.ovulation, clutch.laying, clutch.hatching), start=1):
            _bars(picture, lane, [(window.early, window.late)], (first, last), top)
    _boxes(picture, outlook, (first, last), bottom)
    return picture


def _span(outlook: Outlook) -> tuple[date, date]:
    """Return the Monday of the first visit or window, and the Monday after the last hatching."""
    starts = [visit.start for clutch in outlook.clutches for visit in clutch.visits]
    starts += [clutch.ovulation.early for clutch in outlook.clutches]
    first, last = min(starts), max(clutch.hatching.late for clutch in outlook.clutches)
    return first - timedelta(days=first.weekday()), last + timedelta(days=7 - last.weekday())


def _told(plan: Plan, clutch: ClutchOutlook) -> str:
    def between(window: Window) -> str:
        return f"{window.early} to {window.late}"

    visits = ", ".join(str(visit.start) for visit in clutch.visits) or "none set down"
    return (
        f"{plan.names[clutch.dam]} with {plan.names[clutch.sire]}: visits {visits}; ovulation "
        f"{between(clutch.ovulation)}, laying {between(clutch.laying)}, hatching "
        f"{between(clutch.hatching)}"
    )


def _x(day: date, span: tuple[date, date]) -> float:
    return LEFT + (RIGHT - LEFT) * (day - span[0]).days / (span[1] - span[0]).days


def _bars(
    picture: Picture,
    lane: int,
    spans: Sequence[tuple[date, date]],
    season: tuple[date, date],
    top: float,
) -> None:
    _, class_, offset, height = LANES[lane]
    for start, end in spans:
        left, right = _x(start, season), _x(end + timedelta(days=1), season)
        width = max(right - left, 1.0)
        picture.add("rect", x=left, y=top + offset, width=width, height=height, class_=class_)


def _legend(picture: Picture) -> None:
    for at, (words, class_, _, height) in enumerate(LANES):
        x = LEFT + 90 * at
        picture.add("rect", x=x, y=7 - height / 2, width=14, height=height, class_=class_)
        picture.text(x + 18, 10, words, "small")


def _weeks(picture: Picture, first: date, last: date, bottom: float) -> None:
    """Draw a line for each month, at its first Monday."""
    monday = first
    while monday < last:
        if monday.day <= 7:
            x = _x(monday, (first, last))
            picture.add("path", d=f"M {x:.2f} {HEAD - 6:g} V {bottom:.2f}", class_="axis")
            picture.text(x + 2, HEAD - 8, f"{monday:%Y-%m}", "small faint")
        monday += timedelta(days=7)


def _boxes(picture: Picture, outlook: Outlook, span: tuple[date, date], bottom: float) -> None:
    """Draw the mean number of boxes in use, a bar a week, the most of them in figures."""
    most = max((week.boxes.mean for week in outlook.weeks), default=0.0)
    base = bottom + 10 + BOX_HEIGHT
    picture.text(LEFT - 6, base, "boxes, on average", "small", "end")
    picture.add("path", d=f"M {LEFT:g} {base:.2f} H {RIGHT:g}", class_="axis")
    for week in outlook.weeks:
        if week.boxes.mean < SHOWN_FROM or not span[0] <= week.monday < span[1]:
            continue
        left, right = _x(week.monday, span), _x(week.monday + timedelta(days=7), span)
        height = BOX_HEIGHT * week.boxes.mean / most
        picture.add(
            "rect",
            x=left,
            y=base - height,
            width=max(right - left - 0.8, 0.5),
            height=height,
            class_="fill-one",
        )
        if week.boxes.mean == most:
            picture.text(left, base + 10, figure(round(most, 1)), "small")
