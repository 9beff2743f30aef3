"""Eggs: shrinkage, coverage by simulation, and published clutch sizes as sanity values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from brumal.forecast.distributions import lognormal_counts, mean_count, percentile
from brumal.forecast.eggs import BETWEEN_SD, WITHIN_SD, EggModel, fit_eggs
from brumal.forecast.history import PastClutch
from brumal.records.settings import ClutchPrior

PRIOR = ClutchPrior()


def past(dam: str, eggs: int, mass_g: float | None = 1800.0, first: bool = False) -> PastClutch:
    return PastClutch(
        dam=dam,
        sire=None,
        went=True,
        first=first,
        mass_g=mass_g,
        eggs=eggs,
        fertile=None,
        hatched=None,
    )


def chances(model: EggModel, dam: str, mass_g: float | None = 1800.0, first: bool = False):
    return lognormal_counts(*model.of(dam, mass_g, first), 20)


def test_without_records_the_stated_prior_speaks() -> None:
    model = fit_eggs([], PRIOR)
    assert mean_count(chances(model, "new")) == pytest.approx(PRIOR.eggs, rel=0.01)
    first = mean_count(chances(model, "new", first=True))
    assert first == pytest.approx(PRIOR.eggs * PRIOR.first_share, rel=0.03)
    assert (model.within_variance, model.between_variance) == (WITHIN_SD**2, BETWEEN_SD**2)


def test_prior_agrees_with_clutch_sizes_of_the_trade_and_the_wild() -> None:
    """4-8 eggs usual, 13 exceptional: common practice, no source. Wild 4-15, mean 8.1: Gorzula,
    Nsiah & Oduro 1997, survey for the CITES Secretariat, summary read."""
    usual = chances(fit_eggs([], PRIOR), "new")
    assert usual[4:9].sum() > 0.75
    assert usual[13:].sum() < 0.02
    assert usual[16:].sum() < 0.005
    assert percentile(usual, 0.05) <= 8 <= percentile(usual, 0.95)


def test_heavier_females_lay_more_and_unknown_mass_is_less_sure() -> None:
    model = fit_eggs([], PRIOR)
    means = [mean_count(chances(model, "new", grams)) for grams in (1400, 1800, 2400, 3000)]
    assert means == sorted(means)
    assert model.of("new", None, False)[1] > model.of("new", PRIOR.reference_g, False)[1]


def test_her_own_record_moves_her_and_a_longer_one_moves_her_more() -> None:
    others = [past(f"F{at}", 6) for at in range(10)]
    short = fit_eggs([*others, past("big", 11)], PRIOR)
    long = fit_eggs([*others, *[past("big", 11)] * 4], PRIOR)
    stranger, one, four = (
        mean_count(chances(short, "new")),
        mean_count(chances(short, "big")),
        mean_count(chances(long, "big")),
    )
    assert stranger < one < four < 11


def test_a_collection_of_large_clutches_pulls_strangers_up() -> None:
    model = fit_eggs([past(f"F{at}", 9) for at in range(40)], PRIOR)
    assert 8 < mean_count(chances(model, "new")) < 9.5


def test_one_clutch_equals_the_closed_form() -> None:
    """One clutch of a later-clutch dam at reference mass: only intercept and her own effect move,
    by the share of the variance each holds (credibility, Buhlmann & Straub 1970, from memory)."""
    model = fit_eggs([past("F1", 9)], PRIOR)
    within, between = model.within_variance, model.between_variance
    intercept_variance = (WITHIN_SD**2 + BETWEEN_SD**2) / PRIOR.worth
    prior_log = math.log(PRIOR.eggs) - (WITHIN_SD**2 + BETWEEN_SD**2 + intercept_variance) / 2
    weight = (intercept_variance + between) / (intercept_variance + between + within)
    mean, variance = model.of("F1", PRIOR.reference_g, False)
    assert mean == pytest.approx(prior_log + weight * (math.log(9) - prior_log))
    assert variance == pytest.approx(within + (1 - weight) * (intercept_variance + between))


def simulate(
    rng: np.random.Generator, dams: int, mean: float, between: float, within: float
) -> tuple[list[PastClutch], dict[str, float], dict[str, float]]:
    """Return past clutches, masses and true mean log eggs of dams with 1-4 clutches each."""
    clutches, masses, truth = [], {}, {}
    for at in range(dams):
        dam = f"F{at:03d}"
        masses[dam] = float(rng.uniform(1500, 2800))
        own = math.log(mean) + 0.8 * math.log(masses[dam] / 1800) + rng.normal(0, between)
        truth[dam] = own
        for _ in range(int(rng.integers(1, 5))):
            eggs = max(round(math.exp(own + rng.normal(0, within))), 1)
            clutches.append(past(dam, eggs, masses[dam]))
    return clutches, masses, truth


@pytest.mark.parametrize(("between", "within"), [(0.1, 0.2), (0.2, 0.15), (0.3, 0.25)])
def test_intervals_of_the_next_clutch_hold_their_share(between: float, within: float) -> None:
    rng = np.random.default_rng(4711)
    inside, expected = [], []
    for _ in range(12):
        clutches, masses, truth = simulate(rng, 40, 7.0, between, within)
        model = fit_eggs(clutches, PRIOR)
        for dam, own in truth.items():
            law = chances(model, dam, masses[dam])
            low, high = percentile(law, 0.1), percentile(law, 0.9)
            eggs = max(round(math.exp(own + rng.normal(0, within))), 1)
            inside.append(low <= eggs <= high)
            expected.append(law[low : high + 1].sum())
    held, asked = float(np.mean(inside)), float(np.mean(expected))
    print(f"between {between}, within {within}: held {held:.1%}, asked {asked:.1%}")
    assert held == pytest.approx(asked, abs=0.05)


def test_shrinkage_beats_her_own_mean_and_the_collections() -> None:
    """Stein's lesson: over many dams the shrunk figure is nearer the truth than either extreme."""
    rng = np.random.default_rng(99)
    clutches, masses, truth = simulate(rng, 200, 7.0, 0.15, 0.2)
    model = fit_eggs(clutches, PRIOR)
    logs: dict[str, list[float]] = {}
    for clutch in clutches:
        logs.setdefault(clutch.dam, []).append(math.log(clutch.eggs or 1))
    scaled = {dam: 0.8 * math.log(masses[dam] / 1800) for dam in truth}
    everyone = np.mean([np.mean(own) - scaled[dam] for dam, own in logs.items()])

    def error(guess: dict[str, float]) -> float:
        return float(np.mean([(guess[dam] - truth[dam]) ** 2 for dam in truth]))

    shrunk = error({dam: model.of(dam, masses[dam], False)[0] for dam in truth})
    assert shrunk < error({dam: float(np.mean(own)) for dam, own in logs.items()})
    assert shrunk < error({dam: float(everyone + scaled[dam]) for dam in truth})


def test_variances_move_towards_what_the_collection_shows() -> None:
    rng = np.random.default_rng(5)
    steady = fit_eggs(simulate(rng, 150, 7.0, 0.08, 0.1)[0], PRIOR)
    varied = fit_eggs(simulate(rng, 150, 7.0, 0.3, 0.35)[0], PRIOR)
    assert steady.within_variance < WITHIN_SD**2 < varied.within_variance
    assert steady.between_variance < BETWEEN_SD**2 < varied.between_variance
