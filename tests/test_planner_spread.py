"""Bounds by mean and spread: never above the truth, whatever the plan, and near it where alike."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson

from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import Problem, WishTerm
from brumal.planner.wishes.mean_spread import _floors, poisson_surplus, spread_cut, spread_of, touch
from brumal.planner.wishes.surplus import Cut, all_terms, cuts_at, plan_law, surplus
from long_forms import thinned
from small_seasons import binomial, random_problem


def worth(cut: Cut, plan: tuple[int, ...]) -> float:
    return cut.constant + sum(cut.coefficients.get(index, 0.0) for index in plan)


def truepoisson_surplus(problem: Problem, term: int, plan: tuple[int, ...]) -> float:
    laws = all_terms(problem)[term]
    return surplus(plan_law(laws, plan), laws.threshold)


def plans(problem: Problem) -> Iterator[tuple[int, ...]]:
    """Yield every plan in which a female meets one male at most."""
    by_dam: dict[str, list[int | None]] = {}
    for index, candidate in enumerate(problem.candidates):
        by_dam.setdefault(candidate.dam, [None]).append(index)
    for choice in itertools.product(*by_dam.values()):
        yield tuple(index for index in choice if index is not None)


def holds_everywhere(problem: Problem, rng: np.random.Generator) -> None:
    for term in range(len(problem.wish_terms)):
        spread = spread_of(all_terms(problem)[term], term)
        if spread is None:
            continue
        true = {plan: truepoisson_surplus(problem, term, plan) for plan in plans(problem)}
        for _ in range(3):
            at = touch(spread, rng.random(len(problem.candidates)))
            cut = spread_cut(spread, at)
            for plan, found in true.items():
                assert worth(cut, plan) <= found + 1e-9


@pytest.mark.parametrize("seed", thinned(range(60), 2))
def test_no_plan_lies_below_a_bound(seed: int) -> None:
    holds_everywhere(random_problem(seed, 4, 3), np.random.default_rng(seed))


@pytest.mark.slow
def test_no_plan_lies_below_a_bound_in_many_seasons() -> None:
    for seed in range(60, 1500):
        holds_everywhere(random_problem(seed, 5, 3), np.random.default_rng(seed))


def season(
    laws: Mapping[tuple[str, str], np.ndarray],
    threshold: int,
    states: Mapping[str, np.ndarray] | None = None,
) -> Problem:
    """Return a season of one wish; each law has shape (states, young + 1)."""
    return Problem(
        candidates=tuple(
            Candidate(dam=dam, sire=sire, value=0, young=5, eggs=6, box_eggs=6, counts={0: law})
            for (dam, sire), law in laws.items()
        ),
        male_limits={},
        family_states=states or {},
        wish_terms=(WishTerm(id="0", words="", threshold=threshold, cost=1.0),),
    )


@given(st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_any_laws_at_all_are_bounded(seed: int) -> None:
    """Laws of any shape, clutches of uncertain sires that rise together or apart."""
    rng = np.random.default_rng(seed)
    states = {sire: rng.dirichlet(np.ones(rng.integers(1, 4))) for sire in "AB"}
    sharp = float(rng.choice([0.1, 1.0]))
    laws = {
        (dam, sire): rng.dirichlet(np.full(8, sharp), size=states[sire].size)
        for dam in "wxyz"
        for sire in "AB"
    }
    holds_everywhere(season(laws, int(rng.integers(1, 9)), states), rng)


def clutch(share: float, goes: float = 0.8) -> np.ndarray:
    """Return the law of counted young of a female that may not go."""
    law = goes * np.array(binomial(8, share))
    law[0] += 1 - goes
    return law[None, :]


def test_a_plan_of_other_pairs_that_counts_alike_is_bounded_nearly_as_well() -> None:
    """The bounds exact at one plan lose its whole spread for another; these lose little of it."""
    shares = [0.05, 0.15, 0.25, 0.15] * 10
    laws = {(f"{n:02}", "M"): clutch(share) for n, share in enumerate(shares)}
    problem = season(laws, 19)
    laws_of = all_terms(problem)[0]
    spread = spread_of(laws_of, 0)
    assert spread is not None
    mine, other = tuple(range(0, 40, 2)), tuple(range(1, 40, 2))
    amounts = np.zeros(40)
    amounts[list(mine)] = 1.0
    cut = spread_cut(spread, touch(spread, amounts))
    true = {plan: truepoisson_surplus(problem, 0, plan) for plan in (mine, other)}
    mean = {plan: sum(6.4 * shares[n] for n in plan) for plan in (mine, other)}
    plain = {plan: max(0.0, mean[plan] - 19) for plan in true}
    for plan, found in true.items():
        assert worth(cut, plan) > found - 0.12 * (found - plain[plan])
    exact = max(worth(cut, other) for cut in cuts_at(laws_of, 0, mine))
    assert exact < plain[other] + 0.2 * (true[other] - plain[other])


def test_certain_young_without_spread_are_counted_by_their_mean() -> None:
    """One young for certain each: the bound must not claim a spread that is not there."""
    sure = np.array([[0.0, 1.0]])
    problem = season({(dam, "M"): sure for dam in "abcdef"}, 3)
    spread = spread_of(all_terms(problem)[0], 0)
    assert spread is not None
    cut = spread_cut(spread, touch(spread, np.ones(6)))
    for count in range(7):
        assert worth(cut, tuple(range(count))) <= max(0, count - 3) + 1e-9


def test_clutches_of_a_sire_who_may_be_a_het_are_bounded_together() -> None:
    """Sires are told apart by what they may be: what their clutches share is in the bound."""
    states = {"M": np.array([0.5, 0.5]), "N": np.array([0.7, 0.3])}
    law = np.concatenate([np.eye(1, clutch(0.25).size), clutch(0.25)])
    pairs = [(f"{n}", "M" if n < 4 else "N") for n in range(7)]
    problem = season(dict.fromkeys(pairs, law), 3, states)
    plan = tuple(range(7))
    found = truepoisson_surplus(problem, 0, plan)
    mixed = {pair: states[pair[1]] @ law for pair in pairs}
    alone = truepoisson_surplus(
        season({pair: own[None] for pair, own in mixed.items()}, 3), 0, plan
    )
    spread = spread_of(all_terms(problem)[0], 0)
    assert spread is not None
    at = touch(spread, np.ones(7))
    assert worth(spread_cut(spread, at), plan) == pytest.approx(at.value)
    assert alone < 0.85 * found
    assert 0.95 * found < at.value <= found


def compound(mean: float, twos: float) -> np.ndarray:
    """Return the law of a Poisson count of ones and a Poisson count of twos, by SciPy."""
    counts = np.arange(200)
    double = np.zeros(400)
    double[::2] = poisson.pmf(counts, twos)
    return np.convolve(poisson.pmf(np.arange(400), mean - 2 * twos), double)


@pytest.mark.parametrize(
    ("threshold", "mean", "twos"), [(1, 0.7, 0.1), (2, 3.0, 1.5), (5, 4.2, 0.6), (25, 30.0, 9.0)]
)
def test_the_compound_surplus_agrees_with_scipy(threshold: int, mean: float, twos: float) -> None:
    value, slope, steep = poisson_surplus(threshold, mean, twos)
    law = compound(mean, twos)
    assert value == pytest.approx(surplus(law, threshold), abs=1e-9)
    assert slope == pytest.approx(law[threshold:].sum(), abs=1e-9)
    assert steep == pytest.approx(law[threshold - 1], abs=1e-9)


@pytest.mark.parametrize("threshold", [1, 2, 5, 12])
@pytest.mark.parametrize("fans", [4, 10, 16])
def test_the_floor_lies_below_every_mean_and_spread_and_close(threshold: int, fans: int) -> None:
    most = fans / 32
    for mean in (0.3 * threshold, threshold, 2.0 * threshold):
        value, slope, steep = poisson_surplus(threshold, mean, 0.6 * most * mean)
        floor = _floors(threshold, slope, steep, mean)[:fans].min()
        lowest = min(
            poisson_surplus(threshold, m, share * m)[0] - slope * m - steep * share * m
            for m in np.linspace(0, 5 * threshold, 120)
            for share in np.linspace(0, most, 25)
        )
        assert floor <= lowest
        assert floor > lowest - 0.01 * max(1.0, value)
