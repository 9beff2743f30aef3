"""The next best sire for each female of a plan, should hers refuse: all other pairs as they are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from brumal.planner.limits.every import keeps_limits
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import SecondChoice
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import missed_by_each, values_of
from brumal.planner.wishes.law_book import work_out

TRIED, ASKED = 3, 8
"""Of the sires that keep all limits so many are tried, those worth most to the pair first; so many
where chances are asked for, which the first may not meet."""


def second_choices(season: SolvedSeason) -> dict[Pair, SecondChoice]:
    """Return the second choice of each pair of the plan that has one within all limits.

    The other pairs stay as they are, so that nothing else has to be moved; a plan made anew may
    lose less. A sire with whom every chance asked for is still met goes before all others.
    """
    problem, chosen = season.problem, tuple(season.solution.chosen or ())
    place = np.arange(len(problem.candidates))
    by_worth = np.lexsort((place, -problem.columns.worth))
    most = ASKED if problem.chances else TRIED
    plans = {
        at: list(islice(_with_others(problem, chosen, at, by_worth), most))
        for at in chosen
        if problem.columns.pairs[at] not in problem.must
    }
    work_out(problem.candidates[plan[-1]] for own in plans.values() for plan in own)
    found: dict[Pair, SecondChoice] = {}
    for at, own in plans.items():
        best = _best(problem, own)
        if best is not None:
            less = max(season.solution.objective - best.value, 0.0)
            choice = SecondChoice(sire=best.sire, less=less, missed=best.missed)
            found[problem.columns.pairs[at]] = choice
    return found


@dataclass(frozen=True, slots=True)
class _Tried:
    """A sire tried in the place of another: what the plan is then worth, and chances it misses."""

    sire: str
    value: float
    missed: tuple[str, ...]


def _with_others(
    problem: Problem, chosen: Sequence[int], at: int, by_worth: NDArray[np.intp]
) -> Iterator[list[int]]:
    """Yield the plans within all limits that have another sire for one pair, worth most first."""
    dam = problem.columns.dam
    rest = [each for each in chosen if each != at]
    for other in by_worth[(dam[by_worth] == dam[at]) & (by_worth != at)].tolist():
        plan = [*rest, other]
        if keeps_limits(problem, plan, changed=(at, other)):
            yield plan


def _best(problem: Problem, plans: Sequence[Sequence[int]]) -> _Tried | None:
    """Return the best of the plans, the first of equal ones."""
    if not plans:
        return None
    values, missed = values_of(problem, plans), missed_by_each(problem, plans)
    sires = (problem.columns.pairs[plan[-1]][1] for plan in plans)
    return max(map(_Tried, sires, values, missed), key=lambda each: (not each.missed, each.value))
