"""The next best sire for each female of a plan, should hers refuse: all other pairs as they are."""

from __future__ import annotations

from brumal.planner.limits.every import keeps_limits
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import SecondChoice
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import missed_chances, value_of

TRIED = 3
"""So many sires are tried, those worth most to the pair first."""


def second_choices(season: SolvedSeason) -> dict[Pair, SecondChoice]:
    """Return the second choice of each pair of the plan that has one within all limits.

    The other pairs stay as they are, so that nothing else has to be moved; a plan made anew may
    lose less. A sire with whom every chance asked for is still met goes before all others.
    """
    problem, chosen = season.problem, tuple(season.solution.chosen or ())
    by_dam: dict[str, list[int]] = {}
    for place, (dam, _) in enumerate(problem.columns.pairs):
        by_dam.setdefault(dam, []).append(place)
    found = {}
    for at in chosen:
        pair = problem.columns.pairs[at]
        if pair in problem.must:
            continue
        others = [place for place in by_dam[pair[0]] if place != at]
        others.sort(key=lambda place: (-problem.candidates[place].worth, place))
        plans = [[*(each for each in chosen if each != at), place] for place in others[:TRIED]]
        kept = [plan for plan in plans if keeps_limits(problem, plan)]
        if not kept:
            continue
        values = [value_of(problem, plan) for plan in kept]
        missed = [missed_chances(problem, plan) for plan in kept]
        best = max(range(len(kept)), key=lambda index: (not missed[index], values[index]))
        found[pair] = SecondChoice(
            sire=problem.columns.pairs[kept[best][-1]][1],
            less=max(season.solution.objective - values[best], 0.0),
            missed=missed[best],
        )
    return found
