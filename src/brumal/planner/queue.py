"""Females that could breed but are left out: what is in the way, and who is next in line.

What it costs to put a female in is found by exchange: her pair joins the plan, at most one of its
pairs goes, and the female of that pair rests or meets another male. Exchanges are ranked by what
pairs are worth less what full wishes lose at the plan, and those that rank first are counted
exactly. So every figure is that of a plan that could be made; ``brumal why`` solves the season
again and may find one that costs less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.planner.limits.every import limits_of
from brumal.planner.limits.limit import TOLERANCE
from brumal.planner.pairs.candidate import Array
from brumal.planner.plan import NextInLine
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import is_allowed, value_of
from brumal.planner.wishes.surplus import all_terms, plan_law

MOST_IN_LINE = 8
"""So many females are told in their order; behind them the order is not worth its time."""
_LOOKED_AT = 12
_TRIED = 3
_HERS = 6
"""So many of a female's pairs, and of other sires for each female of the plan, are looked at."""
_NONE = -1


@dataclass(frozen=True, slots=True, eq=False)
class _Exchanges:
    """Exchanges as rows of three places: the pair put in, the pair taken out, its dam's new pair.

    -1 stands for none. ``gain``, shape (exchanges,), ranks them.
    """

    rows: NDArray[np.intp]
    gain: Array

    def best(self) -> float:
        return float(self.gain.max(initial=-np.inf))


def next_in_line(season: SolvedSeason, females: Sequence[str]) -> tuple[NextInLine, ...]:
    """Return the females left out whose exchange costs least, the first in line first."""
    plan = season.solution.chosen
    if plan is None or not females:
        return ()
    worth = _worth_at(season, plan)
    ranked = {
        dam: _exchanges(season, plan, worth, dam)
        for dam in females
        if dam in season.problem.columns.dams
    }
    first = sorted(ranked, key=lambda dam: (-round(ranked[dam].best(), 6), dam))[:_LOOKED_AT]
    told = [_told(season, plan, dam, ranked[dam]) for dam in first]
    line = sorted((each for each in told if each), key=lambda each: (each.loss, each.dam))
    return tuple(line[:MOST_IN_LINE])


def _worth_at(season: SolvedSeason, plan: Sequence[int]) -> Array:
    """Return what each pair adds near a plan: its worth, less what it loses to full wishes.

    Beyond its threshold a wish takes its cost off each counted young: the slope of the expected
    surplus at the plan is the chance that the threshold is reached.
    """
    problem = season.problem
    columns = problem.columns
    costs = np.array([problem.use_costs.get(dam, 0.0) for dam in columns.dams])
    worth: Array = np.subtract(columns.worth, costs[columns.dam])
    if columns.means is None:
        return worth
    made = problem.only(plan)
    reached = [
        float(plan_law(laws, range(len(plan)))[laws.threshold :].sum()) for laws in all_terms(made)
    ]
    lost = np.array([wish.cost for wish in problem.wish_terms]) * np.array(reached)
    near: Array = worth - columns.means @ lost
    return near


def _exchanges(season: SolvedSeason, plan: Sequence[int], worth: Array, dam: str) -> _Exchanges:
    """Return the exchanges that put a female in and keep within all limits."""
    columns = season.problem.columns
    hers = _first(worth, columns.dam == columns.dams.index(dam))
    rows = [(new, _NONE, _NONE) for new in hers]
    for out in plan:
        others = _first(worth, columns.dam == columns.dam[out])
        rows += [
            (new, out, other)
            for new in hers
            for other in (_NONE, *(each for each in others if each != out))
        ]
    moves = np.array(rows, dtype=np.intp).reshape(-1, 3)
    fits = np.ones(len(moves), dtype=bool)
    for limit in limits_of(season.problem):
        amounts = np.zeros(len(columns) + 1)
        amounts[limit.members] = limit.amounts
        fits &= limit.taken(plan) + _change(amounts, moves) <= limit.most + TOLERANCE
    gain = np.where(fits, _change(np.append(worth, 0.0), moves), -np.inf)
    return _Exchanges(moves, gain)


def _change(figures: Array, moves: NDArray[np.intp]) -> Array:
    """Return by how much a sum over the plan changes; the last figure, of no pair, is zero."""
    put, out, other = moves.T
    change: Array = figures[put] - figures[out] + figures[other]
    return change


def _first(worth: Array, among: NDArray[np.bool_]) -> list[int]:
    """Return the pairs worth most of some, the same on every machine."""
    own = np.flatnonzero(among)
    order = np.lexsort((own, -worth[own].round(6)))
    return [int(place) for place in own[order[:_HERS]]]


def _told(
    season: SolvedSeason, plan: Sequence[int], dam: str, exchanges: _Exchanges
) -> NextInLine | None:
    """Return the best of the first exchanges by its true value; ``None``: none can be made."""
    pairs = season.problem.columns.pairs
    best: NextInLine | None = None
    for at in np.lexsort((np.arange(exchanges.gain.size), -exchanges.gain))[:_TRIED].tolist():
        if exchanges.gain[at] == -np.inf:
            break
        put, out, other = exchanges.rows[at].tolist()
        changed = [each for each in plan if each != out] + [put] + [other] * (other != _NONE)
        if not is_allowed(season.problem, sorted(changed)):
            continue
        loss = season.solution.objective - value_of(season.problem, sorted(changed))
        if best is None or loss < best.loss:
            best = NextInLine(
                dam=dam,
                sire=pairs[put][1],
                loss=loss,
                for_dam="" if out == _NONE else pairs[out][0],
                other_sire="" if other == _NONE else pairs[other][1],
                too_close=loss <= season.solution.bound - season.solution.objective,
            )
    return best
