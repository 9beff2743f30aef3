"""Boxes and tubs in use, week by week, with how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.dates import ClutchDates
from brumal.forecast.distributions import mean_count, percentile
from brumal.records.settings import Box

Floats = NDArray[np.float64]

LOW, HIGH = 0.1, 0.9


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
    before, sunday = monday - timedelta(days=1), monday + timedelta(days=6)
    small, large, young, eggs = np.ones(1), np.ones(1), np.ones(1), np.ones(1)
    for each in expected:
        clutch, dates = each.clutch, each.dates
        # In use in the week: laid by its end, and not hatched (not left) before its first day.
        eggs_in = clutch.goes * (dates.laying.by(sunday) - dates.hatching.by(before))
        young_in = dates.hatching.by(sunday) - dates.leaving.by(before)
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
