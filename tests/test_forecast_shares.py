"""Shares: beta-binomial against SciPy, closed form, coverage and ranking by simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from brumal.forecast.shares import CORRELATION, Count, Split, fit_shares, log_beta_binomial

SPLIT = Split(dam=0.35, sire=0.35)


@pytest.mark.parametrize(("through", "eggs"), [(0, 5), (3, 6), (8, 8), (0, 0)])
@pytest.mark.parametrize(("mean", "strength"), [(0.9, 4.0), (0.5, 30.0), (0.2, 0.7)])
def test_likelihood_equals_scipy(through: int, eggs: int, mean: float, strength: float) -> None:
    expected = stats.betabinom(eggs, mean * strength, (1 - mean) * strength).logpmf(through)
    assert log_beta_binomial(through, eggs, mean, strength) == pytest.approx(expected)


def test_without_records_the_stated_share_speaks() -> None:
    model = fit_shares([], 0.9, 8, SPLIT)
    mean, strength = model.of("F1", "M1")
    assert mean == pytest.approx(0.9)
    assert model.correlation == pytest.approx(CORRELATION)
    # A little less sure than strength = 1 / correlation - 1, the mean itself being uncertain.
    assert 0.6 * (1 / CORRELATION - 1) < strength < 1 / CORRELATION - 1


def test_one_clutch_equals_the_closed_form() -> None:
    """Credibility (Buhlmann & Straub 1970, from memory): what the pair shares over all variance."""
    model = fit_shares([Count(dam="F1", sire="M1", eggs=8, through=4)], 0.9, 8, SPLIT)
    pooled = (8 * 6 * 0.9 + 4) / (8 * 6 + 8)
    wobble = pooled * (1 - pooled)
    between = model.correlation * wobble
    start = (between + (wobble - between) / 6) / 8
    shared = start + 0.7 * between
    weight = shared / (shared + 0.3 * between + (wobble - between) / 8)
    mean, strength = model.of("F1", "M1")
    assert mean == pytest.approx(0.9 + weight * (0.5 - 0.9))
    variance = (1 - weight) * shared + 0.3 * between
    assert strength == pytest.approx(mean * (1 - mean) / variance - 1)


def test_both_parents_answer_for_slugs_and_strangers_least() -> None:
    counts = [Count(dam=f"F{at}", sire="good", eggs=7, through=7) for at in range(8)]
    counts += [Count(dam=f"G{at}", sire="poor", eggs=7, through=2) for at in range(4)]
    model = fit_shares(counts, 0.9, 8, SPLIT)
    pair = model.of("G0", "poor")[0]
    sire_alone, dam_alone = model.of("new", "poor")[0], model.of("G0", "new")[0]
    stranger = model.of("new", "new")[0]
    assert pair < sire_alone < stranger < model.of("new", "good")[0]
    assert pair < dam_alone < stranger


def test_an_unnamed_sire_still_teaches_of_the_dam() -> None:
    model = fit_shares([Count(dam="F1", sire=None, eggs=8, through=2)], 0.9, 8, SPLIT)
    assert model.of("F1", "M1")[0] < model.of("F2", "M1")[0]


def test_shares_stay_shares_whatever_the_record() -> None:
    counts = [Count(dam="F1", sire="M1", eggs=9, through=0)] * 30
    counts += [Count(dam="F2", sire="M2", eggs=9, through=9)] * 30
    model = fit_shares(counts, 0.9, 8, SPLIT)
    for dam in ("F1", "F2", "new"):
        for sire in ("M1", "M2", "new"):
            mean, strength = model.of(dam, sire)
            assert 0 < mean < 1
            assert strength > 0


def draw(rng: np.random.Generator, own: float, spread: float) -> int:
    return int(rng.binomial(7, np.clip(own + rng.normal(0, spread), 0, 1)))


@pytest.mark.parametrize(("mean", "correlation"), [(0.9, 0.15), (0.75, 0.3), (0.85, 0.05)])
def test_intervals_of_the_next_clutch_hold_their_share(mean: float, correlation: float) -> None:
    """Dams, sires and clutches drawn with the stated split of variance; 7 eggs a clutch."""
    rng = np.random.default_rng(2718)
    between = correlation * mean * (1 - mean)
    inside, expected = [], []
    for _ in range(15):
        of_dam = rng.normal(0, np.sqrt(0.35 * between), 30)
        of_sire = rng.normal(0, np.sqrt(0.35 * between), 8)

        own = mean + of_dam[:, None] + of_sire[None, :]
        spread = np.sqrt(0.3 * between)
        pairs = [(dam, int(rng.integers(8))) for dam in range(30) for _ in range(3)]
        counts = [
            Count(dam=f"F{dam}", sire=f"M{sire}", eggs=7, through=draw(rng, own[dam, sire], spread))
            for dam, sire in pairs
        ]
        model = fit_shares(counts, 0.9, 8, SPLIT)
        for dam in range(30):
            sire = int(rng.integers(8))
            share, strength = model.of(f"F{dam}", f"M{sire}")
            law = stats.betabinom(7, share * strength, (1 - share) * strength)
            low, high = law.ppf(0.1), law.ppf(0.9)
            inside.append(low <= draw(rng, own[dam, sire], spread) <= high)
            expected.append(law.cdf(high) - law.cdf(low - 1))
    held, asked = float(np.mean(inside)), float(np.mean(expected))
    print(f"mean {mean}, correlation {correlation}: held {held:.1%}, asked {asked:.1%}")
    assert held == pytest.approx(asked, abs=0.05)
