"""Dates: exact sums of stages against enumeration and SciPy, windows, common practice."""

from __future__ import annotations

import itertools
from collections import Counter
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from brumal.forecast.dates import clutch_dates, window
from brumal.records.settings import StageDays

FIRST = date(2026, 12, 1)
SHORT = StageDays(to_ovulation=(3, 6), to_lay=(2, 4), incubation=(5, 6), raising=(1, 3))


def test_sums_of_stages_equal_counting_every_case() -> None:
    ways = Counter(
        sum(days) for days in itertools.product(range(3, 7), range(2, 5), range(5, 7), range(1, 4))
    )
    dates = clutch_dates(FIRST, SHORT)
    total = sum(ways.values())
    for offset in range(min(ways), max(ways) + 1):
        at = (FIRST + timedelta(days=offset) - dates.leaving.first).days
        assert dates.leaving.chances[at] == pytest.approx(ways[offset] / total)
    assert dates.leaving.chances.sum() == pytest.approx(1)


def test_one_stage_is_scipys_uniform() -> None:
    ovulation = clutch_dates(FIRST, StageDays()).ovulation
    law = stats.randint(30, 121)
    for offset in (0, 29, 30, 75, 120, 121):
        day = FIRST + timedelta(days=offset)
        assert ovulation.by(day) == pytest.approx(law.cdf(offset))


def test_window_holds_its_share_of_simulated_clutches() -> None:
    rng = np.random.default_rng(12)
    stages = StageDays()
    laid = window(clutch_dates(FIRST, stages).laying)
    offsets = rng.integers(30, 121, 20_000) + rng.integers(40, 56, 20_000)
    inside = ((laid.early - FIRST).days <= offsets) & (offsets <= (laid.late - FIRST).days)
    assert inside.mean() == pytest.approx(0.8, abs=0.02)
    assert (offsets <= (laid.middle - FIRST).days).mean() == pytest.approx(0.5, abs=0.02)


def test_incubation_is_55_to_60_days() -> None:
    """Common practice, no source."""
    dates = clutch_dates(FIRST, StageDays(to_ovulation=(40, 40), to_lay=(45, 45)))
    laid = window(dates.laying)
    assert laid.early == laid.middle == laid.late == FIRST + timedelta(days=85)
    assert dates.hatching.first == FIRST + timedelta(days=85 + 55)
    assert len(dates.hatching.chances) == 6
