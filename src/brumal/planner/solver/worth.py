"""What a plan is worth: its true expectation, and what bad seasons take off where they count."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from brumal.planner.limits.every import keeps_limits
from brumal.planner.problem import Problem
from brumal.planner.risk.cvar import bad_mean
from brumal.planner.wishes.chances import all_chances, chance_id, log_none
from brumal.planner.wishes.surplus import TermLaws, all_terms

SLACK = 1e-7
"""How far a chance may miss its limit, in logs, and two values differ and still be a tie."""


def expected_value(problem: Problem, terms: Sequence[TermLaws], chosen: Sequence[int]) -> float:
    """Return the expected value of a plan: full prices less what saturated wishes lose.

    What animals cost for being used at all is taken off too, and what the season adds to wishes
    that may wait is in it, and what pairs given up count against it.
    """
    value = problem.income - problem.use_cost(chosen) + problem.routes_money(chosen)
    value += problem.switches(chosen)
    worth: list[float] = problem.columns.worth[list(chosen)].tolist()
    value += sum(worth)
    for wish, laws in zip(problem.wish_terms, terms, strict=True):
        value -= wish.cost * laws.surplus(chosen)
    return value


def bad_value(problem: Problem, chosen: Sequence[int]) -> float:
    """Return the mean value of a plan in the worst of the sampled seasons.

    What it adds to wishes that may wait is the same in all of them, and what pairs given up count.
    """
    once = problem.income - problem.use_cost(chosen) + problem.routes_money(chosen)
    return once + problem.switches(chosen) + bad_mean(problem, chosen)


def true_value(problem: Problem, terms: Sequence[TermLaws], chosen: Sequence[int]) -> float:
    """Return what the season maximises: the expected value, less the weighted shortfall."""
    value = expected_value(problem, terms, chosen)
    if problem.risk is None:
        return value
    return value - problem.risk.weight * (value - bad_value(problem, chosen))


def value_of(problem: Problem, plan: Sequence[int]) -> float:
    """Return the true value of a plan by the laws of its own pairs alone."""
    return values_of(problem, [plan])[0]


def values_of(problem: Problem, plans: Sequence[Sequence[int]]) -> list[float]:
    """Return the true value of each plan; the laws of pairs that they share are gathered once."""
    made, places = _together(problem, plans)
    terms = all_terms(made)
    return [true_value(made, terms, plan) for plan in places]


def _together(problem: Problem, plans: Sequence[Sequence[int]]) -> tuple[Problem, list[list[int]]]:
    """Return the season of the pairs that are in any of the plans, and the plans in it."""
    used = sorted({index for plan in plans for index in plan})
    place = {index: at for at, index in enumerate(used)}
    return problem.only(used), [[place[index] for index in plan] for plan in plans]


def is_allowed(problem: Problem, plan: Sequence[int], omit: Collection[str] = ()) -> bool:
    """Say whether a plan does all that it must, passes no limit and meets every chance wish.

    ``omit`` holds the ids of those that are not in force.
    """
    return keeps_limits(problem, plan, omit) and not missed_by_each(problem, [plan], omit)[0]


def missed_by_each(
    problem: Problem, plans: Sequence[Sequence[int]], omit: Collection[str] = ()
) -> list[tuple[str, ...]]:
    """Return for each plan the chance wishes in force that it does not meet, in words."""
    if all(chance_id(wish) in omit for wish in problem.chances):
        return [() for _ in plans]
    made, places = _together(problem, plans)
    asked = [
        (wish, laws)
        for wish, laws in zip(made.chances, all_chances(made), strict=True)
        if chance_id(wish) not in omit
    ]
    return [
        tuple(w.words for w, laws in asked if log_none(laws, plan) > w.log_limit + SLACK)
        for plan in places
    ]


def most_worth(problem: Problem) -> float:
    """Return a bound on every plan that needs no solver: each dam with her pair of most worth.

    Wishes that are filled and fees only take off it, and the mean of the worst seasons is no more
    than that of all.
    """
    columns, worth = problem.columns, problem.columns.worth
    if problem.risk is not None:
        luck = [candidate.luck for candidate in problem.candidates]
        money = np.array([0.0 if own is None else own.money.mean() for own in luck])
        worth = (1 - problem.risk.weight) * worth + problem.risk.weight * money
    best = np.zeros(len(columns.dams))
    np.maximum.at(best, columns.dam, worth + problem.standing)
    routes = sum(route.value * max(route.gains.values()) for route in problem.routes)
    return problem.fixed + routes + float(best.sum())
