"""Boxes and tubs in use, week by week, with how sure that is.

How many boxes a season needs can be bounded before its calendar is known. In a span of days each
clutch is in the incubator at some time with a chance that no calendar raises: she must cycle, lay
by the end of the span, and her eggs not hatch before it begins. The number inside is a sum of
independent yes or no, and it only grows, in the sense of chances, as each of these chances grows. A
week lacks a box only if the span that holds it does; so the chance that any week does is at most
the sum over spans that cover the season. Spans of several lengths are tried: short ones know the
dates better, long ones are fewer.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.dates import ClutchDates, DayChances
from brumal.forecast.distributions import mean_count, percentile
from brumal.records.settings import Box

Floats = NDArray[np.float64]

LOW, HIGH = 0.1, 0.9
_ROUNDING = 1e-12
LEAST_PRESENT = 0.2
"""The fullest span counts as no emptier than this, so that places stay a number."""
SPANS = (1, 2, 4, 8)
"""Lengths of spans in weeks; the whole season is one more."""

Spans = tuple[tuple[float, ...], ...]
"""For each way to cover the season by spans, the greatest chance of a clutch inside in each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedClutch:
    """One pair of the plan: its clutch and its dates."""

    clutch: ClutchForecast
    dates: ClutchDates


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """How many are in use: the mean, and the counts that 10 % and 90 % of seasons stay within."""

    mean: float
    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekLoad:
    """What is in use at some time in the week from ``monday``.

    Incubator boxes, the eggs in them, slugs included, and hatchling tubs.
    """

    monday: date
    boxes: Load
    tubs: Load
    eggs: Load


@dataclass(frozen=True, slots=True, kw_only=True)
class FullestWeeks:
    """The most that the season can hold of one clutch, whatever the males' calendar.

    ``in_box`` are the chances that it is laid and in the incubator, by span; ``in_tub`` is the
    greatest share of its young in tubs in a week. Without dates all are there at once.
    """

    in_box: Spans = ((1.0,),)
    in_tub: float = 1.0


def fullest_weeks(clutches: Sequence[tuple[float, ClutchDates]]) -> FullestWeeks:
    """Return the greatest chances over all clutches, each as (chance of being laid, dates)."""
    if not clutches:
        return FullestWeeks()
    mondays = _mondays([dates for _, dates in clutches])
    tables = [(_table(d.laying, mondays), _table(d.hatching, mondays)) for _, d in clutches]
    laid, gone = (np.array(each) for each in zip(*tables, strict=True))
    goes = np.array([chance for chance, _ in clutches])[:, None]
    found = []
    for weeks in (*SPANS, len(mondays) - 1):
        starts = np.arange(0, len(mondays) - 1, weeks)
        ends = np.minimum(starts + weeks, len(mondays) - 1)
        found.append(tuple((goes * (laid[:, ends] - gone[:, starts])).max(axis=0).tolist()))
    out = np.array([_table(dates.leaving, mondays) for _, dates in clutches])
    return FullestWeeks(
        in_box=tuple(dict.fromkeys(found)),
        in_tub=float((gone[:, 1:] - out[:, :-1]).max()),
    )


def _mondays(dates: Sequence[ClutchDates]) -> list[date]:
    """Return the Mondays from the week of the first laying to the one after all have left."""
    first = min(each.laying.first for each in dates)
    monday = first - timedelta(days=first.weekday())
    weeks = (max(each.leaving.last for each in dates) - monday).days // 7 + 2
    return [monday + timedelta(days=7 * at) for at in range(weeks)]


def _table(days: DayChances, mondays: Sequence[date]) -> Floats:
    """Return the chance that something has happened before each Monday."""
    reached = np.concatenate([[0.0], np.cumsum(days.chances)])
    before = np.array([(monday - days.first).days for monday in mondays])
    found: Floats = reached[np.clip(before, 0, len(days.chances))]
    return found


def places_taken(box_eggs: Floats, small_clutch: float, clutches: int) -> Floats:
    """Return the places that clutches of so many eggs take: 1, or ``clutches`` for a large one.

    With ``c`` small clutches to a box, ``ceil(small / c) + large <= boxes`` is for whole numbers
    ``small + c * large <= c * boxes``.
    """
    return np.where(box_eggs <= small_clutch, 1.0, float(clutches))


@functools.lru_cache(maxsize=256)
def clutch_places(boxes: int, clutches: int, present: Spans, sure: float) -> int:
    """Return how many places, one a small and ``clutches`` a large clutch, so many boxes have.

    In each span each clutch is in the incubator with the chance ``present`` gives it, independently
    of the others. Whatever the mix of small and large ones that fills the places, no span lacks a
    box with a chance of ``sure`` or more. Where all are present and it must be certain, that is
    ``clutches * boxes``.
    """
    if sure >= 1:
        return clutches * boxes
    room = _Room.of(boxes, clutches, present, sure)
    small = 1
    while room.is_enough(small, 0):
        small *= 2
    found, large = math.inf, 0
    while True:
        # The more large clutches, the fewer small ones beside them.
        while small >= 0 and not room.is_enough(small, large):
            small -= 1
        if small < 0:
            return int(found)
        found = min(found, small + clutches * large)
        large += 1


@dataclass(frozen=True, slots=True)
class _Room:
    """Boxes that must not be too few with more than a chance of ``short``."""

    boxes: int
    clutches: int
    present: Spans
    short: float

    @staticmethod
    def of(boxes: int, clutches: int, present: Spans, sure: float) -> _Room:
        """Return the room; in its fullest span each clutch is there with a least chance."""
        raised = tuple(
            tuple(
                LEAST_PRESENT if chance == max(cover) < LEAST_PRESENT else chance
                for chance in cover
            )
            for cover in present
        )
        return _Room(boxes, clutches, raised, 1 - sure + _ROUNDING)

    def is_enough(self, small: int, large: int) -> bool:
        """Say whether the boxes are enough for so many small and large clutches."""
        return any(self._covered(cover, small, large) for cover in self.present)

    def _covered(self, cover: Sequence[float], small: int, large: int) -> bool:
        lacking = 0.0
        for chance in sorted(cover, reverse=True):
            if chance <= 0:
                break
            lacking += self._lacks(chance, small, large)
            if lacking > self.short:
                return False
        return True

    def _lacks(self, chance: float, small: int, large: int) -> float:
        """Return the chance that the clutches inside need more boxes than there are."""
        few = _binomial(small, chance)
        shared = np.minimum(-(-np.arange(small + 1) // self.clutches), self.boxes + 1)
        many = _binomial(large, chance)
        # The chance that more than so many large clutches are inside, from none left over up.
        over = np.zeros(self.boxes + 2)
        over[: large + 1] = 1 - np.cumsum(many)[: self.boxes + 2]
        over = np.concatenate([[1.0], over[: self.boxes + 1]])
        return float(few @ over[self.boxes + 1 - shared])


def boxes_in_use(small: int, large: int, clutches: int, present: Spans, sure: float) -> int:
    """Return the least number of boxes of which no span lacks one, with a chance of ``sure``."""
    whole = -(-small // clutches) + large
    if sure >= 1:
        return whole
    return next(
        boxes
        for boxes in range(whole + 1)
        if boxes == whole or _Room.of(boxes, clutches, present, sure).is_enough(small, large)
    )


def enough_boxes(expected: Sequence[ExpectedClutch], box: Box, boxes: int) -> float:
    """Return a chance that no week of a plan lacks a box: the true one is this or more.

    By each clutch's own chances and dates, summed over spans as in ``clutch_places``.
    """
    if not expected:
        return 1.0
    mondays = _mondays([each.dates for each in expected])
    last = len(mondays) - 1
    lacking = [
        sum(
            _more_than(expected, box, boxes, (mondays[at], mondays[min(at + weeks, last)]))
            for at in range(0, last, weeks)
        )
        for weeks in (*SPANS, last)
    ]
    return max(0.0, 1 - min(lacking))


def _more_than(
    expected: Sequence[ExpectedClutch], box: Box, boxes: int, span: tuple[date, date]
) -> float:
    """Return the chance that more boxes are in use at some time from one day to before another."""
    start, end = (day - timedelta(days=1) for day in span)
    small, large = np.ones(1), np.ones(1)
    for each in expected:
        inside = each.clutch.goes * (each.dates.laying.by(end) - each.dates.hatching.by(start))
        present = np.array([1 - inside, inside])
        if each.clutch.eggs_p90 <= box.small_clutch:
            small = np.convolve(small, present)
        else:
            large = np.convolve(large, present)
    return float(box_counts(small, large, box.clutches)[boxes + 1 :].sum())


@functools.lru_cache(maxsize=1024)
def _binomial(count: int, chance: float) -> Floats:
    if chance <= 0 or chance >= 1:
        certain = np.zeros(count + 1)
        certain[count if chance >= 1 else 0] = 1.0
        return certain
    k = np.arange(count + 1)
    found: Floats = np.exp(_log_ways(count) + k * np.log(chance) + (count - k) * np.log1p(-chance))
    return found


@functools.lru_cache(maxsize=16)
def _log_ways(count: int) -> Floats:
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, count + 1)))])
    ways: Floats = logs[count] - logs - logs[::-1]
    return ways


def _held(first: DayChances, last: DayChances, monday: date) -> float:
    """Return the chance of being there at some time in a week, both days counted."""
    return first.by(monday + timedelta(days=6)) - last.by(monday - timedelta(days=1))


def week_loads(expected: Sequence[ExpectedClutch], box: Box) -> tuple[WeekLoad, ...]:
    """Return the load of every week from the first possible laying to the last young leaving.

    Exact under the forecasts: pairs are independent, a clutch holds its place from the day of
    laying to that of hatching, both counted, and its young theirs until they leave. Clutches
    counted at ``box.small_clutch`` eggs or fewer share boxes by ``box.clutches``, others have one
    alone.
    """
    if not expected:
        return ()
    mondays = _mondays([each.dates for each in expected])[:-1]
    return tuple(_week(monday, expected, box) for monday in mondays)


def box_counts(small: Floats, large: Floats, clutches: int) -> Floats:
    """Return the chances of 0, 1, ... boxes in use.

    ``small`` and ``large`` are the chances of 0, 1, ... small and large clutches in incubation;
    ``clutches`` small ones share a box.
    """
    shared = np.zeros(-(-(len(small) - 1) // clutches) + 1)
    np.add.at(shared, -(-np.arange(len(small)) // clutches), small)
    boxes: Floats = np.convolve(shared, large)
    return boxes


def _week(monday: date, expected: Sequence[ExpectedClutch], box: Box) -> WeekLoad:
    small, large, young, eggs = np.ones(1), np.ones(1), np.ones(1), np.ones(1)
    for each in expected:
        clutch, dates = each.clutch, each.dates
        eggs_in = clutch.goes * _held(dates.laying, dates.hatching, monday)
        young_in = _held(dates.hatching, dates.leaving, monday)
        if eggs_in > 0:
            present = np.array([1 - eggs_in, eggs_in])
            if clutch.eggs_p90 <= box.small_clutch:
                small = np.convolve(small, present)
            else:
                large = np.convolve(large, present)
            eggs = np.convolve(eggs, _share_of(eggs_in, clutch.eggs_pmf))
        if young_in > 0:
            young = np.convolve(young, _share_of(young_in, clutch.young_pmf))
    return WeekLoad(
        monday=monday,
        boxes=_load(box_counts(small, large, box.clutches)),
        tubs=_load(young),
        eggs=_load(eggs),
    )


def _share_of(present: float, counts: Floats) -> Floats:
    """Return the chances of 0, 1, ... where the count is there with chance ``present``."""
    mixed = present * counts
    mixed[0] += 1 - present
    return mixed


def _load(chances: Floats) -> Load:
    return Load(
        mean=mean_count(chances),
        low=percentile(chances, LOW),
        high=percentile(chances, HIGH),
    )
