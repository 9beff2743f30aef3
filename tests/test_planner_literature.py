"""Plans against the literature: mate allocation as a transportation problem, and against greed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import Problem
from brumal.planner.solver.answer import EXACT, Verdict
from brumal.planner.solver.solve import solve
from small_seasons import is_allowed, random_problem, worth


def transportation(seed: int, dams: int, sires: int, each: int) -> tuple[Problem, np.ndarray]:
    """Every dam with every sire, so many dams a sire, nothing else: the form of the paper."""
    merit = np.random.default_rng(seed).normal(100, 60, size=(dams, sires)).round(2)
    pairs = tuple(
        Candidate(
            dam=f"D{dam:02d}",
            sire=f"S{sire:02d}",
            value=float(merit[dam, sire]),
            young=5.0,
            eggs=7.0,
            box_eggs=7.0,
        )
        for dam in range(dams)
        for sire in range(sires)
    )
    limits = {f"S{sire:02d}": each for sire in range(sires)}
    return Problem(candidates=pairs, male_limits=limits), merit


@pytest.mark.parametrize(
    ("seed", "dams", "sires", "each"), [(1, 12, 4, 3), (2, 20, 5, 2), (3, 9, 9, 1)]
)
def test_mate_allocation_is_the_transportation_optimum(
    seed: int, dams: int, sires: int, each: int
) -> None:
    """Jansen & Wilton 1985, J Dairy Sci 68:1302 (abstract read): each dam at most one mating, each
    sire at most k0 dams; a dummy mate turns it into a transportation problem. Solved here by SciPy:
    each sire stands k0 times, and a column of zeros for each dam lets her go unmated.
    """
    problem, merit = transportation(seed, dams, sires, each)
    columns = np.hstack([np.repeat(merit, each, axis=1), np.zeros((dams, dams))])
    rows, chosen = linear_sum_assignment(columns, maximize=True)
    solution = solve(problem, EXACT)
    assert solution.verdict is Verdict.PROVEN
    assert solution.objective == pytest.approx(float(columns[rows, chosen].sum()), abs=1e-3)


def greedy(problem: Problem) -> tuple[Candidate, ...]:
    """Take the dearest pair that still fits, again and again, those that must stand first."""
    ranked = sorted(
        problem.candidates, key=lambda c: (c.pair not in problem.must, -c.worth, c.pair)
    )
    plan: tuple[Candidate, ...] = ()
    for candidate in ranked:
        longer = (*plan, candidate)
        chance_free = Problem(
            **{
                name: getattr(problem, name)
                for name in problem.__dataclass_fields__
                if name not in ("chances", "must")
            }
        )
        if is_allowed(chance_free, longer) and worth(problem, longer) > worth(problem, plan):
            plan = longer
    return plan


@pytest.mark.parametrize("seed", range(60))
def test_the_plan_is_never_below_greed(seed: int) -> None:
    problem = random_problem(seed)
    plan = greedy(problem)
    if not is_allowed(problem, plan):
        return
    solution = solve(problem, EXACT)
    assert solution.objective >= worth(problem, plan) - 1e-3
