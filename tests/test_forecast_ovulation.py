"""When she ovulates: shrinkage, coverage by leave-one-out and simulation, signs by plain Bayes."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from brumal.forecast.dates import DayChances, clutch_dates, window
from brumal.forecast.ovulation import fit_ovulation, normal_days, usual_middle
from brumal.forecast.signs import MISSED, Sign, SignKind, days_given
from brumal.records.read import read_season
from brumal.records.settings import SeasonDates, StageDays

WINTER = SeasonDates(name="Test", pair_from=date(2026, 12, 1), pair_to=date(2027, 3, 31))
STAGES = StageDays()
DEMO = Path(__file__).parents[1] / "scenarios" / "demo"


def test_without_records_common_practice_stands() -> None:
    """Eight in ten from 10 February to 7 April (common practice, no source)."""
    hers = fit_ovulation({}, WINTER, STAGES).of("F1")
    when = window(hers.days)
    assert abs((when.early - date(2027, 2, 10)).days) <= 1
    assert abs((when.late - date(2027, 4, 7)).days) <= 1
    assert (hers.collection, hers.layings, hers.own) == (date(2027, 3, 10), 0, 0)


def test_days_of_a_normal_law_are_scipys() -> None:
    found = normal_days(date(2027, 3, 10), 2.5, 15.0)
    law = stats.norm(2.5, 15.0)
    for at in (-30, 0, 2, 40):
        day = date(2027, 3, 10) + timedelta(at)
        assert found.by(day) == pytest.approx(law.cdf(at + 0.5), abs=1e-4)


def test_the_season_is_that_of_the_pairing_window() -> None:
    south = SeasonDates(name="Test", pair_from=date(2027, 6, 1), pair_to=date(2027, 9, 30))
    assert usual_middle(south, STAGES)[0] == date(2027, 9, 8)
    stated = StageDays(ovulation=("11-20", "01-10"))
    assert usual_middle(WINTER, stated)[0] == date(2026, 12, 15)
    late = SeasonDates(name="Test", pair_from=date(2027, 1, 25), pair_to=date(2027, 3, 31))
    # A later start of pairing moves nothing: ovulation is hers.
    assert usual_middle(late, STAGES) == usual_middle(WINTER, STAGES)


def laid_on(rng: np.random.Generator, ovulated: date) -> date:
    days = int(rng.integers(18, 25)) + int(rng.integers(26, 34))
    return ovulated + timedelta(days=days)


def collection(
    rng: np.random.Generator, lag: float, between: float, within: float
) -> tuple[dict[str, list[date]], dict[str, float]]:
    """Twelve females with up to three layings each; hers is her mean day."""
    hers = {f"F{n:02d}": rng.normal(lag, between) for n in range(12)}
    laid: dict[str, list[date]] = {}
    for dam, mean in hers.items():
        for year in range(2024, 2024 + int(rng.integers(0, 4))):
            day = date(year, 3, 10) + timedelta(days=round(rng.normal(mean, within)))
            laid.setdefault(dam, []).append(laid_on(rng, day))
    return laid, hers


def test_laying_windows_hold_their_share_of_simulated_collections() -> None:
    rng = np.random.default_rng(17)
    inside = total = 0
    nearer = []
    for lag, between, within in [(-25, 8, 12), (0, 12, 16), (30, 15, 20)] * 8:
        laid, hers = collection(rng, lag, between, within)
        model = fit_ovulation(laid, WINTER, STAGES)
        for dam, mean in hers.items():
            coming = date(2027, 3, 10) + timedelta(days=round(rng.normal(mean, within)))
            when = window(clutch_dates(model.of(dam).days, STAGES).laying)
            inside += when.early <= laid_on(rng, coming) <= when.late
            total += 1
            middle = (window(model.of(dam).days).middle - date(2027, 3, 10)).days
            nearer.append(abs(middle - mean) < abs(mean))
    assert inside / total == pytest.approx(0.8, abs=0.06)
    # The shrunk figure is nearer to her own mean than common practice, mostly.
    assert np.mean(nearer) > 0.6


def test_the_demos_layings_are_covered_when_left_out_one_by_one() -> None:
    records, _ = read_season(DEMO)
    assert records is not None
    laid: dict[str, list[date]] = defaultdict(list)
    for clutch in records.clutches:
        if clutch.laid is not None and clutch.eggs != 0:
            laid[clutch.dam].append(clutch.laid)
    season, stages = records.settings.season, records.settings.dates
    inside, total = 0, 0
    for dam, days in laid.items():
        for day in days:
            rest = {name: [d for d in all_ if d != day] for name, all_ in laid.items()}
            when = window(
                clutch_dates(fit_ovulation(rest, season, stages).of(dam).days, stages).laying
            )
            inside += when.early <= date(2027, day.month, day.day) <= when.late
            total += 1
    assert total == 18
    # 14.4 of 18 are meant to lie inside; 11 or fewer happen in one case of twenty.
    assert stats.binom.cdf(inside, total, 0.8) > 0.05


def test_her_own_layings_pull_more_than_the_collections() -> None:
    laid = {f"F{n}": [date(2026, 4, 29)] for n in range(8)}
    early = {**laid, "E": [date(2025, 3, 30), date(2026, 3, 28)]}
    model = fit_ovulation(early, WINTER, STAGES)
    hers, others = window(model.of("E").days).middle, window(model.of("new").days).middle
    assert date(2027, 2, 8) < hers < others < date(2027, 3, 12)
    assert model.of("E").own == 2
    assert model.of("E").layings == 10


# What has been seen.

FLAT = DayChances(date(2027, 2, 1), np.full(80, 1 / 80))


def by_hand(kind: SignKind, day: date, ovulated: date) -> float:
    """Likelihood of a sign, counted over every case of the stages."""
    since = (day - ovulated).days
    if kind is SignKind.NOTHING:
        return 0.0 if since >= 57 else MISSED ** ((since >= 0) + (since >= 24))
    if kind is SignKind.SHED:
        return float(18 <= since <= 24)
    if kind is SignKind.LAID:
        return float(sum(since - shed in range(26, 34) for shed in range(18, 25)))
    return float(since == 0)


@pytest.mark.parametrize(
    "kind", [SignKind.NOTHING, SignKind.SHED, SignKind.LAID, SignKind.OVULATION]
)
def test_a_sign_is_bayes_rule(kind: SignKind) -> None:
    day = date(2027, 3, 25)
    found = days_given(FLAT, [Sign(kind=kind, day=day)], STAGES)[0]
    days = [FLAT.first + timedelta(at) for at in range(80)]
    weights = np.array([by_hand(kind, day, each) for each in days])
    weights /= weights.sum()
    for each, weight in zip(days, weights, strict=True):
        at = (each - found.first).days
        assert found.chances[at] == pytest.approx(weight, abs=1e-8)


def test_larger_follicles_bring_ovulation_nearer_and_never_before_the_day() -> None:
    """Dominant from 20 mm on (J Herpetol Med Surg 26(3-4):108, abstract read); days by practice."""
    day = date(2027, 2, 20)
    middles = [
        window(days_given(FLAT, [Sign(kind=SignKind.FOLLICLES, day=day, mm=mm)], STAGES)[0]).middle
        for mm in (10, 20, 30, 38)
    ]
    assert middles == sorted(middles, reverse=True) and len(set(middles)) == 4
    seen = days_given(FLAT, [Sign(kind=SignKind.FOLLICLES, day=day, mm=25)], STAGES)[0]
    assert seen.by(day - timedelta(days=1)) == pytest.approx(0, abs=1e-8)


def test_a_lock_says_little_and_a_sign_outside_the_forecast_stands() -> None:
    lock = days_given(FLAT, [Sign(kind=SignKind.LOCK, day=date(2027, 3, 1))], STAGES)[0]
    assert 0 < lock.by(date(2027, 2, 28)) < FLAT.by(date(2027, 2, 28))
    early = days_given(FLAT, [Sign(kind=SignKind.OVULATION, day=date(2026, 12, 20))], STAGES)[0]
    assert window(early).middle == date(2026, 12, 20)
    assert days_given(FLAT, [], STAGES)[0] is FLAT
