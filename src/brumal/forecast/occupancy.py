"""Boxes and tubs in use, week by week, with how sure that is.

What is in use in the fullest week of any season can be bounded before its calendar is known: a
clutch is in the incubator in a given week with a chance that depends on the days since its first
visit alone, and that chance has a greatest value. The number of clutches inside is a sum of
independent yes or no, and it only grows, in the sense of chances, as each of these grows.
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
from brumal.forecast.dates import ClutchDates, DayChances, clutch_dates
from brumal.forecast.distributions import mean_count, percentile
from brumal.records.settings import Box, StageDays

Floats = NDArray[np.float64]

LOW, HIGH = 0.1, 0.9
_ANY_DAY = date(2001, 1, 1)
_ROUNDING = 1e-12
LEAST_PRESENT = 0.2


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
class FullestWeek:
    """The most that any week can hold of one clutch, if it is laid, whenever the pair first met.

    ``in_box`` is the greatest chance that it is in the incubator at some time in a week, ``in_tub``
    the greatest share of its young in tubs.
    """

    in_box: float
    in_tub: float


def fullest_week(stages: StageDays) -> FullestWeek:
    """Return the greatest chances over every week of seven days, whatever day it starts on."""
    dates = clutch_dates(_ANY_DAY, stages)
    last = dates.leaving.first + timedelta(days=len(dates.leaving.chances))
    days = range((last - _ANY_DAY).days)
    weeks = [_ANY_DAY + timedelta(days=day) for day in days]
    return FullestWeek(
        in_box=max(_held(dates.laying, dates.hatching, week) for week in weeks),
        in_tub=max(_held(dates.hatching, dates.leaving, week) for week in weeks),
    )


@functools.lru_cache(maxsize=256)
def clutch_places(boxes: int, clutches: int, present: float, sure: float) -> int:
    """Return how many places, one a small and ``clutches`` a large clutch, so many boxes have.

    Each clutch is in the incubator with chance ``present``, independently of the others (a chance
    below one in five counts as that). Whatever the mix of small and large ones that fills the
    places, the boxes are enough with a chance of ``sure`` or more. Where all are present and it
    must be certain, that is ``clutches * boxes``.
    """
    if sure >= 1:
        return clutches * boxes
    room = _Room(boxes, clutches, max(present, LEAST_PRESENT), 1 - sure + _ROUNDING)
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
    present: float
    short: float

    def is_enough(self, small: int, large: int) -> bool:
        """Say whether the boxes are enough for so many small and large clutches."""
        few = _binomial(small, self.present)
        shared = np.minimum(-(-np.arange(small + 1) // self.clutches), self.boxes + 1)
        many = _binomial(large, self.present)
        # The chance that more than so many large clutches are inside, from none left over up.
        over = np.zeros(self.boxes + 2)
        over[: large + 1] = 1 - np.cumsum(many)[: self.boxes + 2]
        over = np.concatenate([[1.0], over[: self.boxes + 1]])
        return float(few @ over[self.boxes + 1 - shared]) <= self.short


def boxes_in_use(small: int, large: int, clutches: int, present: float, sure: float) -> int:
    """Return the least number of boxes that is enough with a chance of ``sure`` or more."""
    chances = box_counts(_binomial(small, present), _binomial(large, present), clutches)
    return int(np.flatnonzero(np.cumsum(chances) >= sure - _ROUNDING)[0])


def _binomial(count: int, chance: float) -> Floats:
    if chance <= 0 or chance >= 1:
        certain = np.zeros(count + 1)
        certain[count if chance >= 1 else 0] = 1.0
        return certain
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, count + 1)))])
    ways = logs[count] - logs - logs[::-1]
    k = np.arange(count + 1)
    found: Floats = np.exp(ways + k * np.log(chance) + (count - k) * np.log1p(-chance))
    return found


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
    first = min(each.dates.laying.first for each in expected)
    last = max(
        each.dates.leaving.first + timedelta(days=len(each.dates.leaving.chances) - 1)
        for each in expected
    )
    monday = first - timedelta(days=first.weekday())
    weeks = (last - monday).days // 7 + 1
    return tuple(_week(monday + timedelta(days=7 * at), expected, box) for at in range(weeks))


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
