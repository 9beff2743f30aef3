"""The present gain against SciPy, and how often a projection's interval holds."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from brumal.forecast.trend import carry, fit_trend, theil_sen

LAST = date(2026, 11, 14)


@given(
    # One weighing a day, as in a series; SciPy's own variance turns negative on doubled days with
    # equal weights.
    st.lists(
        st.tuples(st.integers(-200, 0), st.integers(50, 3000)),
        min_size=3,
        max_size=25,
        unique_by=lambda point: point[0],
    ),
    st.sampled_from([0.8, 0.9, 0.95]),
)
def test_trend_equals_scipy(points: list[tuple[int, int]], coverage: float) -> None:
    days, grams = zip(*points, strict=True)
    expected = stats.theilslopes(grams, days, alpha=coverage, method="joint")
    slope, intercept, low, high = theil_sen(days, grams, coverage)
    assert (slope, low, high) == pytest.approx(
        (expected.slope, expected.low_slope, expected.high_slope)
    )
    assert intercept == pytest.approx(expected.intercept)


def test_trend_needs_two_days() -> None:
    with pytest.raises(ValueError, match="two different days"):
        theil_sen([3.0, 3.0], [100.0, 120.0])


@pytest.mark.parametrize(
    ("scatter", "least", "most"), [(0.01, 0.9, 1.0), (0.02, 0.78, 0.92), (0.03, 0.63, 0.8)]
)
def test_projection_interval_holds_its_share(scatter: float, least: float, most: float) -> None:
    """Simulated growers, weighings scattered about their line: 80 % intervals 60 days ahead.

    The stated scatter is 2.5 %; wider or narrower scales are learnt only in part from few
    weighings.
    """
    rng = np.random.default_rng(20261201)
    inside = []
    for _ in range(500):
        count, gain = int(rng.integers(4, 10)), rng.uniform(-1, 4)
        days = np.sort(rng.choice(170, size=count, replace=False))
        points = [
            (
                LAST - timedelta(days=int(170 - day)),
                float((1200 + gain * day) * rng.normal(1, scatter)),
            )
            for day in days
        ]
        trend = fit_trend(points)
        if trend is None:
            continue
        ahead = carry(trend, trend.on + timedelta(days=60))
        weight = (1200 + gain * (days[-1] + 60)) * rng.normal(1, scatter)
        inside.append(ahead.low <= weight <= ahead.high)
    share = float(np.mean(inside))
    print(f"scatter {scatter:.0%}: {share:.1%} of {len(inside)} weighings inside (80 % asked)")
    assert least <= share <= most
