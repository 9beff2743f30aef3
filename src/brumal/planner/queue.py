"""Females that could breed but are left out: what is in the way, and who is next in line.

What it costs to put a female in is found by exchange: her pair joins the plan, a female of the plan
makes room by resting or by another male, and then at most one more rests. Exchanges are ranked by
what pairs are worth less what full wishes lose at the plan, and those that rank first are counted
exactly. So every figure is that of a plan that could be made; ``brumal why`` solves the season
again and may find one that costs less.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from brumal.planner.limits.every import keeps_limits, limits_of
from brumal.planner.limits.limit import TOLERANCE
from brumal.planner.pairs.candidate import Array
from brumal.planner.plan import NextInLine
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import missed_by_each, values_of
from brumal.planner.wishes.chances import all_chances, log_none
from brumal.planner.wishes.surplus import all_terms, plan_law

MOST_IN_LINE = 8
"""So many females are told in their order; behind them the order is not worth its time."""
_LOOKED_AT = 12
_TRIED = 3
_FEW = 4
"""So many of a female's pairs, and of other sires for each female of the plan, are looked at."""
_NONE = -1
_AT_ONCE = 256
"""So many steps are held against the limits in one go at first, then ever more."""


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """Ways to make room in a plan, as rows of three places: out, its dam's new pair, out as well.

    -1 stands for none. ``gain``, shape (steps,), ranks them, and ``order`` has their numbers, those
    that gain most first, ``able`` those of them that pass no limit by themselves; ``left`` holds
    for each limit what each pair counts, shape (pairs + 1,), and what every step leaves free, shape
    (steps,). ``over``, shape (steps,), says how many limits a step passes by itself.
    """

    rows: NDArray[np.intp]
    gain: Array
    order: NDArray[np.intp]
    able: NDArray[np.intp]
    left: tuple[tuple[Array, Array], ...]
    over: NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class _Ranked:
    """An exchange: what ranks it, and its four places: her pair, then those of the step."""

    gain: float
    places: tuple[int, ...]


def next_in_line(season: SolvedSeason, females: Sequence[str]) -> tuple[NextInLine, ...]:
    """Return the females left out whose exchange costs least, the first in line first."""
    plan = season.solution.chosen
    if plan is None or not females:
        return ()
    worth = _worth_at(season, plan)
    steps = _steps(season, plan, worth)
    columns = season.problem.columns
    ranked = {}
    for dam in females:
        hers = _first(worth, columns.dam == columns.dams.index(dam))
        ranked[dam] = _exchanges(steps, worth, hers)
    able = [dam for dam, own in ranked.items() if own]
    first = sorted(able, key=lambda dam: (-round(ranked[dam][0].gain, 6), dam))[:_LOOKED_AT]
    tried = [(dam, each.places) for dam in first for each in ranked[dam]]
    line = sorted(_told(season, plan, tried), key=lambda each: (each.loss, each.dam))
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


def _steps(season: SolvedSeason, plan: Sequence[int], worth: Array) -> _Steps:
    """Return the ways to make room: nobody, one female rests or moves, and one more rests."""
    columns = season.problem.columns
    rows = [(_NONE, _NONE, _NONE)]
    for out in plan:
        others = [each for each in _first(worth, columns.dam == columns.dam[out]) if each != out]
        rows += [(out, other, _NONE) for other in (_NONE, *others)]
        rows += [(out, other, also) for other in others for also in plan if also != out]
    moves = np.array(rows, dtype=np.intp)
    left = []
    for limit in limits_of(season.problem):
        amounts = np.zeros(len(columns) + 1)
        amounts[limit.members] = limit.amounts
        free = limit.most + TOLERANCE - limit.taken(plan)
        left.append((amounts, free - _change(amounts, moves)))
    for amounts, free in _chances(season, plan):
        left.append((amounts, free - _change(amounts, moves)))
    over = np.zeros(len(moves), dtype=np.intp)
    for _, room in left:
        over += room < 0
    gain = _change(np.append(worth, 0.0), moves)
    order = np.argsort(-gain, kind="stable")
    return _Steps(moves, gain, order, order[over[order] == 0], tuple(left), over)


def _chances(season: SolvedSeason, plan: Sequence[int]) -> Iterator[tuple[Array, float]]:
    """Yield for each chance wish what the pairs of the plan do for it, and how much is to spare.

    Both are logs of the chance of none: what is lost with each pair by itself, negated. Other pairs
    count as doing nothing, so that a step which is kept as possible may still fail, and is checked.
    """
    made, every = season.problem.only(plan), range(len(plan))
    for wish, laws in zip(made.chances, all_chances(made), strict=True):
        whole = log_none(laws, every)
        amounts = np.zeros(len(season.problem.columns) + 1)
        for place, index in enumerate(plan):
            amounts[index] = whole - log_none(laws, [each for each in every if each != place])
        yield amounts, wish.log_limit + TOLERANCE - whole


def _change(figures: Array, moves: NDArray[np.intp]) -> Array:
    """Return by how much steps change a sum over the plan; the last figure, of no pair, is zero."""
    out, other, also = moves.T
    change: Array = figures[other] - figures[out] - figures[also]
    return change


def _exchanges(steps: _Steps, worth: Array, hers: Sequence[int]) -> list[_Ranked]:
    """Return the best exchanges for a female's pairs that pass no limit, the best first."""
    found = []
    for place, pair in enumerate(hers):
        for step in islice(_fitting(steps, pair), _TRIED):
            gain = float(worth[pair] + steps.gain[step])
            found.append((-round(gain, 6), place, step, gain))
    return [
        _Ranked(gain, (hers[place], *map(int, steps.rows[step])))
        for *_, place, step, gain in sorted(found)[:_TRIED]
    ]


def _fitting(steps: _Steps, pair: int) -> Iterator[int]:
    """Yield the steps that make room for a pair under every limit, those that gain most first."""
    bearing = [(amounts[pair], left) for amounts, left in steps.left if amounts[pair]]
    # What a step passes by itself no pair mends that counts something everywhere.
    order = steps.able if all(amount > 0 for amount, _ in bearing) else steps.order
    start, size = 0, _AT_ONCE
    while start < order.size:
        some = order[start : start + size]
        start, size = start + size, 4 * size
        over = steps.over[some]
        for amount, left in bearing:
            # A pair counts under few of the limits: under the others steps are as they were.
            over += (amount > left[some]).astype(np.intp) - (left[some] < 0)
        yield from some[over <= 0].tolist()


def _first(worth: Array, among: NDArray[np.bool_]) -> list[int]:
    """Return the pairs worth most of some, the same on every machine."""
    own = np.flatnonzero(among)
    order = np.lexsort((own, -worth[own].round(6)))
    return [int(place) for place in own[order[:_FEW]]]


def _told(
    season: SolvedSeason, plan: Sequence[int], exchanges: Sequence[tuple[str, tuple[int, ...]]]
) -> list[NextInLine]:
    """Return the best of each female's exchanges by its true value; one that can be made."""
    problem, pairs = season.problem, season.problem.columns.pairs
    made = [(dam, row, _changed(plan, row)) for dam, row in exchanges]
    made = [each for each in made if keeps_limits(problem, each[2])]
    missed = missed_by_each(problem, [changed for *_, changed in made])
    made = [each for each, chances in zip(made, missed, strict=True) if not chances]
    best: dict[str, NextInLine] = {}
    values = values_of(problem, [changed for *_, changed in made])
    for (dam, (put, out, other, also), _), value in zip(made, values, strict=True):
        loss = season.solution.objective - value
        if dam not in best or loss < best[dam].loss:
            best[dam] = NextInLine(
                dam=dam,
                sire=pairs[put][1],
                loss=loss,
                for_dam="" if out == _NONE else pairs[out][0],
                other_sire="" if other == _NONE else pairs[other][1],
                rests="" if also == _NONE else pairs[also][0],
                too_close=loss <= season.solution.bound - season.solution.objective,
            )
    return list(best.values())


def _changed(plan: Sequence[int], exchange: Sequence[int]) -> list[int]:
    """Return a plan after an exchange."""
    put, out, other, also = exchange
    kept = [each for each in plan if each not in (out, also)]
    return sorted([*kept, *(each for each in (put, other) if each != _NONE)])
