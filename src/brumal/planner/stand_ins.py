"""Who takes the place of an animal that is too light on its weigh day."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

import numpy as np

from brumal.planner.limits.every import fitting
from brumal.planner.plan import StandIns
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import SLACK, values_of

_TRIED = 12
"""So many of the pairs left, those worth most by themselves, are counted exactly for each place."""


def stand_ins(season: SolvedSeason) -> tuple[StandIns, ...]:
    """Return who takes the place of each animal whose start waits for a weight, by animal.

    The rest of the plan stays. Each place goes to the pair that then brings most within all limits;
    a place that no pair fills to a gain stays empty.
    """
    plan, columns = season.solution.chosen or (), season.problem.columns
    waiting = sorted(
        {start.animal for number in plan for start in season.found.waits_for(columns.pairs[number])}
    )
    return tuple(_for(season, plan, animal) for animal in waiting)


def _for(season: SolvedSeason, plan: Sequence[int], animal: str) -> StandIns:
    pairs = season.problem.columns.pairs
    kept = [number for number in plan if animal not in pairs[number]]
    found = []
    for _ in range(len(plan) - len(kept)):
        number = _best(season, kept, animal)
        if number is None:
            break
        kept.append(number)
        found.append(pairs[number])
    return StandIns(animal=animal, pairs=tuple(found))


def _best(season: SolvedSeason, kept: Sequence[int], animal: str) -> int | None:
    """Return the pair that adds most to a plan, without ``animal`` and others that must wait."""
    problem, columns = season.problem, season.problem.columns
    taken = {columns.pairs[number][0] for number in kept}
    ranked = np.argsort(-columns.worth, kind="stable")
    free = (
        number
        for number in fitting(problem, kept, ranked[columns.worth[ranked] > 0])
        if animal not in columns.pairs[number]
        and columns.pairs[number][0] not in taken
        and not season.found.starts[columns.pairs[number]].provisional
    )
    tried = list(islice(free, _TRIED))
    worth, *values = values_of(problem, [kept, *((*kept, number) for number in tried)])
    gains = [(value - worth, number) for value, number in zip(values, tried, strict=True)]
    best = max(gains, key=lambda each: (each[0], -each[1]), default=None)
    return best[1] if best is not None and best[0] > SLACK else None
