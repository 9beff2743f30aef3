"""The next best sire for each female of a plan, should hers refuse: all other pairs as they are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from brumal.planner.limits.every import fitting, keeps_limits
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import SecondChoice
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import missed_by_each, values_of

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
    plans = [
        (at, plan)
        for at in chosen
        if problem.columns.pairs[at] not in problem.must
        for plan in islice(_with_others(problem, chosen, at, by_worth), most)
    ]
    values = values_of(problem, [plan for _, plan in plans])
    missed = missed_by_each(problem, [plan for _, plan in plans])
    best: dict[int, _Tried] = {}
    for (at, plan), value, own in zip(plans, values, missed, strict=True):
        tried = _Tried(problem.columns.pairs[plan[-1]][1], value, own)
        best[at] = max(best.get(at, tried), tried, key=lambda each: (not each.missed, each.value))
    return {
        problem.columns.pairs[at]: SecondChoice(
            sire=each.sire,
            less=max(season.solution.objective - each.value, 0.0),
            missed=each.missed,
        )
        for at, each in best.items()
    }


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
    hers = by_worth[(dam[by_worth] == dam[at]) & (by_worth != at)]
    for other in fitting(problem, rest, hers):
        plan = [*rest, other]
        if not problem.more or keeps_limits(problem, plan):
            yield plan
