"""A plan at once, before any solver has run: the plan before it repaired, or a greedy one."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.candidates import Candidates
from brumal.planner.season import problem_of
from brumal.planner.solver.greedy import first_plans
from brumal.planner.solver.worth import is_allowed, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPlan:
    """A plan within every limit: its true expected value, and each pair with its own."""

    value: float
    pairs: tuple[tuple[Pair, float], ...]


def first_plan(prepared: Prepared, found: Candidates, before: Collection[Pair]) -> FirstPlan | None:
    """Return the best of the plans that need no solver; ``None`` where none meets every wish.

    ``before`` are the pairs of the plan before the change: as many of them stand as still fit.
    """
    problem = problem_of(prepared, found)
    if problem.must_stand().sum() < len(set(problem.must)):
        return None
    plans = first_plans(problem, before, np.zeros(len(problem.candidates)))
    allowed = [plan for plan in dict.fromkeys(plans) if is_allowed(problem, plan, ())]
    if not allowed:
        return None
    value, best = max((value_of(problem, plan), plan) for plan in allowed)
    pairs = [problem.candidates[place] for place in best]
    return FirstPlan(value=value, pairs=tuple(sorted((each.pair, each.value) for each in pairs)))
