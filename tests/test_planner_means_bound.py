"""The bound by means: below every plan's surplus, and enough to find the likely pairs by."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, nbinom

from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import Problem, WishTerm
from brumal.planner.solver import master, means_bound
from brumal.planner.solver import solve as solving
from brumal.planner.solver.answer import EXACT, SolveOptions, Verdict
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.highs import Highs
from brumal.planner.solver.means_bound import MeansBound, has_means
from brumal.planner.solver.solve import solve
from brumal.planner.wishes.mean_spread import swing
from long_forms import thinned
from small_seasons import agree, brute_force, every_plan, random_problem, worth


def with_means(problem: Problem) -> Problem:
    """State means and swings: clutches of a number of eggs, each counted with a chance by state."""
    candidates = []
    for c in problem.candidates:
        eggs = np.zeros(int(c.eggs) + 1)
        eggs[-1] = 1.0
        means = {
            t: float(problem.states_of(c.family_of_count(t)) @ law @ np.arange(law.shape[1]))
            for t, law in c.counts.items()
        }
        candidates.append(replace(c, means=means, swing=swing(eggs, 1.0)))
    return replace(problem, candidates=tuple(candidates))


def test_eggs_more_spread_than_poisson_have_no_swing() -> None:
    """A negative binomial number of eggs, by SciPy: more spread than Poisson at every level."""
    eggs = nbinom.pmf(np.arange(60), 5, 0.5)
    assert swing(eggs / eggs.sum(), 1.0) < 1e-9


def test_a_certain_number_of_eggs_has_the_swing_of_a_poisson_number() -> None:
    eggs = np.array([0.0, 0.0, 0.0, 0.0, 1.0])
    # E (Poisson(4) - 4)^+ = 4 P(Poisson(4) = 4), De Moivre's mean deviation halved.
    assert swing(eggs, 1.0) == pytest.approx(4.0**4 * np.exp(-4) / 24, abs=1e-12)


def test_a_female_that_may_not_go_swings_less() -> None:
    eggs = np.zeros(7)
    eggs[6] = 1.0
    assert swing(eggs, 0.8) < swing(eggs, 1.0)
    assert swing(np.array([1.0]), 1.0) == 0.0


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_no_plan_lies_below_the_bound_by_means(seed: int) -> None:
    """Eggs of any law, shares uncertain within and between sires' states, together or apart."""
    rng = np.random.default_rng(seed)
    threshold = int(rng.integers(1, 8))
    states = {sire: rng.dirichlet(np.ones(rng.integers(1, 4))) for sire in "AB"}
    candidates = []
    for dam in "wxyz":
        eggs = rng.dirichlet(np.full(8, float(rng.choice([0.05, 1.0]))))
        goes = float(rng.choice([1.0, 0.8]))
        for sire in "AB":
            law = np.zeros((states[sire].size, eggs.size))
            for state in range(states[sire].size):
                for share in rng.random(3):
                    for number, chance in enumerate(eggs):
                        counted = binom.pmf(np.arange(eggs.size), number, share)
                        law[state] += goes * chance * counted / 3
                law[state, 0] += 1 - goes
            mean = float(states[sire] @ law @ np.arange(eggs.size))
            candidates.append(
                Candidate(
                    dam=dam,
                    sire=sire,
                    value=0,
                    young=5,
                    eggs=6,
                    box_eggs=6,
                    counts={0: law},
                    means={0: mean},
                    swing=swing(eggs, goes),
                )
            )
    wish = WishTerm(id="0", words="", threshold=threshold, cost=1.0)
    problem = Problem(
        candidates=tuple(candidates),
        male_limits={"A": 4, "B": 4},
        family_states=states,
        wish_terms=(wish,),
    )
    season = MeansBound.of(problem)
    relaxed = season.solve(0.0, Clock(None))
    assert relaxed is not None
    assert season.columns.size == 8
    season._add_cuts(replace(relaxed, amounts=rng.random(8), surplus=np.full(1, -1e9)), 0.0)
    assert len(season.cuts) > 1
    place = {c.pair: index for index, c in enumerate(problem.candidates)}
    for plan in every_plan(problem):
        true = -worth(problem, plan)
        for cut in season.cuts:
            slopes = dict(zip(cut.wish.members.tolist(), cut.slopes.tolist(), strict=True))
            least = cut.constant + sum(slopes.get(place[c.pair], 0.0) for c in plan)
            assert least <= true + 1e-9


@pytest.mark.parametrize("seed", [33, 87, 141, *range(0, 200, 4)])
def test_a_season_solved_from_its_means_equals_brute_force(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    from_means(seed, monkeypatch)


@pytest.mark.slow
def test_many_seasons_solved_from_their_means_equal_brute_force(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for seed in range(1000):
        from_means(seed, monkeypatch)


def from_means(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Start from as few pairs as can be: none that a best plan needs may stay out."""
    monkeypatch.setattr(solving, "_MEANS_ROOM", 1e-9)
    monkeypatch.setattr(solving, "_FIRST_ROOM", 1e-9)
    monkeypatch.setattr(means_bound, "_LEAST_OF_A_DAM", 2)
    problem = with_means(random_problem(seed))
    assert has_means(problem)
    solution = solve(problem, EXACT)
    agree(problem, solution)
    monkeypatch.undo()
    for other in (problem, random_problem(seed)):
        assert solve(other, EXACT).chosen == solution.chosen


@pytest.mark.parametrize("seed", thinned(range(0, 200, 3), 2))
def test_a_part_with_its_duals_bounds_all_pairs(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pairs left out have reduced costs by the rows of the part: the bound is that of all."""
    problem = with_means(random_problem(seed))
    monkeypatch.setattr(means_bound, "_LEAST_OF_A_DAM", 10**6)
    whole = MeansBound.of(problem).solve(1e-9, Clock(None))
    monkeypatch.setattr(means_bound, "_LEAST_OF_A_DAM", 2)
    part = MeansBound.of(problem).solve(1e-9, Clock(None))
    assert (whole is None) == (part is None)
    if whole is None or part is None:
        return
    assert part.bound == pytest.approx(whole.bound, rel=1e-6, abs=1e-6)
    assert part.amounts.shape == part.reduced.shape == (len(problem.candidates),)
    for plan in every_plan(problem):
        value = worth(problem, plan)
        assert value <= part.bound + problem.income + 1e-6


def test_a_season_that_states_no_means_is_solved_whole() -> None:
    problem = random_problem(12)
    assert not has_means(problem)
    assert solve(problem, EXACT).objective == pytest.approx(brute_force(problem))


def dearest(problem: Problem) -> np.ndarray:
    """Return one pair of each dam, with those that must be there from the start."""
    columns = problem.columns
    costs = np.array([sire in problem.use_costs for sire in columns.sires], dtype=bool)
    one = means_bound._first_of_each(columns.dam, -columns.worth, 1)
    return np.flatnonzero(problem.must_stand() | costs[columns.sire] | one)


@pytest.mark.parametrize("rounds", [30, 2])
def test_pairs_join_until_the_bound_is_that_of_all(
    rounds: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From one pair a dam, no plan of any pairs lies above the bound less a reduced cost."""
    joined: list[int] = []
    add_pairs = Highs.add_pairs

    def counting(highs: Highs, worth: np.ndarray, *entries: np.ndarray) -> None:
        joined.append(worth.size)
        add_pairs(highs, worth, *entries)

    monkeypatch.setattr(means_bound, "_LEAST_OF_A_DAM", 2)
    monkeypatch.setattr(means_bound, "_first_columns", dearest)
    monkeypatch.setattr(Highs, "add_pairs", counting)
    monkeypatch.setattr(master, "_MOST_ROUNDS", rounds)
    for seed in range(60):
        problem = with_means(random_problem(seed, 4, 7))
        relaxed = MeansBound.of(problem).solve(1e-6, Clock(None))
        if relaxed is None:
            assert brute_force(problem) is None
            continue
        most = relaxed.bound + problem.income
        place = {pair: index for index, pair in enumerate(problem.columns.pairs)}
        for plan in every_plan(problem):
            reduced = [relaxed.reduced[place[each.pair]] for each in plan]
            assert worth(problem, plan) <= most - max(reduced, default=0.0) + 1e-6
    assert len(joined) > 30


@pytest.mark.parametrize("seed", [33, 141, 194, 197, 358, 363, 375])
def test_time_that_is_up_does_not_make_a_season_impossible(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The likeliest pairs alone serve no plan here; others do."""
    for name in ("_MEANS_ROOM", "_FIRST_ROOM"):
        monkeypatch.setattr(solving, name, 1e-9)
    problem = with_means(random_problem(seed))
    best = brute_force(problem)
    assert best is not None
    solution = solve(problem, SolveOptions(time_limit=1e-6))
    assert solution.verdict is not Verdict.IMPOSSIBLE
    assert solution.bound >= best - 1e-6
