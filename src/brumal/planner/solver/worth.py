"""What a plan is worth: its true expectation, and what bad seasons take off where they count."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.planner.limits.every import keeps_limits
from brumal.planner.problem import Problem
from brumal.planner.risk.cvar import bad_mean
from brumal.planner.wishes.chances import all_chances, log_none
from brumal.planner.wishes.surplus import TermLaws, all_terms, plan_law, surplus

CHANCE_SLACK = 1e-7
"""How far a chance may miss its limit, in logs."""


def expected_value(problem: Problem, terms: Sequence[TermLaws], chosen: Sequence[int]) -> float:
    """Return the expected value of a plan: full prices less what saturated wishes lose.

    What animals cost for being used at all is taken off too.
    """
    value = problem.income - problem.use_cost(chosen)
    value += sum(problem.candidates[index].worth for index in chosen)
    for wish, laws in zip(problem.wish_terms, terms, strict=True):
        value -= wish.cost * surplus(plan_law(laws, chosen), laws.threshold)
    return value


def bad_value(problem: Problem, chosen: Sequence[int]) -> float:
    """Return the mean value of a plan in the worst of the sampled seasons."""
    return problem.income - problem.use_cost(chosen) + bad_mean(problem, chosen)


def true_value(problem: Problem, terms: Sequence[TermLaws], chosen: Sequence[int]) -> float:
    """Return what the season maximises: the expected value, less the weighted shortfall."""
    value = expected_value(problem, terms, chosen)
    if problem.risk is None:
        return value
    return value - problem.risk.weight * (value - bad_value(problem, chosen))


def value_of(problem: Problem, plan: Sequence[int]) -> float:
    """Return the true value of a plan by the laws of its own pairs alone."""
    made = problem.only(plan)
    return true_value(made, all_terms(made), range(len(plan)))


def is_allowed(problem: Problem, plan: Sequence[int]) -> bool:
    """Say whether a plan does all that it must, passes no limit and meets every chance wish."""
    if not keeps_limits(problem, plan):
        return False
    made, every = problem.only(plan), range(len(plan))
    return all(
        log_none(laws, every) <= wish.log_limit + CHANCE_SLACK
        for wish, laws in zip(made.chances, all_chances(made), strict=True)
    )
