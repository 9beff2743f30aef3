"""Bad seasons in the objective, against every plan there is and plain counting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from brumal.planner.risk.cvar import bad_cut, bad_mean, seasons_of
from brumal.planner.solver import solve as solving
from brumal.planner.solver.answer import EXACT, SolveOptions
from brumal.planner.solver.known_cuts import carried
from brumal.planner.solver.solve import solve
from brumal.planner.solver.worth import bad_value, expected_value
from brumal.planner.wishes.surplus import all_terms
from long_forms import thinned
from small_seasons import (
    agree,
    bad_seasons,
    every_plan,
    random_problem,
    risky,
)


def agrees(seed: int, solver: str = "highs") -> None:
    problem = risky(random_problem(seed), seed)
    agree(problem, solve(problem, SolveOptions(solver=solver, gap=0)))


@pytest.mark.parametrize("seed", thinned(range(120), 3))
def test_the_plan_equals_brute_force(seed: int) -> None:
    agrees(seed)


@pytest.mark.slow
def test_many_plans_equal_brute_force() -> None:
    for seed in range(120, 2000):
        agrees(seed)


@pytest.mark.parametrize("seed", thinned(range(0, 120, 12), 2, 1))
def test_cbc_agrees_and_so_does_a_season_solved_by_parts(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    agrees(seed, "cbc")
    monkeypatch.setattr(solving, "_FIRST_ROOM", 1e-9)
    agrees(seed)


@pytest.mark.parametrize("seed", range(20))
def test_bounds_hold_for_every_plan_and_touch_at_one(seed: int) -> None:
    problem = risky(random_problem(seed), seed)
    seasons = seasons_of(problem)
    assert seasons is not None
    place = {c.pair: n for n, c in enumerate(problem.candidates)}
    plans = [[place[c.pair] for c in plan] for plan in every_plan(problem)][:60]
    for plan in plans[:10]:
        amounts = np.zeros(len(problem.candidates))
        amounts[plan] = 1
        cut, lost = bad_cut(seasons, amounts)
        assert lost == pytest.approx(-bad_mean(problem, plan))
        for other in plans:
            least = cut.constant + sum(cut.coefficients.get(n, 0.0) for n in other)
            made = tuple(problem.candidates[n] for n in other)
            true = -bad_seasons(problem, made)
            assert least <= true + 1e-6
            assert other != plan or least == pytest.approx(true)


@pytest.mark.parametrize("seed", thinned(range(30), 2))
def test_more_weight_makes_bad_seasons_better_and_the_mean_no_better(seed: int) -> None:
    whole = risky(random_problem(seed), seed)
    assert whole.risk
    before = None
    for weight in (0.0, 0.3, 0.7, 1.0):
        problem = replace(whole, risk=replace(whole.risk, weight=weight))
        solution = solve(problem, EXACT)
        if solution.chosen is None:
            return
        terms = all_terms(problem)
        told = (
            expected_value(problem, terms, solution.chosen),
            bad_value(problem, solution.chosen),
        )
        if weight == 0:
            assert solution.objective == pytest.approx(
                solve(replace(whole, risk=None), EXACT).objective, abs=1e-3
            )
        elif before is not None:
            assert told[0] <= before[0] + 1e-2
            assert told[1] >= before[1] - 1e-2
        before = told


@pytest.mark.parametrize("seed", range(30))
def test_questions_are_answered_as_afresh(seed: int) -> None:
    problem = risky(random_problem(seed), seed)
    if not problem.candidates:
        return
    base = solve(problem, EXACT)
    moved = replace(problem.candidates[0], value=problem.candidates[0].value + 40)
    for changed in (
        replace(problem, boxes=None),
        replace(problem, candidates=problem.candidates[1:], must=()),
        replace(problem, candidates=(moved, *problem.candidates[1:])),
        replace(problem, must_breed=(problem.candidates[-1].dam,)),
    ):
        known = carried(base.learnt, problem, changed)
        told, fresh = solve(changed, EXACT, known=known), solve(changed, EXACT)
        assert told.verdict is fresh.verdict
        assert told.objective == pytest.approx(fresh.objective, abs=1e-3, rel=1e-6)
