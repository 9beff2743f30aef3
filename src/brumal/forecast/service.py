"""Whether visits serve an ovulation: what a late start or few visits cost.

Common practice, no source (storage of sperm in this species is not measured): each visit from
``visits.serve_days`` before ovulation up to it serves it with the chance ``visits.serve_chance``,
independently of the others, so that more visits serve more. How often females go is known of
females with an ordinary schedule, ``visits.ordinary`` visits in those days: the chance that she
cycles at all follows from it, and a schedule counts by what it serves.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np

from brumal.forecast.dates import DayChances, Floats
from brumal.forecast.goes import Goes
from brumal.records.settings import Visits

Stay = tuple[date, date]
"""First and last day of a visit."""


@dataclass(frozen=True, slots=True, eq=False)
class Served:
    """The share of a female's ovulations that visits serve, and the days of those served."""

    share: float
    ovulation: DayChances


def ordinary_share(visits: Visits) -> float:
    """Return the share of ovulations that an ordinary schedule serves."""
    return 1 - (1 - visits.serve_chance) ** visits.ordinary


def cycles(goes: Goes, visits: Visits) -> float:
    """Return the chance that she cycles; a stated chance that she goes stands as it is."""
    return goes.chance if goes.stated else min(goes.chance / ordinary_share(visits), 1.0)


def ordinary_visits(
    days: DayChances, first: date, last: date, visits: Visits, made: Iterable[Stay] = ()
) -> Served:
    """Return what an ordinary schedule from ``first`` to ``last`` serves, beside visits ``made``.

    Its visits are spread evenly, so that their number before an ovulation need not be whole. The
    share never rises as ``first`` moves later.
    """
    apart = max(visits.serve_days / visits.ordinary, visits.days + visits.female_rest_days)
    day = np.arange(len(days.chances))
    start, end = (first - days.first).days, (last - days.first).days
    inside = np.minimum(day, end) + 1 - np.maximum(day - visits.serve_days + 1, start)
    count = np.maximum(inside, 0) / apart + _before_ovulation(days, made, visits)
    return _served(days, count, visits)


def these_visits(days: DayChances, stays: Iterable[Stay], visits: Visits) -> Served:
    """Return what these visits serve."""
    return _served(days, _before_ovulation(days, stays, visits), visits)


def _before_ovulation(days: DayChances, stays: Iterable[Stay], visits: Visits) -> Floats:
    """Return how many visits serve an ovulation on each day."""
    day = np.arange(len(days.chances))
    count = np.zeros(len(day))
    for first, last in stays:
        start, end = (first - days.first).days, (last - days.first).days
        count += (start <= day) & (day < end + visits.serve_days)
    return count


def _served(days: DayChances, count: Floats, visits: Visits) -> Served:
    """Return what is served where so many visits come before an ovulation on each day."""
    chances = days.chances * (1 - (1 - visits.serve_chance) ** count)
    share = float(chances.sum())
    return Served(share, DayChances(days.first, chances / share) if share > 0 else days)
