"""Dates: exact sums of stages against enumeration and SciPy, windows, common practice."""

from __future__ import annotations

import itertools
from collections import Counter
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from brumal.forecast.dates import DayChances, clutch_dates, window
from brumal.records.settings import StageDays

FIRST = date(2026, 12, 1)
SHORT = StageDays(to_shed=(3, 6), shed_to_laying=(2, 4), incubation=(5, 6), raising=(1, 3))


def test_sums_of_stages_equal_counting_every_case() -> None:
    ways = Counter(
        sum(days) for days in itertools.product(range(3, 7), range(2, 5), range(5, 7), range(1, 4))
    )
    dates = clutch_dates(DayChances.sure(FIRST), SHORT)
    total = sum(ways.values())
    for offset in range(min(ways), max(ways) + 1):
        at = (FIRST + timedelta(days=offset) - dates.leaving.first).days
        assert dates.leaving.chances[at] == pytest.approx(ways[offset] / total)
    assert dates.leaving.chances.sum() == pytest.approx(1)


def test_one_stage_is_scipys_uniform() -> None:
    shed = clutch_dates(DayChances.sure(FIRST), StageDays()).shed
    law = stats.randint(18, 25)
    for offset in (0, 17, 18, 21, 24, 25):
        day = FIRST + timedelta(days=offset)
        assert shed.by(day) == pytest.approx(law.cdf(offset))


def test_window_holds_its_share_of_simulated_clutches() -> None:
    rng = np.random.default_rng(12)
    ovulation = DayChances(FIRST, np.full(61, 1 / 61))
    laid = window(clutch_dates(ovulation, StageDays()).laying)
    offsets = rng.integers(0, 61, 20_000) + rng.integers(18, 25, 20_000)
    offsets = offsets + rng.integers(26, 34, 20_000)
    inside = ((laid.early - FIRST).days <= offsets) & (offsets <= (laid.late - FIRST).days)
    assert inside.mean() == pytest.approx(0.8, abs=0.03)
    assert (offsets <= (laid.middle - FIRST).days).mean() == pytest.approx(0.5, abs=0.02)


def test_from_ovulation_to_laying_about_seven_weeks() -> None:
    """49 to 54 days (keepers' pages: common practice, no source)."""
    laid = window(clutch_dates(DayChances.sure(FIRST), StageDays()).laying)
    assert 46 <= (laid.early - FIRST).days <= 49
    assert 53 <= (laid.late - FIRST).days <= 55


def test_what_was_seen_stands_as_the_day_it_was() -> None:
    ovulation = DayChances(FIRST, np.full(30, 1 / 30))
    seen = clutch_dates(ovulation, SHORT, shed=date(2027, 1, 10))
    assert (seen.laying.first, seen.laying.last) == (date(2027, 1, 12), date(2027, 1, 14))
    laid = clutch_dates(ovulation, SHORT, laid=date(2027, 1, 13))
    assert (laid.hatching.first, laid.hatching.last) == (date(2027, 1, 18), date(2027, 1, 19))


def test_incubation_is_55_to_60_days() -> None:
    """Common practice, no source."""
    dates = clutch_dates(
        DayChances.sure(FIRST), StageDays(to_shed=(40, 40), shed_to_laying=(45, 45))
    )
    laid = window(dates.laying)
    assert laid.early == laid.middle == laid.late == FIRST + timedelta(days=85)
    assert dates.hatching.first == FIRST + timedelta(days=85 + 55)
    assert len(dates.hatching.chances) == 6
