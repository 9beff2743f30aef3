"""Ages in calendar months."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.records.ages import day_of_age, months_old

DAYS = st.dates(date(2005, 1, 1), date(2035, 1, 1))


@pytest.mark.parametrize(
    ("hatched", "months", "day"),
    [
        (date(2024, 6, 1), 30, date(2026, 12, 1)),
        (date(2024, 8, 31), 18, date(2026, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 6, 1), 0.5, date(2024, 6, 16)),
    ],
)
def test_day_of_age_by_the_calendar(hatched: date, months: float, day: date) -> None:
    assert day_of_age(hatched, months) == day


@given(DAYS, DAYS)
def test_full_months_are_those_reached(hatched: date, on: date) -> None:
    hatched, on = sorted((hatched, on))
    months = months_old(hatched, on)
    assert day_of_age(hatched, months) <= on < day_of_age(hatched, months + 1)
