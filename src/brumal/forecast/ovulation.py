"""When each female should ovulate this season, given that she goes.

The day of a female's ovulation in a season is modelled, in days from the middle that is usual, as
    (the collection's own lag) + (hers) + (chance of the season),
all normal. What is usual is common practice without a source (``dates.ovulation``). It is pulled by
the collection's recorded layings and by her own, less the days from ovulation to laying: empirical
Bayes for the two spreads, linear Bayes for the rest (:mod:`brumal.forecast.shrinkage`), as for
eggs.
"""

from __future__ import annotations

import calendar
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.dates import WINDOW_SHARE, DayChances, Floats
from brumal.forecast.shrinkage import Posterior, grouped_evidence, linear_bayes
from brumal.forecast.weight import layings
from brumal.records.animals import Animal, Clutch, Sex
from brumal.records.folder import SeasonRecords
from brumal.records.settings import SeasonDates, StageDays

NORTH, SOUTH = ("02-10", "04-07"), ("08-10", "10-07")
"""Between which days of the year eight in ten females ovulate (common practice, no source)."""
COLLECTION, BETWEEN, WITHIN = 0.3, 0.2, 0.5
"""Shares of the usual variance: of collections, of females in one, of a female's seasons."""
SCALES = tuple(math.exp(step / 4) for step in range(-4, 5))
SCALE_SD = 0.5
"""Prior spread of the log of the two standard deviations, as for eggs."""
TAILS = 4.0
"""Days further off than so many standard deviations count as impossible."""
YEAR = 365.25
_FROM_APRIL = range(4, 9)
"""Months in which a pairing window begins in the south."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ovulation:
    """The chances of each day of one female's ovulation this season, and what they stand on.

    ``collection`` is the middle of the collection after its ``layings`` on record, ``own`` are hers
    among them.
    """

    days: DayChances
    collection: date
    layings: int
    own: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class OvulationModel:
    """What the collection's layings say; effects in days from ``middle``, hers by ``place``."""

    middle: date
    effects: Posterior
    place: Mapping[str, int]
    own: Mapping[str, int]
    between: float
    within: float

    def of(self, dam: str) -> Ovulation:
        """Return the forecast for a female, on record or not."""
        loads = np.zeros(len(self.effects.mean))
        loads[0] = 1.0
        own, at = self.own.get(dam, 0), self.place.get(dam)
        variance = self.within
        if at is None:
            variance += self.between
        else:
            loads[at] = 1.0
        mean = float(loads @ self.effects.mean)
        variance += float(loads @ self.effects.covariance @ loads)
        return Ovulation(
            days=normal_days(self.middle, mean, math.sqrt(variance)),
            collection=self.middle + timedelta(days=round(float(self.effects.mean[0]))),
            layings=sum(self.own.values()),
            own=own,
        )


def forecast_ovulation(records: SeasonRecords) -> OvulationModel:
    """Fit the model to the layings on record from before the season."""
    settings = records.settings
    by_dam: dict[str, list[Clutch]] = {}
    for clutch in records.clutches:
        by_dam.setdefault(clutch.dam, []).append(clutch)
    females = [animal for animal in records.animals if animal.sex is not Sex.MALE]
    known = {
        animal.id: _laid(animal, by_dam.get(animal.id, ()), settings.season) for animal in females
    }
    return fit_ovulation(known, settings.season, settings.dates)


def _laid(animal: Animal, clutches: Sequence[Clutch], season: SeasonDates) -> tuple[date, ...]:
    told = [clutch for clutch in clutches if _within_a_month(clutch.laid, clutch.laid_from)]
    if not _within_a_month(animal.last_laid, animal.last_laid_from):
        animal = replace(animal, last_laid=None)
    return tuple(day for day in layings(animal, told) if day < season.pair_from)


def _within_a_month(laid: date | None, first: date | None) -> bool:
    """Say whether a laying is known to the month at least: a year tells nothing of her season."""
    return laid is None or first is None or (laid - first).days <= 31


def fit_ovulation(
    laid: Mapping[str, Sequence[date]], season: SeasonDates, stages: StageDays
) -> OvulationModel:
    """Fit the model to days of laying, by dam."""
    middle, spread = usual_middle(season, stages)
    gap, gap_variance = _to_laying(stages)
    rows = [(dam, day) for dam, days in sorted(laid.items()) for day in days]
    dams = sorted({dam for dam, _ in rows})
    number = {dam: at for at, dam in enumerate(dams)}
    group = np.array([number[dam] for dam, _ in rows], dtype=np.intp)
    seen = np.array([_offset(day, middle) - gap for _, day in rows], dtype=float)
    between, within = _spreads(seen, group, spread**2, gap_variance)
    loadings = np.hstack(
        [np.ones((len(rows), 1)), np.eye(len(dams))[group].reshape(len(rows), len(dams))]
    )
    effects = linear_bayes(
        seen,
        np.full(len(rows), within + gap_variance),
        loadings,
        np.zeros(1 + len(dams)),
        np.array([COLLECTION * spread**2, *np.full(len(dams), between)]),
    )
    return OvulationModel(
        middle=middle,
        effects=effects,
        place={dam: at + 1 for dam, at in number.items()},
        own={dam: int((group == at).sum()) for dam, at in number.items()},
        between=between,
        within=within,
    )


def usual_middle(season: SeasonDates, stages: StageDays) -> tuple[date, float]:
    """Return the usual middle of ovulation this season and its standard deviation in days.

    Where ``dates.ovulation`` is not stated, it goes by the month in which pairing begins: April to
    August is winter in the south. Of the middles of all years it is the one nearest to the middle
    of the pairing window.
    """
    south = season.pair_from.month in _FROM_APRIL
    first, last = stages.ovulation or (SOUTH if south else NORTH)
    length = (_in_year(last, 2001) - _in_year(first, 2001)).days % 365
    meeting = season.pair_from + (season.pair_to - season.pair_from) / 2
    middles = [
        _in_year(first, meeting.year + step) + timedelta(days=length // 2) for step in (-1, 0, 1)
    ]
    middle = min(middles, key=lambda day: abs((day - meeting).days))
    return middle, max(length / 2, 1) / NormalDist().inv_cdf(0.5 + WINDOW_SHARE / 2)


def _in_year(day: str, year: int) -> date:
    month, number = (int(part) for part in day.split("-"))
    return date(year, month, min(number, calendar.monthrange(year, month)[1]))


def _to_laying(stages: StageDays) -> tuple[float, float]:
    """Return mean and variance of the days from ovulation to laying."""
    both = (stages.to_shed, stages.shed_to_laying)
    mean = sum((least + most) / 2 for least, most in both)
    return mean, sum(((most - least + 1) ** 2 - 1) / 12 for least, most in both)


def _offset(day: date, middle: date) -> float:
    """Return how many days after the middle of its own year's season a day lies.

    A laying belongs to the season whose middle is at most half a year off.
    """
    apart = (day - middle).days
    return apart - YEAR * round((apart - YEAR / 8) / YEAR)


def _spreads(
    seen: Floats, group: NDArray[np.intp], usual: float, more: float
) -> tuple[float, float]:
    """Return the likeliest (between, within) variance on a grid, given the records and prior."""
    between, within = BETWEEN * usual, WITHIN * usual
    if not len(seen):
        return between, within
    ones, variance = np.ones((len(seen), 1)), np.array([COLLECTION * usual])

    def log_posterior(scales: tuple[float, float]) -> float:
        evidence = grouped_evidence(
            seen, ones, variance, group, between * scales[0] ** 2, within * scales[1] ** 2 + more
        )
        return evidence - sum((math.log(scale) / SCALE_SD) ** 2 for scale in scales) / 2

    best = max(itertools.product(SCALES, SCALES), key=log_posterior)
    return between * best[0] ** 2, within * best[1] ** 2


def normal_days(middle: date, mean: float, deviation: float) -> DayChances:
    """Return whole days of a normal law around ``middle`` plus ``mean`` days, cut at its tails."""
    reach = TAILS * deviation
    first, last = math.floor(mean - reach), math.ceil(mean + reach)
    edges = (np.arange(first, last + 2) - 0.5 - mean) / (deviation * math.sqrt(2))
    below = np.array([math.erf(edge) for edge in edges.tolist()])
    chances = np.diff(below)
    return DayChances(middle + timedelta(days=first), chances / chances.sum())
