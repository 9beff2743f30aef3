"""Where a solve starts from and what it keeps when it is stopped."""

from __future__ import annotations

import signal
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from brumal.pipeline import prepare
from brumal.planner.limits.every import keeps_limits
from brumal.planner.problem import Problem
from brumal.planner.season import solve_season
from brumal.planner.solver.answer import EXACT, Solution, SolveOptions, Verdict
from brumal.planner.solver.greedy import first_plans, greedy
from brumal.planner.solver.interrupt import (
    is_asked,
    keeping_best,
    must_stop,
    stopping_all,
)
from brumal.planner.solver.solve import solve
from brumal.planner.solver.worth import true_value
from brumal.planner.wishes.surplus import all_terms
from small_seasons import brute_force, is_allowed, random_problem, worth

SOLVERS = ("highs", "cbc")


def takes_rounds(least: int, count: int) -> list[Problem]:
    """Return seasons that are not settled by a first solve."""
    found = []
    for seed in range(400):
        problem = random_problem(seed)
        if len(found) < count and solve(problem, EXACT).rounds >= least:
            found.append(problem)
    return found


def nothing(problem: Problem) -> np.ndarray:
    return np.zeros(len(problem.candidates))


SLOW = takes_rounds(2, 6)


def stopped(problem: Problem, options: SolveOptions = EXACT) -> Solution:
    with keeping_best(lambda: None):
        signal.raise_signal(signal.SIGINT)
        assert is_asked()
        return solve(problem, options)


@pytest.mark.parametrize("solver", SOLVERS)
def test_a_solve_that_is_stopped_keeps_a_plan_no_worse_than_greed(solver: str) -> None:
    assert SLOW
    for problem in SLOW:
        solution = stopped(problem, SolveOptions(solver=solver, gap=0))
        best = brute_force(problem)
        assert best is not None
        for plan in first_plans(problem, (), nothing(problem)):
            made = tuple(problem.candidates[index] for index in plan)
            if is_allowed(problem, made):
                assert solution.objective >= worth(problem, made) - 1e-6
        if solution.chosen is not None:
            made = tuple(problem.candidates[index] for index in solution.chosen)
            assert is_allowed(problem, made)
            assert solution.objective == pytest.approx(worth(problem, made), abs=1e-6)
        assert solution.bound >= best - 1e-3
        assert (solution.verdict is Verdict.PROVEN) == (solution.gap <= 1e-5)


def test_ctrl_c_that_stops_all_ends_what_is_under_way() -> None:
    with pytest.raises(KeyboardInterrupt), stopping_all():
        signal.raise_signal(signal.SIGINT)
        assert must_stop(has_plan=False)
        assert solve(SLOW[0], EXACT).rounds <= 1
    assert not is_asked()


def test_ctrl_c_is_its_own_again_afterwards() -> None:
    # A program started in the background of a shell may ignore Ctrl-C from the start.
    found = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with keeping_best(lambda: None):
            assert signal.getsignal(signal.SIGINT) is not signal.default_int_handler
        assert not is_asked()
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    finally:
        signal.signal(signal.SIGINT, found)


@pytest.mark.parametrize("seed", range(60))
def test_an_earlier_plan_is_kept_where_it_still_stands(seed: int) -> None:
    problem = random_problem(seed)
    solution = solve(problem, EXACT)
    if solution.chosen is None:
        return
    pairs = tuple(problem.candidates[index].pair for index in solution.chosen)
    options = SolveOptions(gap=0, start=(*pairs, ("gone", "sold")))
    assert solve(problem, options).chosen == solution.chosen
    assert stopped(problem, options).objective == pytest.approx(solution.objective, abs=1e-3)


@pytest.mark.parametrize("seed", range(100))
def test_greed_and_limits_are_what_the_keeper_says(seed: int) -> None:
    problem = random_problem(seed)
    for plan in (greedy(problem, nothing(problem)), *first_plans(problem, (), nothing(problem))):
        made = tuple(problem.candidates[index] for index in plan)
        kept = keeps_limits(problem, plan)
        if not problem.chances:
            assert kept == is_allowed(problem, made)
        elif is_allowed(problem, made):
            assert kept


@pytest.mark.parametrize("name", ["demo", "small"])
def test_the_shipped_seasons_bring_more_than_greed(name: str) -> None:
    scenarios = Path(__file__).parent.parent / "scenarios"
    season = solve_season(prepare(scenarios / name))
    problem = season.problem
    plan = greedy(problem, nothing(problem))
    assert keeps_limits(problem, plan)
    taken = true_value(problem, all_terms(problem), plan)
    print(f"{name}: {season.solution.objective:,.2f} planned, {taken:,.2f} by greed")
    assert season.solution.objective > taken


@pytest.mark.parametrize("seed", range(40))
def test_what_still_fits_of_an_earlier_plan_is_started_from(seed: int) -> None:
    problem = random_problem(seed)
    solution = solve(replace(problem, boxes=None, tubs=None))
    if solution.chosen is None or problem.chances or problem.must:
        return
    pairs = tuple(problem.candidates[index].pair for index in solution.chosen)
    first = next(iter(first_plans(problem, pairs, nothing(problem))), None)
    assert first is not None
    kept = {problem.candidates[index].pair for index in first}
    assert keeps_limits(problem, first)
    if keeps_limits(problem, [n for n, c in enumerate(problem.candidates) if c.pair in pairs]):
        assert kept == set(pairs)


def test_a_pair_that_must_stand_and_may_not_meet_leaves_no_plan() -> None:
    problem = replace(random_problem(3), must=(("F0", "nobody"),))
    assert solve(problem).verdict is Verdict.IMPOSSIBLE
