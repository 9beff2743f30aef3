"""Weight series: how weighings are read, what is left out, the present gain and its date."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from brumal.forecast.reach import reaches
from brumal.forecast.weight import (
    WeighingKind,
    all_series,
    layings,
    mass_for_clutch,
    project,
    weight_series,
)
from brumal.records.animals import Clutch, Weighing
from records_by_hand import PAIR_FROM, female, male, records, weighed

LAST = date(2026, 11, 14)


def test_steady_gain_is_found_and_the_limit_dated() -> None:
    series = weight_series(female(), weighed("F1", 1200, 1260, 1320, 1380, last=LAST))
    assert series.trend is not None
    assert series.trend.gain == pytest.approx(2.0)
    assert series.last is not None
    assert series.last.grams == 1380
    # 120 g at 2 g a day: 60 days after 14 November.
    assert reaches(series, 1500) == date(2027, 1, 13)
    assert reaches(series, 1380) == LAST
    assert reaches(series, 9000) is None


def test_one_bad_weighing_in_eight_does_not_bend_the_trend() -> None:
    grams = [1200, 1220, 1240, 1500, 1280, 1300, 1320, 1340]
    series = weight_series(female(), weighed("F1", *grams, last=LAST, every=10))
    assert series.trend is not None
    assert series.trend.gain == pytest.approx(2.0, abs=0.25)


@pytest.mark.parametrize("slip", [152, 15200])
def test_scales_off_by_ten_are_flagged_and_left_out(slip: float) -> None:
    series = weight_series(female(), weighed("F1", 1480, 1500, slip, 1540, last=LAST, every=14))
    kinds = [point.kind for point in series.points]
    assert kinds[2] is WeighingKind.OFF_BY_TEN
    assert kinds.count(WeighingKind.PLAIN) == 3
    assert series.last is not None
    assert series.last.grams == 1540
    assert "2026-10-31" in series.notes[0]
    assert "ten times off" in series.notes[0]


def test_a_slip_on_the_last_weighing_does_not_become_her_weight() -> None:
    series = weight_series(female(), weighed("F1", 1480, 1500, 1520, 154, last=LAST, every=14))
    assert series.last is not None
    assert series.last.grams == 1520


def test_growth_from_hatchling_to_adult_is_no_slip() -> None:
    points = [
        Weighing(animal="F1", date=date(2024, 7, 1) + timedelta(days=150 * at), grams=grams)
        for at, grams in enumerate([65, 250, 600, 1000, 1300])
    ]
    series = weight_series(female(), points)
    assert all(point.kind is WeighingKind.PLAIN for point in series.points)


def test_laying_splits_the_series() -> None:
    her = female(last_laid=date(2026, 4, 20))
    points = [
        Weighing(animal="F1", date=day, grams=grams)
        for day, grams in [
            (date(2025, 11, 1), 1800),
            (date(2026, 4, 1), 2200),
            (date(2026, 4, 25), 1430),
            (date(2026, 7, 1), 1500),
            (date(2026, 9, 1), 1600),
            (date(2026, 11, 1), 1700),
        ]
    ]
    series = weight_series(her, points)
    assert [point.kind for point in series.points] == [
        WeighingKind.PLAIN,
        WeighingKind.BEFORE_LAYING,
        WeighingKind.AFTER_LAYING,
        WeighingKind.PLAIN,
        WeighingKind.PLAIN,
        WeighingKind.PLAIN,
    ]
    assert series.trend is not None
    assert series.trend.gain == pytest.approx(100 / 61, rel=0.1)
    assert mass_for_clutch(series, date(2026, 1, 10), within_days=300) == 1800
    # 1 - 1430 / 2200 = 35 %; the clutch is about 32 % of the mass before laying: Ellis & Chappell
    # 1987, J Comp Physiol B 157:393-402, abstract read.
    assert any("(35%; the clutch alone is about a third)" in loss for loss in series.losses)


def test_weighing_from_before_the_last_laying_says_nothing_of_now() -> None:
    her = female(last_laid=date(2026, 4, 20))
    series = weight_series(her, weighed("F1", 2000, 2100, 2200, last=date(2026, 4, 10)))
    assert series.laid_since
    assert series.trend is None


def test_sudden_drop_without_a_clutch_is_told_and_starts_afresh() -> None:
    grams = [2000, 2050, 2100, 1400, 1450, 1500]
    series = weight_series(female(), weighed("F1", *grams, last=LAST))
    assert any("no laying on record" in note for note in series.notes)
    assert series.trend is not None
    assert len(series.trend.days) == 3
    assert series.trend.gain > 0


@pytest.mark.parametrize(
    ("grams", "words"),
    [((1000, 980, 960, 940), "many males fast"), ((1000, 900, 810, 730), "ask a vet")],
)
def test_fasting_males(grams: tuple[float, ...], words: str) -> None:
    series = weight_series(male(), weighed("M1", *grams, last=LAST))
    assert any(words in note for note in series.notes)


def test_too_few_weighings_give_no_trend() -> None:
    two = weight_series(female(), weighed("F1", 1400, 1430, last=LAST))
    crowded = weight_series(female(), weighed("F1", 1400, 1430, 1440, last=LAST, every=3))
    assert two.trend is None
    assert crowded.trend is None
    assert project(two, PAIR_FROM) is None


def test_old_weighings_do_not_make_the_present_gain() -> None:
    spring = weighed("F1", 900, 1000, 1100, last=date(2025, 12, 1))
    series = weight_series(female(), [*spring, *weighed("F1", 1400, last=LAST)])
    assert series.trend is None


def test_animals_table_stands_in_or_adds_a_later_weight() -> None:
    alone = weight_series(female(weight_g=1550.0), [])
    assert alone.last is not None
    assert (alone.last.on, alone.last.grams) == (None, 1550.0)
    later = female(weight_g=1550.0, weighed=LAST)
    series = weight_series(later, weighed("F1", 1400, last=date(2026, 10, 1)))
    assert series.last is not None
    assert series.last.grams == 1550.0
    earlier = female(weight_g=1000.0, weighed=date(2026, 1, 1))
    series = weight_series(earlier, weighed("F1", 1400, last=date(2026, 10, 1)))
    assert [point.grams for point in series.points] == [1400]
    assert weight_series(female(), []).last is None


def test_layings_come_from_clutches_and_the_animals_table() -> None:
    clutches = [
        Clutch(dam="F1", laid=date(2025, 4, 1), eggs=6),
        Clutch(dam="F1", laid=date(2026, 4, 1), eggs=0),
    ]
    her = female(last_laid=date(2024, 5, 1))
    assert layings(her, clutches) == (date(2024, 5, 1), date(2025, 4, 1))


def test_row_order_changes_nothing() -> None:
    points = weighed("F1", 1200, 1260, 1320, 1380, last=LAST)
    one = all_series(records([female()], points))
    other = all_series(records([female()], points[::-1]))
    assert one == other
