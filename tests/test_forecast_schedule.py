"""The season of a set of pairs in days."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from brumal.forecast.clutch import ClutchForecast, clutch_for, forecast_clutches
from brumal.forecast.schedule import schedule
from brumal.records.folder import SeasonRecords
from records_by_hand import PAIR_FROM, female, male, records

SURE = {
    "dates": {
        "to_ovulation": [40, 40],
        "to_lay": [45, 45],
        "incubation": [57, 57],
        "raising": [50, 50],
    },
    "assume": {"goes": 1, "fertile": 1, "hatched": 1, "eggs": 6},
}


def plan(count: int, sections: dict[str, object]) -> tuple[SeasonRecords, list[ClutchForecast]]:
    dams = [female(f"F{at}") for at in range(count)]
    sire = male()
    season = records([*dams, sire], sections=sections)
    forecasts = forecast_clutches(season)
    return season, [clutch_for(forecasts, dam, sire) for dam in dams]


def test_dates_follow_from_each_pairs_first_visit() -> None:
    season, clutches = plan(2, SURE)
    found = schedule(clutches, season.settings, {("F1", "M1"): 5.0})
    first = {pair.dam: pair.dates.first_visit for pair in found.pairs}
    assert first == {"F1": PAIR_FROM, "F0": PAIR_FROM + timedelta(days=7)}
    laying = {pair.dam: pair.laying.middle for pair in found.pairs}
    assert laying["F1"] == PAIR_FROM + timedelta(days=85)
    hatching = {pair.dam: pair.hatching.middle for pair in found.pairs}
    assert hatching["F0"] == PAIR_FROM + timedelta(days=7 + 85 + 57)
    assert max(week.tubs.high for week in found.weeks) == 12
    assert max(week.boxes.high for week in found.weeks) == 1


def test_windows_come_in_order_and_weeks_cover_them() -> None:
    season, clutches = plan(4, {})
    found = schedule(clutches, season.settings)
    for pair in found.pairs:
        days = [
            pair.dates.first_visit,
            pair.ovulation.early,
            pair.laying.early,
            pair.hatching.early,
        ]
        assert days == sorted(days)
        assert found.weeks[0].monday <= pair.laying.early
    gaps = np.diff([week.monday.toordinal() for week in found.weeks])
    assert set(gaps) == {7}
    assert all(week.boxes.low <= week.boxes.mean <= week.boxes.high + 1 for week in found.weeks)


def test_a_pair_without_a_visit_is_told_and_dated_from_the_first_day() -> None:
    tight = {"season": {"name": "Test", "pair_from": "2026-12-01", "pair_to": "2026-12-04"}}
    season, clutches = plan(2, SURE | tight)
    found = schedule(clutches, season.settings)
    assert [each.dam for each in found.calendar.short] == ["F1"]
    assert [pair.dates.first_visit for pair in found.pairs] == [date(2026, 12, 1)] * 2


@pytest.mark.parametrize("count", [0, 3])
def test_order_of_pairs_changes_nothing(count: int) -> None:
    season, clutches = plan(count, {})
    one, other = schedule(clutches, season.settings), schedule(clutches[::-1], season.settings)
    assert one.calendar == other.calendar
    assert one.weeks == other.weeks
