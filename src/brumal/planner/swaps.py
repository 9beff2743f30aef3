"""Plans one step from a plan: one pair put in and at most one taken out, the likeliest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairing import Array
from brumal.planner.problem import Problem
from brumal.planner.surplus import Cut


def swaps(
    problem: Problem, plan: Sequence[int], adds: Sequence[int], bounds: Sequence[Cut], least: float
) -> Iterator[list[int]]:
    """Yield plans that put one of ``adds`` into a plan, those that may be worth most first.

    Values are judged by ``bounds`` on the wishes, best exact at the plan, so that none is taken for
    less than it is worth; plans that cannot bring ``least`` are left out. Of the limits only boxes,
    tubs and males' pairings are kept here: the caller checks the rest.
    """
    if not adds:
        return
    worth = _estimates(problem, plan, adds, bounds)
    worth[~_fitting(problem, plan, adds)] = -np.inf
    flat = worth.reshape(-1)
    order = np.argsort(-flat, kind="stable")
    for place in order[: int((flat >= least).sum())].tolist():
        drop, add = divmod(place, len(adds))
        kept = [index for at, index in enumerate(plan) if at != drop - 1]
        yield sorted([*kept, adds[add]])


def _estimates(
    problem: Problem, plan: Sequence[int], adds: Sequence[int], bounds: Sequence[Cut]
) -> Array:
    """Return at most too high a value for each drop (none first, then the plan's) and each add."""

    def outer(figures: Array, constant: float) -> Array:
        dropped = np.concatenate([[0.0], figures[list(plan)]])
        made = constant + figures[list(plan)].sum() - dropped
        total: Array = made[:, None] + figures[list(adds)][None, :]
        return total

    each = np.array([c.worth - problem.use_costs.get(c.dam, 0.0) for c in problem.candidates])
    value = outer(each, problem.income)
    for number, wish in enumerate(problem.wish_terms):
        surplus = np.zeros_like(value)
        for cut in bounds:
            if cut.number == number:
                slopes = np.zeros(len(problem.candidates))
                slopes[list(cut.coefficients)] = list(cut.coefficients.values())
                surplus = np.maximum(surplus, outer(slopes, cut.constant))
        value -= wish.cost * surplus
    return value


def _fitting(problem: Problem, plan: Sequence[int], adds: Sequence[int]) -> NDArray[np.bool_]:
    """Say for each drop and each add whether room, partners and males' pairings allow it."""
    made = [problem.candidates[index] for index in plan]
    new = [problem.candidates[index] for index in adds]

    def outer(figures: Sequence[float], added: Sequence[float]) -> Array:
        dropped = np.array([0.0, *figures])
        total: Array = (sum(figures) - dropped)[:, None] + np.array(added)[None, :]
        return total

    fits = np.ones((len(plan) + 1, len(adds)), dtype=bool)
    places = problem.box_places
    if places is not None:
        fits &= outer(*([problem.places(c) for c in part] for part in (made, new))) <= places
    if problem.tubs is not None:
        young = outer([c.young for c in made], [c.young for c in new])
        fits &= problem.in_tub * young <= problem.tubs
    dams = np.array(["", *(c.dam for c in made)])
    sires = np.array(["", *(c.sire for c in made)])
    for column, candidate in enumerate(new):
        if candidate.dam in dams:
            fits[:, column] &= dams == candidate.dam
        used = int((sires == candidate.sire).sum())
        limit = problem.male_limits.get(candidate.sire, len(plan) + 1)
        fits[:, column] &= used - (sires == candidate.sire) < limit
    return fits
