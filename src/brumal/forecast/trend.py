"""The present gain: a robust line through the last weighings, and where it leads.

The trend is the Theil-Sen line (Theil 1950, Indagationes Mathematicae 12; Sen 1968, Journal of the
American Statistical Association 63:1379-1389; both from memory): the median of the slopes between
all pairs of weighings, so that one bad weighing in four does not bend it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import NormalDist, median

import numpy as np

RECENT_DAYS = 180
"""Weighings of this many days before the last one make the present gain."""
LEAST_WEIGHINGS = 3
LEAST_SPAN_DAYS = 14
SCATTER_SHARE = 0.025
"""Stated scatter of single weighings about their line: meals, droppings, sheds, the scales."""
SCATTER_WORTH = 4.0
MEDIAN_LINE_PRICE = 1.5
"""Variance of a Theil-Sen line over that of least squares on 4 to 8 weighings: 1.2 to 1.9 in
simulations with normal scatter."""
COVERAGE = 0.8
"""The share of true weights that the interval of a projection should hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """The present gain in grams a day, with its 80 % interval, and the level on the last day.

    ``scatter_g`` is how far single weighings lie from the line, as a standard deviation;
    ``days`` are the days of the weighings that made the line, counted from ``on`` (0 and below).
    """

    gain: float
    gain_low: float
    gain_high: float
    level_g: float
    on: date
    scatter_g: float
    days: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Projection:
    """A weight in grams on a coming day, with the interval that holds it in 80 % of cases.

    ``sd`` is the standard deviation of one more weighing about the line on that day, in grams.
    """

    on: date
    grams: float
    low: float
    high: float
    sd: float


def fit_trend(dated: Sequence[tuple[date, float]]) -> Trend | None:
    """Return the trend of the last 180 days of (day, grams) in order, or ``None`` if too few tell.

    At least three weighings over at least 14 days are asked for.
    """
    if not dated:
        return None
    last = dated[-1][0]
    recent = [(day, grams) for day, grams in dated if (last - day).days <= RECENT_DAYS]
    if len(recent) < LEAST_WEIGHINGS or (last - recent[0][0]).days < LEAST_SPAN_DAYS:
        return None
    days = [float((day - last).days) for day, _ in recent]
    grams = [weight for _, weight in recent]
    gain, level, low, high = theil_sen(days, grams)
    return Trend(
        gain=gain,
        gain_low=low,
        gain_high=high,
        level_g=level,
        on=last,
        scatter_g=_scatter(days, grams, gain, level),
        days=tuple(days),
    )


def _scatter(days: Sequence[float], grams: Sequence[float], gain: float, level: float) -> float:
    """Return the standard deviation of single weighings about the line, in grams.

    The median deviation (times 1.4826: a standard deviation under the normal law, two fitted
    parameters paid for), shrunk to the stated scatter, since few weighings tell little of it and
    three nothing: a median line meets two of them.
    """
    residuals = np.abs(np.asarray(grams) - (level + gain * np.asarray(days)))
    free = len(days) - LEAST_WEIGHINGS
    own = (1.4826 * median(residuals.tolist())) ** 2 * len(days) / (len(days) - 2)
    stated = (SCATTER_SHARE * level) ** 2
    return math.sqrt((SCATTER_WORTH * stated + free * own) / (SCATTER_WORTH + free))


def carry(trend: Trend, on: date) -> Projection:
    """Carry the present gain to the day ``on``, which is not before the last weighing.

    The interval is that of a straight line for one more weighing, z * scatter * sqrt(1 + p (1/n +
    (t - mean t)^2 / sum (t_i - mean t)^2)) either way: any regression text with p = 1; p and the
    scatter are larger since the line is a median one on few weighings.
    """
    ahead = (on - trend.on).days
    grams = trend.level_g + trend.gain * ahead
    days = np.asarray(trend.days)
    leverage = 1 / len(days) + (ahead - days.mean()) ** 2 / ((days - days.mean()) ** 2).sum()
    sd = trend.scatter_g * math.sqrt(1 + MEDIAN_LINE_PRICE * leverage)
    reach = NormalDist().inv_cdf((1 + COVERAGE) / 2) * sd
    return Projection(
        on=on, grams=max(grams, 0.0), low=max(grams - reach, 0.0), high=grams + reach, sd=sd
    )


def theil_sen(
    days: Sequence[float], grams: Sequence[float], coverage: float = COVERAGE
) -> tuple[float, float, float, float]:
    """Return slope, intercept and the two ends of the slope's interval.

    ``days`` and ``grams`` are of equal length, two or more, with two different days among them.
    The intercept is the median of ``grams - slope * days``; the interval is Sen's, by the normal
    approximation to Kendall's statistic with ties. Raises ValueError when all days are equal.
    """
    x, y = np.asarray(days, dtype=float), np.asarray(grams, dtype=float)
    first, second = np.triu_indices(len(x), k=1)
    run = x[second] - x[first]
    apart = run != 0
    if not apart.any():
        raise ValueError("a trend needs weighings of two different days")
    slopes = np.sort((y[second] - y[first])[apart] / run[apart])
    slope = median(slopes.tolist())
    intercept = median((y - slope * x).tolist())

    n = len(x)
    spread = max(n * (n - 1) * (2 * n + 5) - _tied(days) - _tied(grams), 0)
    reach = NormalDist().inv_cdf((1 + coverage) / 2) * math.sqrt(spread / 18)
    upper = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    lower = max(round((len(slopes) - reach) / 2) - 1, 0)
    return slope, intercept, float(slopes[lower]), float(slopes[upper])


def _tied(values: Sequence[float]) -> int:
    return sum(k * (k - 1) * (2 * k + 5) for k in Counter(values).values())
