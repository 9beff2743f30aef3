"""The pictures of a plan: who meets whom, odds of targets, room by week."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from brumal.forecast.occupancy import Load, WeekLoad
from brumal.insight.simulate.seasons import Simulation
from brumal.pedigree.pair import KinPair
from brumal.planner.plan import Plan, PlannedPair, Target
from brumal.report.kin.pictures import lines_picture
from brumal.report.svg import Picture, shorten, ticks
from brumal.report.words import figure, percent

WIDTH = 360.0
ROW = 22.0
MOST_ROWS = 28
"""A picture of pairs with more dams than this is parted, so that each part fits on a page."""
DAM_END, VALUE_END, LINE_FROM, LINE_TO, SIRE_FROM = 122.0, 168.0, 174.0, 238.0, 246.0
THICKEST = 6.0
LEFT, RIGHT, TOP, BOTTOM, HEIGHT = 30.0, 350.0, 20.0, 136.0, 156.0
INCOME_TOP = 32.0
BAR_LEFT, BAR_RIGHT, BAR_ROW = 2.0, 300.0, 34.0


def pair_pictures(plan: Plan) -> tuple[Picture, ...]:
    """Draw dams on the left, sires on the right, a line for each pair with its expected value."""
    most = max((pair.value for pair in plan.pairs), default=0.0)
    parts = _parts(_by_sire(plan.pairs))
    return tuple(_pair_picture(plan, groups, most) for groups in parts)


def target_picture(targets: Sequence[Target]) -> Picture | None:
    """Draw the chance of at least one young for each target, with the chance asked for."""
    if not targets:
        return None
    told = "; ".join(_target_words(target) for target in targets)
    height = BAR_ROW * len(targets) + 4
    picture = Picture(
        WIDTH, height, "Odds of the targets", f"Chance of at least one young: {told}."
    )
    for number, target in enumerate(targets):
        _draw_target(picture, target, BAR_ROW * number + 14)
    return picture


def refused_picture(refused: Sequence[KinPair]) -> Picture | None:
    """Draw the refused pair whose kinship runs over most animals: the least plain to see."""
    by_size = sorted(refused, key=lambda kin: -len(kin.names))
    return next(filter(None, map(lines_picture, by_size)), None)


def week_picture(
    weeks: Sequence[WeekLoad], loads: Sequence[Load], limit: int | None, what: str
) -> Picture | None:
    """Draw one load by week: the mean, the band of eight seasons in ten, and the limit."""
    used = [at for at, load in enumerate(loads) if load.high > 0 or load.mean >= 0.05]
    if not used:
        return None
    first, last = max(used[0] - 1, 0), min(used[-1] + 2, len(weeks))
    shown = list(zip(weeks[first:last], loads[first:last], strict=True))
    peak_week, peak = max(shown, key=lambda each: each[1].mean)
    asked = "" if limit is None else f" The limit is {limit}."
    picture = Picture(
        WIDTH,
        HEIGHT,
        f"{what} by week",
        f"At most {figure(peak.mean)} expected, in the week of {peak_week.monday}; then between "
        f"{peak.low} and {peak.high} in eight seasons of ten.{asked}",
    )
    top = max(*(load.high for _, load in shown), limit or 0, 1) * 1.08
    _draw_weeks(picture, [(week.monday, load) for week, load in shown], top)
    if limit is not None:
        y = _y(limit, top)
        picture.add(
            "path", d=f"M {LEFT:g} {y:.2f} H {RIGHT:g}", class_="stop", stroke_dasharray="6 3"
        )
        picture.text(RIGHT, y - 4, f"limit {limit}", "small", "end")
    return picture


def income_picture(luck: Simulation, currency: str) -> Picture | None:
    """Draw how many simulated seasons bring how much, with p10, p50 and p90 marked."""
    low, high = luck.edges[0], luck.edges[-1]
    if high <= low or max(luck.counts) == 0:
        return None
    p10, p50, p90 = luck.money.p10, luck.money.p50, luck.money.p90
    picture = Picture(
        WIDTH,
        HEIGHT,
        "What a season may bring",
        f"{luck.seasons:,} simulated seasons, in {currency}: one in ten brings {p10:,.0f} or less, "
        f"half bring {p50:,.0f} or less, one in ten brings more than {p90:,.0f}; all lie between "
        f"{low:,.0f} and {high:,.0f}.",
    )
    _draw_bars(picture, luck)
    marks = ((p10, "1 in 10 under", "end", 10), (p50, "half under", "middle", 22))
    for amount, words, anchor, y in (*marks, (p90, "1 in 10 over", "start", 10)):
        x = _along(luck, amount)
        line = f"M {x:.2f} {y + 3:g} V {BOTTOM:g}"
        picture.add("path", d=line, class_="stop", stroke_dasharray="4 2")
        picture.text(x, y, f"{words} {amount:,.0f}", "small", anchor)
    return picture


def _draw_bars(picture: Picture, luck: Simulation) -> None:
    most = max(luck.counts)
    for (start, end), count in zip(pairwise(luck.edges), luck.counts, strict=True):
        left, height = _along(luck, start), (BOTTOM - INCOME_TOP) * count / most
        picture.add(
            "rect",
            x=left,
            y=BOTTOM - height,
            width=max(_along(luck, end) - left - 1, 0.5),
            height=height,
            class_="fill-one",
        )
    picture.add("path", d=f"M {LEFT:g} {BOTTOM:g} H {RIGHT:g}", class_="axis")
    for amount in ticks(luck.edges[0], luck.edges[-1], 1):
        words = f"{amount:,.0f}"
        picture.text(_along(luck, amount), BOTTOM + 13, words, "small faint", "middle")


def _along(luck: Simulation, amount: float) -> float:
    low, high = luck.edges[0], luck.edges[-1]
    return LEFT + (RIGHT - LEFT) * (amount - low) / (high - low)


def _by_sire(pairs: Sequence[PlannedPair]) -> list[list[PlannedPair]]:
    """Group pairs by sire, the sire of greatest value first; each group's best pair first."""
    groups: dict[str, list[PlannedPair]] = {}
    for pair in sorted(pairs, key=lambda each: (-each.value, each.dam)):
        groups.setdefault(pair.sire, []).append(pair)
    worth = {sire: sum(pair.value for pair in group) for sire, group in groups.items()}
    return [groups[sire] for sire in sorted(groups, key=lambda sire: (-worth[sire], sire))]


def _parts(groups: Sequence[list[PlannedPair]]) -> list[list[list[PlannedPair]]]:
    parts: list[list[list[PlannedPair]]] = []
    rows = MOST_ROWS
    for group in groups:
        if rows + len(group) > MOST_ROWS:
            parts.append([])
            rows = 0
        parts[-1].append(group)
        rows += len(group)
    return parts


def _pair_picture(plan: Plan, groups: Sequence[list[PlannedPair]], most: float) -> Picture:
    limits = {male.id: male.limit for male in plan.males}
    gaps = 8.0 * (len(groups) - 1)
    rows = sum(len(group) for group in groups)
    told = "; ".join(
        f"{plan.names[group[0].sire]} with "
        + ", ".join(f"{plan.names[pair.dam]} ({pair.value:,.0f})" for pair in group)
        for group in groups
    )
    picture = Picture(
        WIDTH, ROW * rows + gaps + 24, f"Pairs and their expected value in {plan.currency}", told
    )
    picture.text(DAM_END, 12, "dam", "small faint", "end")
    picture.text(VALUE_END, 12, "value", "small faint", "end")
    picture.text(SIRE_FROM, 12, "sire", "small faint")
    y = 30.0
    for group in groups:
        _draw_group(picture, plan, group, y, most, limits.get(group[0].sire))
        y += ROW * len(group) + 8
    return picture


def _draw_group(
    picture: Picture,
    plan: Plan,
    group: Sequence[PlannedPair],
    top: float,
    most: float,
    limit: int | None,
) -> None:
    middle = top + ROW * (len(group) - 1) / 2
    for number, pair in enumerate(group):
        y = top + ROW * number
        width = 1 + (THICKEST - 1) * max(pair.value, 0) / most if most > 0 else 1.0
        bend = (LINE_FROM + LINE_TO) / 2
        way = (
            f"M {LINE_FROM:g} {y - 4:.2f} C {bend:g} {y - 4:.2f} {bend:g} {middle - 4:.2f} "
            f"{LINE_TO:g} {middle - 4:.2f}"
        )
        dash = {"stroke_dasharray": "5 3"} if pair.lock else {}
        picture.add("path", d=way, class_="one", stroke_width=width, **dash)
        picture.text(DAM_END, y, shorten(plan.names[pair.dam], 19), "label", "end")
        picture.text(VALUE_END, y, f"{pair.value:,.0f}", "label", "end")
    picture.text(SIRE_FROM, middle, shorten(plan.names[group[0].sire], 17))
    uses = f"{len(group)}" if limit is None else f"{len(group)} of {limit}"
    picture.text(SIRE_FROM, middle + 11, uses, "small faint")


def _target_words(target: Target) -> str:
    asked = "" if target.asked_chance is None else f" ({percent(target.asked_chance)} asked)"
    return f"{target.morph} {percent(target.chance)}{asked}"


def _draw_target(picture: Picture, target: Target, y: float) -> None:
    span = BAR_RIGHT - BAR_LEFT
    picture.text(BAR_LEFT, y, shorten(target.morph, 52))
    picture.add("rect", x=BAR_LEFT, y=y + 4, width=span, height=9, class_="trough")
    if target.chance > 0:
        width = span * target.chance
        picture.add("rect", x=BAR_LEFT, y=y + 4, width=width, height=9, class_="fill-one")
    picture.text(WIDTH - 2, y + 12, percent(target.chance), "label", "end")
    if target.asked_chance is not None:
        x = BAR_LEFT + span * target.asked_chance
        picture.add("path", d=f"M {x:.2f} {y + 1:.2f} v 15", class_="stop", stroke_width=2.5)
        picture.text(BAR_RIGHT, y, f"{percent(target.asked_chance)} asked", "small", "end")


def _y(count: float, top: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * count / top


def _draw_weeks(picture: Picture, shown: Sequence[tuple[date, Load]], top: float) -> None:
    step = (RIGHT - LEFT) / len(shown)
    high = _steps([_y(load.high, top) for _, load in shown], step)
    low = _steps([_y(load.low, top) for _, load in reversed(shown)], -step, RIGHT)
    picture.add("path", d=f"M {high} L {low} Z", class_="band")
    mean = " L ".join(
        f"{LEFT + step * (at + 0.5):.2f} {_y(load.mean, top):.2f}"
        for at, (_, load) in enumerate(shown)
    )
    picture.add("path", d=f"M {mean}", class_="one", stroke_width=2)
    picture.add("path", d=f"M {LEFT:g} {TOP:g} V {BOTTOM:g} H {RIGHT:g}", class_="axis")
    for count in ticks(0, top, 1):
        picture.text(LEFT - 4, _y(count, top) + 3, f"{count:g}", "small faint", "end")
    apart = 1 + len(shown) // 32
    for at, (monday, _) in enumerate(shown):
        month = monday + timedelta(days=6)
        if month.day <= 7 and month.month % apart == 1 % apart:
            picture.text(LEFT + step * at, BOTTOM + 13, f"{month:%Y-%m}", "small faint", "middle")


def _steps(heights: Sequence[float], step: float, start: float = LEFT) -> str:
    """Return a line that is level through each week and steps between weeks."""
    corners = []
    for at, y in enumerate(heights):
        left = start + step * at
        corners += [f"{left:.2f} {y:.2f}", f"{left + step:.2f} {y:.2f}"]
    return " L ".join(corners)
