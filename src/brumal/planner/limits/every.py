"""All limits of a season; a new kind is a module of this package and its name in ``KINDS``."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from functools import lru_cache

from brumal.planner.limits import boxes, held_back, males, resting, spend, tubs
from brumal.planner.limits.limit import TOLERANCE, Limit, More
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.columns import Numbers
from brumal.planner.problem import Problem

KINDS = (males, tubs, boxes, spend, resting, held_back)
"""In the order in which a keeper gives them up, the easiest first."""


@lru_cache(maxsize=2)
def limits_of(problem: Problem) -> tuple[Limit, ...]:
    """Return every limit that is set; what could never bind has none.

    Those of the last two seasons are kept: many plans of one season are held against them.
    """
    return tuple(limit for kind in KINDS for limit in kind.limits(problem))


def more_of_each(problem: Problem) -> Iterator[More]:
    """Yield the seasons with a little more of each thing that is limited."""
    for kind in KINDS:
        yield from kind.more(problem)


def must_id(pair: Pair) -> str:
    """Return the id of the statement that a pair has to be made."""
    return f"must_pair[{pair[0]} x {pair[1]}]"


def keeps_limits(
    problem: Problem,
    plan: Sequence[int],
    omit: Collection[str] = (),
) -> bool:
    """Say whether a plan does all that it must and passes no limit; chance wishes are not asked.

    A plan is a sequence of indices of candidates; ``omit`` holds the ids of limits and of pairs
    that have to stand (``must_id``) which are not in force.
    """
    pairs = {problem.columns.pairs[index] for index in plan}
    dams = {dam for dam, _ in pairs}
    must = {pair for pair in problem.must if must_id(pair) not in omit}
    if len(dams) < len(plan) or not must <= pairs or not set(problem.must_breed) <= dams:
        return False
    for row in problem.more:
        if sum(row.coefficients.get(pair, 0.0) for pair in pairs) < row.at_least - TOLERANCE:
            return False
    return all(limit.id in omit or limit.is_kept(plan) for limit in limits_of(problem))


def fitting(problem: Problem, plan: Sequence[int], among: Numbers) -> list[int]:
    """Return those of some candidates that may join a plan they are not in, as all limits go."""
    for limit in limits_of(problem):
        among = among[limit.fits(plan, among)]
    found: list[int] = among.tolist()
    return found
