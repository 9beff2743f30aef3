"""What visits serve, against counting them day by day; a late start never gains."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.forecast.goes import Goes
from brumal.forecast.ovulation import normal_days
from brumal.forecast.service import cycles, ordinary_share, ordinary_visits, these_visits
from brumal.records.settings import Visits

FIRST, LAST = date(2026, 12, 1), date(2027, 3, 31)
DAYS = normal_days(date(2027, 3, 10), 0.0, 22.0)


def test_an_ordinary_full_schedule_keeps_the_chance_that_she_goes() -> None:
    visits = Visits()
    served = ordinary_visits(DAYS, FIRST, LAST, visits)
    assert ordinary_share(visits) == pytest.approx(1 - 0.4**3)
    assert served.share / ordinary_share(visits) == pytest.approx(1, abs=0.03)
    assert cycles(Goes(chance=0.8), visits) == pytest.approx(0.8 / 0.936)
    assert cycles(Goes(chance=0.97), visits) == 1.0
    assert cycles(Goes(chance=0.8, stated=True), visits) == 0.8


@given(
    first=st.integers(0, 150),
    later=st.integers(0, 60),
    last=st.integers(0, 170),
    days=st.integers(1, 90),
    ordinary=st.integers(1, 6),
    chance=st.floats(0.05, 0.95),
)
def test_a_later_start_never_serves_more_nor_an_earlier_end(
    first: int, later: int, last: int, days: int, ordinary: int, chance: float
) -> None:
    visits = Visits(serve_days=days, ordinary=ordinary, serve_chance=chance)

    def share(start: int, end: int) -> float:
        served = ordinary_visits(
            DAYS, FIRST + timedelta(days=start), FIRST + timedelta(days=end), visits
        )
        return served.share

    assert share(first + later, last) <= share(first, last) + 1e-12
    assert share(first, last) <= share(first, last + later) + 1e-12


def test_these_visits_by_counting() -> None:
    rng = np.random.default_rng(5)
    visits = Visits()
    for _ in range(20):
        starts = sorted(rng.choice(120, int(rng.integers(0, 6)), replace=False).tolist())
        stays = [(FIRST + timedelta(s), FIRST + timedelta(s + 2)) for s in starts]
        found = these_visits(DAYS, stays, visits)
        weights = []
        for at, chance in enumerate(DAYS.chances.tolist()):
            day = DAYS.first + timedelta(at)
            serving = [s for s, e in stays if s <= day and (day - e).days < 60]
            weights.append(chance * (1 - 0.4 ** len(serving)))
        assert found.share == pytest.approx(sum(weights))
        if found.share > 0:
            assert found.ovulation.chances == pytest.approx(np.array(weights) / sum(weights))


def test_more_visits_serve_more_than_one() -> None:
    visits = Visits()
    one = [(date(2027, 2, 20), date(2027, 2, 22))]
    two = [*one, (date(2027, 3, 5), date(2027, 3, 7))]
    assert these_visits(DAYS, one, visits).share < these_visits(DAYS, two, visits).share
    assert these_visits(DAYS, [], visits).share == 0
