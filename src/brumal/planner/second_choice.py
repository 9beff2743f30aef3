"""The next best sire for each female of a plan, should hers refuse: all other pairs as they are."""

from __future__ import annotations

import numpy as np

from brumal.planner.limits.every import keeps_limits
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import SecondChoice
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
    columns, place = problem.columns, np.arange(len(problem.candidates))
    by_worth = np.lexsort((place, -columns.worth))
    most = ASKED if problem.chances else TRIED
    found: dict[Pair, SecondChoice] = {}
    for at in chosen:
        pair = columns.pairs[at]
        if pair in problem.must:
            continue
        others = by_worth[(columns.dam[by_worth] == columns.dam[at]) & (by_worth != at)]
        plans: list[list[int]] = []
        for other in others.tolist():
            plan = [*(each for each in chosen if each != at), other]
            if keeps_limits(problem, plan, changed=(at, other)):
                plans.append(plan)
            if len(plans) == most:
                break
        if not plans:
            continue
        values, missed = values_of(problem, plans), missed_by_each(problem, plans)
        best = max(range(len(plans)), key=lambda n: (not missed[n], values[n]))
        found[pair] = SecondChoice(
            sire=columns.pairs[plans[best][-1]][1],
            less=max(season.solution.objective - values[best], 0.0),
            missed=missed[best],
        )
    return found
