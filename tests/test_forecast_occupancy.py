"""Boxes and tubs by week against simulated seasons and counting by hand."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from brumal.forecast.clutch import clutch_for, forecast_clutches
from brumal.forecast.dates import DayChances, clutch_dates
from brumal.forecast.occupancy import (
    ExpectedClutch,
    box_counts,
    clutch_places,
    enough_boxes,
    fullest_weeks,
    places_for,
    week_loads,
)
from brumal.records.settings import Box, StageDays
from records_by_hand import female, male, records

FIRST = date(2026, 12, 1)
SURE = StageDays(to_shed=(20, 20), shed_to_laying=(21, 21), incubation=(56, 56), raising=(42, 42))


def expected(
    *eggs: float, stages: StageDays, spread: int = 1, **assume: float
) -> list[ExpectedClutch]:
    """Clutches a week apart, each ovulating from day 40 on any of ``spread`` days alike."""
    dams = [female(f"F{at}", expected_eggs=count) for at, count in enumerate(eggs)]
    sire = male()
    forecasts = forecast_clutches(records([*dams, sire], sections={"assume": assume}))
    return [
        ExpectedClutch(
            clutch=clutch_for(forecasts, dam, sire),
            dates=clutch_dates(
                DayChances(FIRST + timedelta(days=40 + 7 * at), np.full(spread, 1 / spread)), stages
            ),
        )
        for at, dam in enumerate(dams)
    ]


def test_sure_clutches_hold_their_boxes_from_laying_to_hatching() -> None:
    certain = {"goes": 1.0, "fertile": 1.0, "hatched": 1.0}
    two = expected(5, 5, stages=SURE, **certain)
    weeks = {week.monday: week for week in week_loads(two, Box())}
    # Ovulation on 10 January, laid 41 days on (20 February 2027), hatched on 17 April.
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
    plan = expected(5, 8, 6, 5, stages=stages, spread=91, goes=0.75, fertile=0.8, hatched=0.9)
    runs = 20_000
    monday = date(2027, 4, 26)
    (week,) = [each for each in week_loads(plan, Box()) if each.monday == monday]
    small, large, young = np.zeros(runs), np.zeros(runs), np.zeros(runs)
    for at, eggs in enumerate((5, 8, 6, 5)):
        ovulated = 40 + 7 * at + rng.integers(0, 91, runs)
        laid = ovulated + rng.integers(18, 25, runs) + rng.integers(26, 34, runs)
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
        assert clutch_places(boxes, clutches, ((1.0,),), 1.0) == boxes * clutches


def lacks(
    boxes: int, clutches: int, covers: Sequence[Sequence[float]], small: int, large: int
) -> float:
    """Bound on the chance of too few boxes, from SciPy's binomial law."""
    few, many = np.arange(small + 1), np.arange(large + 1)
    need = -(-few[:, None] // clutches) + many[None, :]

    def inside(present: float) -> float:
        law = np.outer(binom.pmf(few, small, present), binom.pmf(many, large, present))
        return float(law[need > boxes].sum())

    return min(sum(inside(present) for present in cover) for cover in covers)


@given(
    boxes=st.integers(0, 6),
    clutches=st.integers(1, 3),
    present=st.lists(
        st.lists(st.floats(0.2, 1), min_size=1, max_size=3).map(tuple), min_size=1, max_size=2
    ).map(tuple),
    sure=st.floats(0.5, 0.99),
)
@settings(max_examples=25, deadline=None)
def test_places_are_as_many_as_every_mix_allows(
    boxes: int, clutches: int, present: tuple[tuple[float, ...], ...], sure: float
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
    assert clutch_places(boxes + 1, clutches, present, sure) >= places
    assert clutch_places(boxes, clutches, present, sure / 2) >= places


def drawn_lack(plan: Sequence[ExpectedClutch], boxes: int, runs: int, seed: int) -> float:
    """Share of drawn seasons in which some week lacks a box, day by day."""
    rng = np.random.default_rng(seed)
    over = 0
    for _ in range(runs):
        stays = []
        for each in plan:
            if rng.random() < each.clutch.goes:
                days = each.dates.laying
                laid = days.first + timedelta(int(rng.choice(len(days.chances), p=days.chances)))
                stays.append((laid, laid + timedelta(int(rng.integers(55, 61))), each))
        mondays = {laid - timedelta(laid.weekday()) for laid, _, _ in stays}
        # The number inside grows only in a week in which somebody lays.
        for monday in mondays:
            inside = [
                each
                for laid, hatched, each in stays
                if laid <= monday + timedelta(6) and hatched >= monday
            ]
            small = sum(each.clutch.eggs_p90 <= 6 for each in inside)
            if -(-small // 2) + len(inside) - small > boxes:
                over += 1
                break
    return over / runs


@given(
    females=st.lists(
        st.tuples(st.sampled_from([5.0, 8.0]), st.floats(0.05, 1)), min_size=1, max_size=11
    ),
    boxes=st.integers(1, 4),
    goes=st.floats(0.3, 1),
    spread=st.integers(1, 60),
)
@settings(max_examples=12, deadline=None)
def test_no_week_lacks_a_box_with_the_chance_it_was_planned_with(
    females: list[tuple[float, float]], boxes: int, goes: float, spread: int
) -> None:
    eggs, share = zip(*females, strict=True)
    every = [
        replace(each, clutch=replace(each.clutch, goes=goes * own))
        for each, own in zip(
            expected(*eggs, stages=StageDays(), spread=spread, goes=goes), share, strict=True
        )
    ]
    weeks = fullest_weeks([(each.clutch.goes, each.dates) for each in every])
    law = 2, weeks.in_box, 0.9
    room = places_for(boxes, *law)
    whole = np.array([1.0 if each.clutch.eggs_p90 <= 6 else 2.0 for each in every])
    sizes = room.taken(whole, np.array(weeks.shares))
    assert np.all(sizes <= whole + 1e-9)
    made: list[int] = []
    for at, size in enumerate(sizes.tolist()):
        if sizes[made].sum() + size <= room.there(boxes, *law) + 1e-9:
            made.append(at)
    plan = [every[at] for at in made]
    # What fits into the boxes fits into one more, counted as fits those.
    more = places_for(boxes + 1, *law)
    again = more.taken(whole, np.array(weeks.shares))[made].sum()
    assert again <= more.there(boxes + 1, *law) + 1e-9
    assert len(plan) >= min(boxes, len(females))
    told = enough_boxes(plan, Box(), boxes)
    assert told >= 0.9 - 1e-9
    runs = 400
    assert drawn_lack(plan, boxes, runs, seed=boxes) <= 1 - told + 4 * (0.1 * 0.9 / runs) ** 0.5
    loads = week_loads(plan, Box())
    most = weeks.in_tub * sum(each.clutch.expected_young for each in plan)
    assert max((load.tubs.mean for load in loads), default=0) <= most + 1e-9


def test_the_fullest_weeks_of_one_clutch() -> None:
    # Laid on one sure day and hatched on another: it is there for certain, as its young are.
    (sure,) = expected(8, stages=SURE, goes=1.0)
    weeks = fullest_weeks([(0.8, sure.dates)])
    assert max(weeks.in_box[0]) == pytest.approx(0.8)
    assert weeks.in_tub == 1.0
    # Laid on any of 92 days alike and hatched 56 later: the week and these are 63 of the 92.
    (long,) = expected(8, stages=SURE, spread=92, goes=1.0)
    assert max(fullest_weeks([(1.0, long.dates)]).in_box[0]) == pytest.approx(63 / 92, abs=0.02)
    # Over the whole season she is in at some time if she lays.
    assert fullest_weeks([(0.7, long.dates)]).in_box[-1] == pytest.approx((0.7,))
