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
    kept: list[tuple[int, list[int]]] = []
    for at in chosen:
        if columns.pairs[at] in problem.must:
            continue
        others = by_worth[(columns.dam[by_worth] == columns.dam[at]) & (by_worth != at)]
        own: list[list[int]] = []
        for other in others.tolist():
            plan = [*(each for each in chosen if each != at), other]
            if keeps_limits(problem, plan, changed=(at, other)):
                own.append(plan)
            if len(own) == most:
                break
        kept += [(at, plan) for plan in own]
    plans = [plan for _, plan in kept]
    values, missed_by = values_of(problem, plans), missed_by_each(problem, plans)
    best: dict[Pair, tuple[bool, float]] = {}
    found: dict[Pair, SecondChoice] = {}
    for (at, plan), value, missed in zip(kept, values, missed_by, strict=True):
        pair = columns.pairs[at]
        if pair not in best or (not missed, value) > best[pair]:
            best[pair] = not missed, value
            found[pair] = SecondChoice(
                sire=columns.pairs[plan[-1]][1],
                less=max(season.solution.objective - value, 0.0),
                missed=missed,
            )
    return found
