"""The solver's plan against every plan there is, and against a checker that shares no code."""

from __future__ import annotations

import pytest

from brumal.planner.solve import SolveOptions, Verdict, solve
from small_seasons import brute_force, is_allowed, random_problem, worth


def agrees(seed: int, solver: str = "highs") -> None:
    problem = random_problem(seed)
    solution = solve(problem, SolveOptions(solver=solver))
    best = brute_force(problem)
    if best is None:
        assert solution.verdict is Verdict.IMPOSSIBLE
        assert solution.chosen is None
        return
    assert solution.verdict is Verdict.PROVEN
    assert solution.objective == pytest.approx(best, abs=1e-3, rel=2e-6)
    assert solution.bound >= best - 1e-3
    plan = tuple(problem.candidates[i] for i in solution.chosen)
    assert is_allowed(problem, plan)
    assert worth(problem, plan) == pytest.approx(solution.objective, abs=1e-6)


@pytest.mark.parametrize("seed", range(200))
def test_the_plan_equals_brute_force(seed: int) -> None:
    agrees(seed)


@pytest.mark.slow
def test_many_plans_equal_brute_force() -> None:
    for seed in range(200, 3000):
        agrees(seed)


@pytest.mark.parametrize("seed", range(0, 200, 10))
def test_cbc_and_highs_choose_the_same_plan(seed: int) -> None:
    problem = random_problem(seed)
    highs, cbc = (solve(problem, SolveOptions(solver=name)) for name in ("highs", "cbc"))
    assert highs.verdict is cbc.verdict
    assert highs.chosen == cbc.chosen
