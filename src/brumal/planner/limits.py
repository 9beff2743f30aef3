"""What each limit of the season counts: upper bounds on sums over the pairs made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

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
Terms = Sequence[tuple[int, float]]
"""(index of a candidate, what it counts); others count nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """The pairs made may count at most ``most``, what sires cost for being used at all included."""

    statement: str
    pairs: Terms
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
    chosen = set(plan)
    for limit in limits_of(problem):
        taken = sum(amount for index, amount in limit.pairs if index in chosen)
        taken += sum(fee for sire, fee in limit.fees.items() if sire in sires)
        if limit.statement not in omit and taken > limit.most + TOLERANCE:
            return False
    return True


def pairs_of(animals: Iterable[str]) -> dict[str, list[int]]:
    """Return the indices of each animal's pairs, animals in the order of their names."""
    found: dict[str, list[int]] = defaultdict(list)
    for index, animal in enumerate(animals):
        found[animal].append(index)
    return dict(sorted(found.items()))


def _males(problem: Problem) -> Iterator[Limit]:
    for sire, his in pairs_of(candidate.sire for candidate in problem.candidates).items():
        most = problem.male_limits.get(sire)
        if most is not None and most < len(his):
            pairs = [(index, 1.0) for index in his]
            yield Limit(statement=male_statement(sire), pairs=pairs, most=most)


def _room(problem: Problem) -> Iterator[Limit]:
    # For whole numbers ceil(small / c) + large <= boxes is small + c * large <= c * boxes.
    places = problem.box_places
    if places is not None:
        pairs = [(n, problem.places(c)) for n, c in enumerate(problem.candidates)]
        yield Limit(statement=BOXES, pairs=pairs, most=places)
    if problem.tubs is not None:
        pairs = [(n, problem.in_tub * c.young) for n, c in enumerate(problem.candidates)]
        yield Limit(statement=TUBS, pairs=pairs, most=problem.tubs)


def _money(problem: Problem) -> Iterator[Limit]:
    if problem.spend is not None:
        pairs = [(n, problem.spent(c)) for n, c in enumerate(problem.candidates)]
        sires = {c.sire for c in problem.candidates} & problem.paid
        fees = {sire: problem.use_costs[sire] for sire in sorted(sires)}
        yield Limit(statement=SPEND, pairs=pairs, most=problem.spend, fees=fees)
    if problem.most_pairs is not None:
        pairs = [(n, 1.0) for n in range(len(problem.candidates))]
        yield Limit(statement=RESTING, pairs=pairs, most=problem.most_pairs)


def _holdbacks(problem: Problem) -> Iterator[Limit]:
    """Bind the young held back: shares and means, each multiplied out by all that are kept."""
    kept = [(n, c) for n, c in enumerate(problem.candidates) if c.kept]
    if problem.max_kin is not None:
        pairs = [(n, c.kept * (c.kin - problem.max_kin)) for n, c in kept]
        yield Limit(statement=KIN, pairs=pairs, most=0.0)
    if problem.sire_share is not None:
        share = problem.sire_share
        for sire in sorted({c.sire for _, c in kept}):
            pairs = [(n, c.kept * ((c.sire == sire) - share)) for n, c in kept]
            yield Limit(statement=share_statement(sire), pairs=pairs, most=0.0)
