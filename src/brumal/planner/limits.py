"""What each limit of the season counts: upper bounds on sums over the pairs made."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from brumal.planner.pair_columns import Numbers
from brumal.planner.pairing import Array
from brumal.planner.problem import Problem
from brumal.planner.statements import (
    BOXES,
    KIN,
    RESTING,
    SPEND,
    TUBS,
    male_statement,
    must_statement,
    share_statement,
)

TOLERANCE = 1e-6
"""By how much a plan of the solvers may pass a limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The pairs made may count at most ``most``, what sires cost for being used at all included.

    ``members`` are indices of candidates, ``amounts`` what each of them counts; others count
    nothing.
    """

    statement: str
    members: Numbers
    amounts: Array
    most: float
    fees: Mapping[str, float] = field(default_factory=dict)


def limits_of(problem: Problem) -> Iterator[Limit]:
    """Yield every limit that is set; what counts nothing has none."""
    yield from _males(problem)
    yield from _room(problem)
    yield from _money(problem)
    yield from _holdbacks(problem)


def keeps_limits(problem: Problem, plan: Sequence[int], omit: Collection[str] = ()) -> bool:
    """Say whether a plan does all that it must and passes no limit; chance wishes are not asked."""
    made = [problem.candidates[index] for index in plan]
    pairs, dams, sires = {c.pair for c in made}, {c.dam for c in made}, {c.sire for c in made}
    must = {pair for pair in problem.must if must_statement(*pair) not in omit}
    if len(dams) < len(made) or not must <= pairs or not set(problem.must_breed) <= dams:
        return False
    for row in problem.more:
        if sum(row.coefficients.get(pair, 0.0) for pair in pairs) < row.at_least - TOLERANCE:
            return False
    chosen = np.zeros(len(problem.candidates), dtype=bool)
    chosen[list(plan)] = True
    for limit in limits_of(problem):
        taken = float(limit.amounts[chosen[limit.members]].sum())
        taken += sum(fee for sire, fee in limit.fees.items() if sire in sires)
        if limit.statement not in omit and taken > limit.most + TOLERANCE:
            return False
    return True


def _males(problem: Problem) -> Iterator[Limit]:
    columns = problem.columns
    order = np.argsort(columns.sire, kind="stable")
    first = np.searchsorted(columns.sire[order], np.arange(len(columns.sires) + 1))
    for place, sire in enumerate(columns.sires):
        his = order[first[place] : first[place + 1]]
        most = problem.male_limits.get(sire)
        if most is not None and most < his.size:
            statement = male_statement(sire)
            yield Limit(statement=statement, members=his, amounts=np.ones(his.size), most=most)


def _room(problem: Problem) -> Iterator[Limit]:
    # For whole numbers ceil(small / c) + large <= boxes is small + c * large <= c * boxes.
    columns, places = problem.columns, problem.box_places
    if places is not None:
        small = columns.box_eggs <= problem.small_clutch
        taken = np.where(small, 1.0, float(problem.box_clutches))
        yield _of_all(problem, BOXES, taken, places)
    if problem.tubs is not None:
        yield _of_all(problem, TUBS, problem.in_tub * columns.young, problem.tubs)


def _money(problem: Problem) -> Iterator[Limit]:
    columns = problem.columns
    if problem.spend is not None:
        costs = problem.use_costs
        prices = [costs.get(dam, 0.0) if dam in problem.paid else 0.0 for dam in columns.dams]
        spent = columns.spend + np.array(prices)[columns.dam]
        fees = {sire: costs[sire] for sire in columns.sires if sire in problem.paid}
        yield _of_all(problem, SPEND, spent, problem.spend, fees)
    if problem.most_pairs is not None:
        yield _of_all(problem, RESTING, np.ones(len(columns)), problem.most_pairs)


def _of_all(
    problem: Problem,
    statement: str,
    amounts: Array,
    most: float,
    fees: Mapping[str, float] | None = None,
) -> Limit:
    every = np.arange(len(problem.candidates))
    return Limit(statement=statement, members=every, amounts=amounts, most=most, fees=fees or {})


def _holdbacks(problem: Problem) -> Iterator[Limit]:
    """Bind the young held back: shares and means, each multiplied out by all that are kept."""
    columns = problem.columns
    held = np.flatnonzero(columns.kept)
    kept = columns.kept[held]
    if problem.max_kin is not None:
        amounts = kept * (columns.kin[held] - problem.max_kin)
        yield Limit(statement=KIN, members=held, amounts=amounts, most=0.0)
    if problem.sire_share is not None:
        for place in np.unique(columns.sire[held]).tolist():
            amounts = kept * ((columns.sire[held] == place) - problem.sire_share)
            statement = share_statement(columns.sires[place])
            yield Limit(statement=statement, members=held, amounts=amounts, most=0.0)
