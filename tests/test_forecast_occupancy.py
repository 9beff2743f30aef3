"""Boxes and tubs by week against simulated seasons and counting by hand."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from brumal.forecast.clutch import clutch_for, forecast_clutches
from brumal.forecast.dates import clutch_dates
from brumal.forecast.occupancy import (
    ExpectedClutch,
    box_counts,
    boxes_in_use,
    clutch_places,
    fullest_week,
    week_loads,
)
from brumal.records.settings import Box, StageDays
from records_by_hand import female, male, records

FIRST = date(2026, 12, 1)
SURE = StageDays(to_ovulation=(40, 40), to_lay=(41, 41), incubation=(56, 56), raising=(42, 42))


def expected(
    *eggs: float, stages: StageDays, first: date = FIRST, **assume: float
) -> list[ExpectedClutch]:
    dams = [female(f"F{at}", expected_eggs=count) for at, count in enumerate(eggs)]
    sire = male()
    forecasts = forecast_clutches(records([*dams, sire], sections={"assume": assume}))
    return [
        ExpectedClutch(
            clutch=clutch_for(forecasts, dam, sire),
            dates=clutch_dates(first + timedelta(days=7 * at), stages),
        )
        for at, dam in enumerate(dams)
    ]


def test_sure_clutches_hold_their_boxes_from_laying_to_hatching() -> None:
    certain = {"goes": 1.0, "fertile": 1.0, "hatched": 1.0}
    two = expected(5, 5, stages=SURE, **certain)
    weeks = {week.monday: week for week in week_loads(two, Box())}
    # First visit 1 December, laid 81 days on (20 February 2027), hatched on 17 April.
    assert min(weeks) == date(2027, 2, 15)
    assert weeks[date(2027, 2, 15)].boxes.mean == 1
    # The second clutch, a week later, shares the box: two of up to six eggs do.
    assert weeks[date(2027, 3, 1)].boxes.mean == 1
    assert weeks[date(2027, 3, 1)].tubs.mean == 0
    assert weeks[date(2027, 4, 12)].tubs.mean == 5
    assert weeks[date(2027, 5, 3)].boxes.mean == 0
    assert weeks[date(2027, 5, 3)].tubs.mean == weeks[date(2027, 5, 3)].tubs.high == 10
    assert max(weeks) == date(2027, 5, 31)


def test_large_clutches_have_a_box_alone() -> None:
    certain = {"goes": 1.0}
    weeks = week_loads(expected(9, 9, 5, 5, 5, stages=SURE, **certain), Box())
    assert max(week.boxes.mean for week in weeks) == 4


def test_no_pairs_no_weeks() -> None:
    assert week_loads([], Box()) == ()


@pytest.mark.parametrize("clutches", [1, 2, 3])
def test_box_counts_by_adding_up_every_case(clutches: int) -> None:
    small, large = np.array([0.1, 0.2, 0.3, 0.4]), np.array([0.6, 0.4])
    found = box_counts(small, large, clutches)
    wanted = np.zeros(6)
    for few, chance in enumerate(small):
        for many, other in enumerate(large):
            wanted[-(-few // clutches) + many] += chance * other
    assert found == pytest.approx(wanted[: len(found)])
    assert wanted[len(found) :].sum() == 0


def test_loads_equal_simulated_seasons() -> None:
    rng = np.random.default_rng(8)
    stages = StageDays()
    plan = expected(5, 8, 6, 5, stages=stages, goes=0.75, fertile=0.8, hatched=0.9)
    runs = 20_000
    monday = date(2027, 5, 3)
    (week,) = [each for each in week_loads(plan, Box()) if each.monday == monday]
    small, large, young = np.zeros(runs), np.zeros(runs), np.zeros(runs)
    for at, eggs in enumerate((5, 8, 6, 5)):
        visit = 7 * at
        laid = visit + rng.integers(30, 121, runs) + rng.integers(40, 56, runs)
        hatched = laid + rng.integers(55, 61, runs)
        left = hatched + rng.integers(42, 85, runs)
        goes = rng.random(runs) < 0.75
        begin, end = (monday - FIRST).days, (monday - FIRST).days + 6
        held = goes & (laid <= end) & (hatched >= begin)
        (large if eggs > 6 else small)[:] += held
        out = rng.binomial(rng.binomial(eggs, 0.8, runs), 0.9)
        young += np.where(goes & (hatched <= end) & (left >= begin), out, 0)
    boxes = np.ceil(small / 2) + large
    assert week.boxes.mean == pytest.approx(boxes.mean(), abs=0.03)
    assert week.tubs.mean == pytest.approx(young.mean(), abs=0.15)
    assert week.boxes.high == np.percentile(boxes, 90, method="inverted_cdf")
    assert week.tubs.high == pytest.approx(np.percentile(young, 90, method="inverted_cdf"), abs=1)


def test_where_all_must_be_certain_each_box_has_its_places() -> None:
    for boxes, clutches in itertools.product(range(6), (1, 2, 3)):
        assert clutch_places(boxes, clutches, 1.0, 1.0) == boxes * clutches


def lacks(boxes: int, clutches: int, present: float, small: int, large: int) -> float:
    """Chance of too few boxes, from SciPy's binomial law."""
    few, many = np.arange(small + 1), np.arange(large + 1)
    need = -(-few[:, None] // clutches) + many[None, :]
    law = np.outer(binom.pmf(few, small, present), binom.pmf(many, large, present))
    return float(law[need > boxes].sum())


@given(
    boxes=st.integers(0, 6),
    clutches=st.integers(1, 3),
    present=st.floats(0.2, 1),
    sure=st.floats(0.5, 0.99),
)
def test_places_are_as_many_as_every_mix_allows(
    boxes: int, clutches: int, present: float, sure: float
) -> None:
    places = clutch_places(boxes, clutches, present, sure)
    most = places + 1
    mixes = [
        (small, large)
        for small, large in itertools.product(range(most + 1), repeat=2)
        if small + clutches * large <= most
    ]
    lack = {mix: lacks(boxes, clutches, present, *mix) for mix in mixes}
    within = [mix for mix in mixes if mix[0] + clutches * mix[1] <= places]
    assert all(lack[mix] <= 1 - sure + 1e-9 for mix in within)
    beyond = [mix for mix in mixes if mix[0] + clutches * mix[1] == places + 1]
    # One place more and some mix would be too much.
    assert any(lack[mix] > 1 - sure - 1e-9 for mix in beyond)
    used = boxes_in_use(*within[-1], clutches, present, sure)
    assert used <= boxes
    assert clutch_places(boxes + 1, clutches, present, sure) >= places
    assert clutch_places(boxes, clutches, present, sure / 2) >= places


@given(
    eggs=st.lists(st.sampled_from([5.0, 8.0]), min_size=1, max_size=9),
    boxes=st.integers(1, 4),
    goes=st.floats(0.3, 1),
    length=st.integers(0, 60),
)
@settings(max_examples=30)
def test_no_week_needs_more_boxes_than_it_was_planned_with(
    eggs: list[float], boxes: int, goes: float, length: int
) -> None:
    # Whatever the calendar: here each female meets her male a week after the one before.
    stages = StageDays(to_ovulation=(40, 40 + length))
    week = fullest_week(stages)
    places = clutch_places(boxes, 2, goes * week.in_box, 0.9)
    plan, taken = [], 0
    for each in expected(*eggs, stages=stages, goes=goes):
        size = 1 if each.clutch.eggs_p90 <= 6 else 2
        if taken + size <= places:
            plan, taken = [*plan, each], taken + size
    loads = week_loads(plan, Box())
    assert max((load.boxes.high for load in loads), default=0) <= boxes
    most = week.in_tub * sum(each.clutch.expected_young for each in plan)
    assert max((load.tubs.mean for load in loads), default=0) <= most + 1e-9


def test_the_fullest_week_of_one_clutch() -> None:
    # Laid on one sure day and hatched on another: it is there for certain, as its young are.
    week = fullest_week(SURE)
    assert (week.in_box, week.in_tub) == (1.0, 1.0)
    # Laid on any of 92 days alike and hatched 56 later: the week and these are 63 of the 92.
    long = replace(SURE, to_ovulation=(30, 121))
    assert fullest_week(long).in_box == pytest.approx(63 / 92)
