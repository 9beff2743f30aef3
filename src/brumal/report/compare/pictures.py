"""The pictures of a comparison: what each scenario brings with its band, and a sweep's curve."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.insight.compare.columns import Column
from brumal.insight.compare.sweeps import Curve, Sweep, curve_of
from brumal.report.svg import Picture, shorten, ticks

WIDTH = 360.0
LEFT, RIGHT = 2.0, 352.0
ROW, BAR = 40.0, 11.0
CURVE_LEFT, TOP, BOTTOM, HEIGHT = 52.0, 26.0, 168.0, 200.0


def bars_picture(columns: Sequence[Column], currency: str) -> Picture | None:
    """Draw each scenario's value as a bar from zero, with a line from its p10 to its p90.

    What is paid or received once is counted in. A broken line carries the base's value down past
    the others.
    """
    shown = [(column, column.net) for column in columns if column.net is not None]
    if not shown:
        return None
    told = "; ".join(f"{column.name} {net:,.0f}" for column, net in shown)
    picture = Picture(
        WIDTH,
        ROW * len(shown) + 8,
        f"What each scenario brings, in {currency}",
        f"{told}. The thin line on each bar holds eight of ten simulated seasons.",
    )
    low, high = _range(shown)
    first = _x(shown[0][1], low, high)
    picture.add("path", d=f"M {first:.2f} 20 v {ROW * len(shown) - 14:g}", **_BASE_LINE)
    for number, (column, net) in enumerate(shown):
        _draw_bar(picture, column, net, ROW * number + 14, (low, high))
    return picture


_BASE_LINE = {"class_": "two", "stroke_dasharray": "5 3"}


def _range(shown: Sequence[tuple[Column, float]]) -> tuple[float, float]:
    ends = [net for _, net in shown] + [end for column, _ in shown for end in _band(column)]
    low, high = min(0.0, *ends), max(0.0, *ends)
    return (low, high) if high > low else (low, low + 1.0)


def _band(column: Column) -> tuple[float, ...]:
    """Return the p10, p50 and p90 of a column's money."""
    band = column.band
    return () if band is None else (band.p10, band.p50, band.p90)


def _x(amount: float, low: float, high: float) -> float:
    return LEFT + (RIGHT - LEFT) * (amount - low) / (high - low)


def _draw_bar(
    picture: Picture, column: Column, net: float, y: float, ends: tuple[float, float]
) -> None:
    picture.text(LEFT, y, shorten(column.name, 38))
    picture.text(RIGHT, y, f"{net:,.0f}", "label", "end")
    zero, end = _x(0.0, *ends), _x(net, *ends)
    top = y + 5
    picture.add("rect", x=min(zero, end), y=top, width=abs(end - zero), height=BAR, class_="band")
    band = _band(column)
    if band:
        low, half, high = (_x(each, *ends) for each in band)
        middle = top + BAR / 2
        line = f"M {low:.2f} {middle:g} H {high:.2f}"
        ticks = f"M {low:.2f} {top + 2:g} v {BAR - 4:g} M {high:.2f} {top + 2:g} v {BAR - 4:g}"
        picture.add("path", d=f"{line} {ticks}", class_="one", stroke_width=1.5)
        picture.add("circle", cx=half, cy=middle, r=3, class_="fill-one")


def curve_picture(sweep: Sweep, currency: str) -> Picture | None:
    """Draw a sweep of one axis: a disc a step, a square where it bends, a line at today's value.

    ``None`` for a grid, and for a sweep whose steps are no numbers or of which fewer than two have
    a plan.
    """
    curve = curve_of(sweep.axes, sweep.steps)
    if len(curve) < 2:
        return None
    picture = Picture(WIDTH, HEIGHT, f"Value by {sweep.axes[0].key}", _curve_words(sweep, curve))
    scale = _Scale(curve)
    _draw_axes(picture, sweep, scale, currency)
    _draw_now(picture, sweep, scale)
    line = " L ".join(f"{scale.x(at):.2f} {scale.y(net):.2f}" for _, at, net in curve)
    picture.add("path", d=f"M {line}", class_="one", stroke_width=2)
    for place, at, net in curve:
        if place == sweep.bend:
            continue
        picture.add("circle", cx=scale.x(at), cy=scale.y(net), r=2.6, class_="fill-one")
    for place, at, net in curve:
        if place == sweep.bend:
            _draw_bend(picture, scale.x(at), scale.y(net), sweep.steps[place].at[0])
    return picture


def _curve_words(sweep: Sweep, curve: Curve) -> str:
    first, last = curve[0], curve[-1]
    told = (
        f"From {first[2]:,.0f} at {sweep.steps[first[0]].at[0]} to {last[2]:,.0f} at "
        f"{sweep.steps[last[0]].at[0]}."
    )
    if sweep.bend is not None:
        told += f" It bends at {sweep.steps[sweep.bend].at[0]}."
    return told


class _Scale:
    """From a value of the axis and money to places in the picture."""

    def __init__(self, curve: Curve) -> None:
        values, money = [at for _, at, _ in curve], [net for _, _, net in curve]
        self.first, self.last = min(values), max(values)
        pad = 0.08 * (max(money) - min(money)) or max(1.0, abs(max(money)) * 0.02)
        self.low, self.high = min(money) - pad, max(money) + pad

    def x(self, at: float) -> float:
        span = (self.last - self.first) or 1.0
        return CURVE_LEFT + (RIGHT - 8 - CURVE_LEFT) * (at - self.first) / span

    def y(self, net: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * (net - self.low) / (self.high - self.low)


def _draw_axes(picture: Picture, sweep: Sweep, scale: _Scale, currency: str) -> None:
    picture.add("path", d=f"M {CURVE_LEFT:g} {TOP:g} V {BOTTOM:g} H {RIGHT:g}", class_="axis")
    picture.text(LEFT, 11, currency, "small faint")
    for amount in ticks(scale.low, scale.high):
        picture.text(CURVE_LEFT - 5, scale.y(amount) + 3, f"{amount:,.0f}", "small faint", "end")
    for at, text in _labels(sweep, scale):
        picture.add("path", d=f"M {at:.2f} {BOTTOM:g} v 3", class_="axis")
        picture.text(at, BOTTOM + 13, text, "small faint", "middle")
    key = shorten(sweep.axes[0].key, 48)
    picture.text((CURVE_LEFT + RIGHT) / 2, HEIGHT - 4, key, "small", "middle")


def _labels(sweep: Sweep, scale: _Scale) -> list[tuple[float, str]]:
    """Return the steps' values along the axis, those left out that would run into another."""
    longest = max(len(step.at[0]) for step in sweep.steps)
    room = 6.0 * longest + 6
    kept: list[tuple[float, str]] = []
    for step in sweep.steps:
        at = float(step.at[0])
        if not scale.first <= at <= scale.last:
            continue
        x = scale.x(at)
        if not kept or x - kept[-1][0] >= room:
            kept.append((x, step.at[0]))
    return kept


def _draw_now(picture: Picture, sweep: Sweep, scale: _Scale) -> None:
    """Mark today's value of the axis, where it lies in the range."""
    try:
        now = float(sweep.base[0] or "")
    except ValueError:
        return
    if scale.first <= now <= scale.last:
        x = scale.x(now)
        picture.add("path", d=f"M {x:.2f} {TOP:g} V {BOTTOM:g}", **_BASE_LINE)
        left = x > (CURVE_LEFT + RIGHT) / 2
        picture.text(x, TOP - 5, f"now {sweep.base[0]}", "small", "end" if left else "start")


def _draw_bend(picture: Picture, x: float, y: float, at: str) -> None:
    picture.add("rect", x=x - 4.5, y=y - 4.5, width=9, height=9, class_="paper")
    picture.add("rect", x=x - 4.5, y=y - 4.5, width=9, height=9, class_="three", stroke_width=2)
    under = y + 20 if y + 20 < BOTTOM - 4 else y - 10
    end = x > RIGHT - 70
    picture.text(
        x - 8 if end else x + 2, under, f"bend at {at}", "small", "end" if end else "start"
    )
