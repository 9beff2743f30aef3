"""The weight of one animal over the last year as a picture."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from brumal.forecast.trend import Projection
from brumal.forecast.weight import Point, WeighingKind, project
from brumal.report.svg import Picture, ticks
from brumal.rules.readiness import Readiness

WIDTH, HEIGHT = 360.0, 140.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 350.0, 16.0, 116.0
SHOWN_DAYS = 400


@dataclass(frozen=True, slots=True)
class _Scale:
    """From days and grams to places in the picture."""

    first: date
    last: date
    low: float
    high: float

    def x(self, day: date) -> float:
        span = max((self.last - self.first).days, 1)
        return LEFT + (RIGHT - LEFT) * (day - self.first).days / span

    def y(self, grams: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * (grams - self.low) / (self.high - self.low)


def weight_picture(one: Readiness, on: date) -> Picture | None:
    """Draw weighings, the limit and the projection to the day ``on``; ``None`` without a series.

    Kinds of weighing differ by shape: a disc is plain, a square was taken before a laying, a
    triangle after one. Weighings that are off by ten are left out, as they are everywhere.
    """
    points = [
        point
        for point in one.series.points
        if point.on is not None
        and point.kind is not WeighingKind.OFF_BY_TEN
        and (on - point.on).days <= SHOWN_DAYS
    ]
    if len(points) < 2:
        return None
    coming = project(one.series, on)
    scale = _scale(points, on, one.limit_g, coming)
    picture = Picture(
        WIDTH,
        HEIGHT,
        f"Weight of {one.animal.label}",
        _description(one, points, on, coming),
    )
    _draw_axes(picture, scale, on)
    if coming is not None and one.series.trend is not None:
        _draw_projection(picture, scale, coming, one.series.trend.on, one.series.trend.level_g)
    if one.limit_g is not None:
        _draw_limit(picture, scale, one.limit_g)
    _draw_points(picture, scale, points)
    return picture


def _scale(
    points: list[Point], on: date, limit_g: float | None, coming: Projection | None
) -> _Scale:
    grams = [point.grams for point in points]
    grams += [limit_g] if limit_g is not None else []
    grams += [coming.low, coming.high] if coming is not None else []
    pad = 0.08 * (max(grams) - min(grams)) or 10.0
    days = [point.on for point in points if point.on is not None]
    return _Scale(min(days), max(*days, on), min(grams) - pad, max(grams) + pad)


def _description(one: Readiness, points: list[Point], on: date, coming: Projection | None) -> str:
    first, last = points[0], points[-1]
    told = [
        f"{len(points)} weighings from {first.grams:,.0f} g on {first.on} to "
        f"{last.grams:,.0f} g on {last.on}."
    ]
    if one.limit_g is not None:
        told.append(f"The limit is {one.limit_g:,.0f} g.")
    if coming is not None:
        told.append(f"Expected on {on}: {coming.low:,.0f} to {coming.high:,.0f} g.")
    return " ".join(told)


def _draw_axes(picture: Picture, scale: _Scale, on: date) -> None:
    picture.add("path", d=f"M {LEFT:g} {TOP:g} V {BOTTOM:g} H {RIGHT:g}", class_="axis")
    for grams in ticks(scale.low, scale.high, 10):
        picture.text(LEFT - 4, scale.y(grams) + 3, f"{grams:,.0f}", "small faint", "end")
    for month in _quarters(scale.first, scale.last):
        picture.text(scale.x(month), BOTTOM + 12, f"{month:%Y-%m}", "small faint", "middle")
    x = scale.x(on)
    picture.add("path", d=f"M {x:.2f} {TOP:g} V {BOTTOM:g}", class_="axis")
    picture.text(x - 2, TOP - 4, "pairing", "small faint", "end")


def _draw_projection(
    picture: Picture, scale: _Scale, coming: Projection, start: date, level_g: float
) -> None:
    x, y, end = scale.x(start), scale.y(level_g), scale.x(coming.on)
    low, high = scale.y(coming.low), scale.y(coming.high)
    wedge = f"M {x:.2f} {y:.2f} L {end:.2f} {high:.2f} L {end:.2f} {low:.2f} Z"
    picture.add("path", d=wedge, class_="band")
    middle = f"M {x:.2f} {y:.2f} L {end:.2f} {scale.y(coming.grams):.2f}"
    picture.add("path", d=middle, class_="one", stroke_dasharray="1 3")


def _draw_limit(picture: Picture, scale: _Scale, limit_g: float) -> None:
    y = scale.y(limit_g)
    line = f"M {LEFT:g} {y:.2f} H {RIGHT:g}"
    picture.add("path", d=line, class_="stop", stroke_dasharray="6 3")
    picture.text(LEFT, TOP - 4, f"broken line: {limit_g:,.0f} g asked for", "small", "start")


def _draw_points(picture: Picture, scale: _Scale, points: list[Point]) -> None:
    dated = [(point, point.on) for point in points if point.on is not None]
    line = " L ".join(f"{scale.x(day):.2f} {scale.y(point.grams):.2f}" for point, day in dated)
    picture.add("path", d=f"M {line}", class_="one")
    for point, day in dated:
        x, y = scale.x(day), scale.y(point.grams)
        if point.kind is WeighingKind.BEFORE_LAYING:
            picture.add("rect", x=x - 3, y=y - 3, width=6, height=6, class_="fill-two")
        elif point.kind is WeighingKind.AFTER_LAYING:
            corners = f"M {x:.2f} {y + 3.5:.2f} l 4 -7 h -8 Z"
            picture.add("path", d=corners, class_="fill-three")
        else:
            picture.add("circle", cx=x, cy=y, r=2.5, class_="fill-one")


def _quarters(first: date, last: date) -> list[date]:
    """Return the first days of quarters between two days, kept clear of the picture's edges."""
    years = range(first.year, last.year + 1)
    starts = [date(year, month, 1) for year in years for month in (1, 4, 7, 10)]
    room = timedelta(days=20)
    return [day for day in starts if first + room <= day <= last - room]
