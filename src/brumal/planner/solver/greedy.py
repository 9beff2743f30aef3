"""Plans to start a solve from, so that it is never left with less: greedy ones, an earlier one."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence

import numpy as np

from brumal.planner.limits.every import keeps_limits, limits_of
from brumal.planner.limits.limit import TOLERANCE
from brumal.planner.pairs.candidate import Array, Pair
from brumal.planner.problem import Problem
from brumal.planner.solver.runs import Plan

_LEAST = 1e-15


def first_plans(
    problem: Problem, known: Collection[Pair], amounts: Array, omit: Collection[str] = ()
) -> Iterator[Plan]:
    """Yield plans within every limit: the pairs of ``known`` that are still open, and greedy ones.

    Where they no longer fit together, as many of them as the greedy choice takes. With nothing
    known the first has no pairs at all. The greedy choice takes the pairs of greatest worth first,
    or those of which ``amounts``, shape (candidates,), is largest. Chance wishes are not asked.
    """
    wanted = set(known)
    stands = np.array([pair in wanted for pair in problem.columns.pairs], dtype=float)
    earlier = tuple(np.flatnonzero(stands).tolist())
    first = [earlier, greedy(problem, stands)] if wanted else [earlier]
    by_amount = [greedy(problem, amounts)] if amounts.any() else []
    for plan in (*first, greedy(problem, 0.0 * stands), *by_amount):
        if keeps_limits(problem, plan, omit):
            yield plan


def surest(problem: Problem) -> Array:
    """Return how much each pair does for the chance wishes: the log of the chance of none, negated.

    The result has the shape (candidates,).
    """
    found = np.zeros(len(problem.candidates))
    for number in range(len(problem.chances)):
        for index, candidate in enumerate(problem.candidates):
            if number in candidate.none:
                weights = problem.states_of(candidate.family_of_none(number))
                none = float(weights @ candidate.none[number])
                found[index] -= math.log(max(none, _LEAST))
    return found


def greedy(problem: Problem, amounts: Array) -> Plan:
    """Return the pairs that must stand, and then the next pair that fits, again and again.

    Dams that must be paired come first; the next is the pair of largest amount, then of most
    worth. Limits on means and shares, which a pair may loosen, are not looked at on the way.
    """
    limits = [limit for limit in limits_of(problem) if (limit.amounts >= 0).all()]
    left = np.array([limit.most + TOLERANCE for limit in limits])
    taken = np.zeros((len(problem.candidates), len(limits)))
    fees: dict[str, Array] = defaultdict(lambda: np.zeros(len(limits)))
    for place, limit in enumerate(limits):
        taken[limit.members, place] = limit.amounts
        for sire, fee in limit.fees.items():
            fees[sire][place] = fee
    plan: list[int] = []
    dams: set[str] = set()
    for index in _ranked(problem, amounts.tolist()):
        dam, sire = problem.columns.pairs[index]
        if dam in dams:
            continue
        takes = taken[index] + fees[sire] if sire in fees else taken[index]
        if (takes <= left).all():
            left -= takes
            plan.append(index)
            dams.add(dam)
            fees.pop(sire, None)
    return tuple(sorted(plan))


def _ranked(problem: Problem, amounts: Sequence[float]) -> Sequence[int]:
    """Return pairs that must stand, those of dams that must breed, then others, the best first.

    Others are those of some amount or worth.
    """
    columns, stands = problem.columns, problem.must_stand().tolist()
    asked = [dam in problem.must_breed for dam, _ in columns.pairs]
    costs = np.array([problem.use_costs.get(dam, 0.0) for dam in columns.dams])
    worth = (columns.worth + problem.standing - costs[columns.dam]).tolist()
    wanted = [
        n for n, own in enumerate(worth) if stands[n] or asked[n] or amounts[n] > 0 or own > 0
    ]
    return sorted(
        wanted,
        key=lambda n: (not stands[n], not asked[n], -round(amounts[n], 6), -worth[n], n),
    )
