"""When an animal reaches a weight by its own trend: the likeliest day, and with what chance."""

from __future__ import annotations

import math
from datetime import date, timedelta
from statistics import NormalDist

from brumal.forecast.weight import WeightSeries, project

WITHIN_DAYS = 730


def reaches(series: WeightSeries, grams: float) -> date | None:
    """Return the day the animal reaches ``grams`` at its present gain, or ``None``.

    It starts from the last weighing or from the line, whichever is lower. ``None`` stands for no
    trend, no gain, or a day further off than ``WITHIN_DAYS``.
    """
    trend = series.trend
    if trend is None or series.last is None:
        return None
    start = min(trend.level_g, series.last.grams)
    if start >= grams:
        return trend.on
    if trend.gain <= 0:
        return None
    ahead = math.ceil(round((grams - start) / trend.gain, 9))  # 228 g at 4.56 a day: 50 days
    return trend.on + timedelta(days=ahead) if ahead <= WITHIN_DAYS else None


def chance_of_grams(series: WeightSeries, grams: float, on: date) -> float:
    """Return the chance that the animal weighs ``grams`` or more on a day, by its own trend.

    One-sided, by the normal law of one more weighing about the line (see ``carry``); the line or
    the last weighing with the gain since then, whichever is lower, is taken for the mean. Zero
    without a trend or for a day gone by.
    """
    coming = project(series, on)
    if coming is None or series.last is None or series.trend is None:
        return 0.0
    mean = min(coming.grams, series.last.grams + series.trend.gain * (on - series.trend.on).days)
    return NormalDist().cdf((mean - grams) / coming.sd)


def surely_reaches(
    series: WeightSeries, grams: float, chance: float, first: date, last: date
) -> date | None:
    """Return the first day of ``first`` to ``last`` with that chance of ``grams`` or more.

    ``chance`` is a half or more, so no day will do before the one on which they are likely.
    """
    likely = reaches(series, grams)
    if likely is None:
        return None
    begin = max(first, likely)
    found = (begin + timedelta(days=ahead) for ahead in range((last - begin).days + 1))
    return next((day for day in found if chance_of_grams(series, grams, day) >= chance), None)
