"""Boxes and tubs in simulated seasons: how many are in use at once, and how often too many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.dates import DayChances
from brumal.forecast.occupancy import Load, WeekLoad
from brumal.planner.risk.parent_draws import Places, stream
from brumal.planner.season import SolvedSeason

Int32s = NDArray[np.int32]
_LEVELS = (10, 50, 90)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomUse:
    """The most in use at once in a season: in one season of ten, half, nine of ten no more.

    ``over`` is the share of seasons in which that is above the ``limit`` (``None``: no limit), and
    ``largest`` the most that was ever needed.
    """

    limit: int | None
    p10: int
    p50: int
    p90: int
    largest: int
    over: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLuck:
    """Boxes and tubs at their peak, and week by week.

    ``together`` is boxes if every clutch of the season were in the incubator at once, which is how
    the plan counts them where no dates part the clutches; there a clutch counts by the eggs it has.
    """

    boxes: RoomUse
    tubs: RoomUse
    together: RoomUse
    weeks: tuple[WeekLoad, ...]


def room_luck(
    season: SolvedSeason, eggs: Sequence[Places], hatched: Sequence[Places], seed: int
) -> RoomLuck:
    """Draw the dates of every clutch and count what is in use; counts by pair of the plan."""
    settings = season.prepared.records.settings
    share, small = settings.box.clutches, settings.box.small_clutch
    seasons = eggs[0].size if eggs else 0
    if not seasons:
        none = RoomUse(limit=None, p10=0, p50=0, p90=0, largest=0, over=None)
        return RoomLuck(boxes=none, tubs=none, together=none, weeks=())
    laid = np.stack(eggs)
    first = min(season.laid_out.dates[each.pair].laying.first for each in season.pairs)
    monday = first - timedelta(days=first.weekday())
    days = _days(season, monday, seed, seasons)
    weeks = int(days.max()) // 7 + 1
    little = _in_use(days[:, 0], days[:, 1], (laid > 0) & (laid <= small), weeks)
    large = _in_use(days[:, 0], days[:, 1], laid > small, weeks)
    boxes = -(-little // share) + large
    inside = _in_use(days[:, 0], days[:, 1], laid, weeks)
    tubs = _in_use(days[:, 1], days[:, 2], np.stack(hatched), weeks)
    whole = -(-((laid > 0) & (laid <= small)).sum(axis=0) // share) + (laid > small).sum(axis=0)
    limits = settings.limits
    return RoomLuck(
        boxes=_use(boxes.max(axis=0), limits.boxes),
        tubs=_use(tubs.max(axis=0), limits.tubs),
        together=_use(whole, limits.boxes),
        weeks=_weeks(monday, boxes, tubs, inside),
    )


def _days(season: SolvedSeason, monday: date, seed: int, seasons: int) -> Int32s:
    """Return the days of laying, hatching and leaving, counted from a Monday before all of them.

    Shape (pairs, 3, seasons). Each is drawn from its law given what was seen; hatching from the day
    of laying on, which is after the day of the view unless she has laid.
    """
    stages = season.prepared.records.settings.dates
    found = []
    for pair in season.pairs:
        dates = season.laid_out.dates[pair.pair]
        rng = stream(seed, "days", pair.dam, pair.sire)
        laid = _drawn(dates.laying, monday, rng, seasons)
        if len(dates.laying.chances) > 1:
            hatched = laid + _after(stages.incubation, rng, seasons)
        else:
            hatched = _drawn(dates.hatching, monday, rng, seasons)
        found.append(np.stack([laid, hatched, hatched + _after(stages.raising, rng, seasons)]))
    return np.stack(found)


def _drawn(days: DayChances, monday: date, rng: np.random.Generator, seasons: int) -> Int32s:
    drawn = rng.choice(len(days.chances), seasons, p=days.chances).astype(np.int32)
    return drawn + np.int32((days.first - monday).days)


def _after(stage: tuple[int, int], rng: np.random.Generator, seasons: int) -> Int32s:
    """Return whole days between least and most, all equally likely."""
    return rng.integers(*stage, seasons, dtype=np.int32, endpoint=True)


def _in_use(first: Int32s, last: Int32s, count: NDArray[np.generic], weeks: int) -> Int32s:
    """Return how many are in use in each week, shape (weeks, seasons).

    ``first`` and ``last`` are days, both counted; all have the shape (pairs, seasons).
    """
    seasons = first.shape[1]
    # Week by week in one row: numbers of one axis are found twice as fast as those of two.
    steps = np.zeros((weeks + 1) * seasons, dtype=np.int32)
    at = np.arange(seasons)
    for start, end, number in zip(first // 7, last // 7, count.astype(np.int32), strict=True):
        steps[start * seasons + at] += number
        steps[(end + 1) * seasons + at] -= number
    found: Int32s = np.cumsum(steps.reshape(weeks + 1, seasons), axis=0, dtype=np.int32)[:-1]
    return found


def _use(most: NDArray[np.integer[Any]], limit: int | None) -> RoomUse:
    low, middle, high = _levels(most[None])[0]
    return RoomUse(
        limit=limit,
        p10=low,
        p50=middle,
        p90=high,
        largest=int(most.max()),
        over=None if limit is None else float((most > limit).mean()),
    )


def _weeks(monday: date, boxes: Int32s, tubs: Int32s, eggs: Int32s) -> tuple[WeekLoad, ...]:
    """Return the weeks from the first to the last in which anything may be in use."""
    used = np.flatnonzero((boxes > 0).any(axis=1) | (tubs > 0).any(axis=1)).tolist()
    if not used:
        return ()
    weeks = slice(used[0], used[-1] + 1)
    loads = [_loads(each[weeks]) for each in (boxes, tubs, eggs)]
    return tuple(
        WeekLoad(
            monday=monday + timedelta(days=7 * (weeks.start + at)),
            boxes=in_boxes,
            tubs=raised,
            eggs=inside,
        )
        for at, (in_boxes, raised, inside) in enumerate(zip(*loads, strict=True))
    )


def _loads(counts: Int32s) -> list[Load]:
    return [
        Load(mean=mean, low=low, high=high)
        for mean, (low, _, high) in zip(counts.mean(axis=1).tolist(), _levels(counts), strict=True)
    ]


def _levels(counts: NDArray[np.integer[Any]]) -> list[tuple[int, int, int]]:
    """Return p10, p50 and p90 of each row: the least count that so many seasons stay within."""
    places = [max(0, -(-level * counts.shape[1] // 100) - 1) for level in _LEVELS]
    ordered = np.partition(counts, places, axis=1)[:, places]
    return [(low, middle, high) for low, middle, high in ordered.tolist()]
