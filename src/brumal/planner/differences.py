"""How one season differs from another, as far as a kept model can take it in.

Fewer pairs, other limits, more that a plan must do, and pairs that are worth something else while
they take no less room and count no fewer young: all of that leaves the bounds of the first season
valid. Anything else does not, and :func:`difference` says so.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, fields

import numpy as np

from brumal.planner.pairing import Array, Candidate
from brumal.planner.problem import Problem
from brumal.planner.statements import (
    BOXES,
    KIN,
    RESTING,
    SPEND,
    TUBS,
    chance_statement,
    male_statement,
    share_statement,
)
from brumal.planner.warm import Change

_PUT = frozenset(
    {
        "candidates",
        "male_limits",
        "boxes",
        "tubs",
        "spend",
        "most_pairs",
        "must",
        "must_breed",
        "more",
        "chances",
        "family_states",
        "wish_terms",
    }
)
"""Fields of a season that may differ, or are compared by content."""
_NEAR = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Difference:
    """A change for the kept model; ``likelier`` says that some pair brings a wish more surely."""

    change: Change
    likelier: bool


def difference(base: Problem, changed: Problem, omit: Collection[str] = ()) -> Difference | None:
    """Return how ``changed`` differs from ``base``, ``None`` where the kept model cannot take it.

    The changed model is never tighter than the season it stands for.
    """
    if not same_wishes(base, changed) or not _same_otherwise(base, changed):
        return None
    place = {each.pair: index for index, each in enumerate(base.candidates)}
    if any(each.pair not in place for each in changed.candidates):
        return None
    if any(pair not in place for pair in changed.must):
        return None
    worth: dict[int, float] = {}
    surer = np.zeros(len(base.chances))
    for each in changed.candidates:
        index = place[each.pair]
        old = base.candidates[index]
        if each is old:
            continue
        # What another clutch brings in bad seasons the old bounds cannot tell.
        if base.risk is not None or not _takes_no_less(base, old, each):
            return None
        worth[index] = each.worth - base.use_costs.get(each.dam, 0.0)
        surer = np.maximum(surer, _surer(base, old, each))
    limits = dict(_limits(base, changed))
    for number, wish in enumerate(changed.chances):
        limit = wish.log_limit + float(surer[number])
        if limit != base.chances[number].log_limit:
            limits[chance_statement(wish.id)] = limit
    if not set(omit) <= {*limits, *_statements(base)}:
        return None
    limits |= dict.fromkeys(omit, np.inf)
    kept = {each.pair for each in changed.candidates}
    change = Change(
        closed=[index for pair, index in place.items() if pair not in kept],
        made=[place[pair] for pair in changed.must if pair not in base.must],
        limits=limits,
        rows=list(_rows(base, changed, place)),
        worth=worth,
    )
    return Difference(change, bool((surer > 0).any()))


def same_wishes(base: Problem, changed: Problem) -> bool:
    """Say whether wishes count the same way in both seasons, so that bounds can be compared."""
    return (
        base.wish_terms == changed.wish_terms
        and [wish.id for wish in base.chances] == [wish.id for wish in changed.chances]
        and base.family_states.keys() == changed.family_states.keys()
        and all(
            np.array_equal(weights, changed.family_states[family])
            for family, weights in base.family_states.items()
        )
    )


def same_young(one: Candidate, other: Candidate) -> bool:
    """Say whether two candidates count the same young for every wish."""
    return one is other or (
        same_families(one, other)
        and _same_laws(one.counts, other.counts)
        and _same_laws(one.none, other.none)
    )


def same_families(one: Candidate, other: Candidate) -> bool:
    """Say whether a pair's clutch hangs together with the same others for every wish."""
    return (one.count_families, one.none_families) == (other.count_families, other.none_families)


def counts_no_fewer(old: Candidate, new: Candidate) -> bool:
    """Say whether a pair counts at least as many young for every wish as it did, state by state."""
    if old.counts.keys() != new.counts.keys():
        return False
    return all(
        law.shape == new.counts[term].shape
        and bool((np.cumsum(new.counts[term] - law, axis=1) <= _NEAR).all())
        for term, law in old.counts.items()
    )


def _same_laws(one: Mapping[int, Array], other: Mapping[int, Array]) -> bool:
    return one is other or (
        one.keys() == other.keys()
        and all(np.array_equal(law, other[key]) for key, law in one.items())
    )


def _same_otherwise(base: Problem, changed: Problem) -> bool:
    """Say whether all else is the same, and whatever a plan must do in the base it still must."""
    return (
        all(
            getattr(base, each.name) == getattr(changed, each.name)
            for each in fields(Problem)
            if each.name not in _PUT
        )
        and set(base.must) <= set(changed.must)
        and set(base.must_breed) <= set(changed.must_breed)
        and all(row in changed.more for row in base.more)
    )


def _takes_no_less(problem: Problem, old: Candidate, new: Candidate) -> bool:
    """Say whether a pair takes at least as much of everything that is limited as it did."""
    if new.young < old.young or new.spend < old.spend:
        return False
    if problem.is_small(new) and not problem.is_small(old):
        return False
    if (new.kept, new.kin) != (old.kept, old.kin) and (
        problem.max_kin is not None or problem.sire_share is not None
    ):
        return False
    if not same_families(old, new):
        return False
    return old.none.keys() == new.none.keys() and counts_no_fewer(old, new)


def _surer(problem: Problem, old: Candidate, new: Candidate) -> Array:
    """Return for each chance wish by how much the log of a chance of none may fall."""
    fall = np.zeros(len(problem.chances))
    for number, none in old.none.items():
        with np.errstate(divide="ignore"):
            logs = np.log(none) - np.log(new.none[number])
        fall[number] = max(0.0, float(np.nan_to_num(logs, posinf=np.inf).max()))
    return fall


def _limits(base: Problem, changed: Problem) -> Iterator[tuple[str, float]]:
    """Yield the limits that differ, by statement, as the left sides of the model count them."""
    for statement, before, after in (
        (BOXES, base.box_places, changed.box_places),
        (TUBS, base.tubs, changed.tubs),
        (SPEND, base.spend, changed.spend),
        (RESTING, base.most_pairs, changed.most_pairs),
    ):
        if before != after:
            yield statement, np.inf if after is None else float(after)
    for sire in sorted({each.sire for each in base.candidates}):
        before, after = base.male_limits.get(sire), changed.male_limits.get(sire)
        if before != after:
            yield male_statement(sire), np.inf if after is None else float(after)


def _statements(problem: Problem) -> Iterator[str]:
    """Yield the statements of a season whose limits can be lifted in the kept model."""
    yield from (BOXES, TUBS, SPEND, RESTING, KIN)
    for sire in sorted({each.sire for each in problem.candidates}):
        yield male_statement(sire)
        yield share_statement(sire)
    for wish in problem.chances:
        yield chance_statement(wish.id)


def _rows(
    base: Problem, changed: Problem, place: Mapping[tuple[str, str], int]
) -> Iterator[tuple[Mapping[int, float], float]]:
    """Yield what a plan must do beyond what it had to."""
    for dam in changed.must_breed:
        if dam not in base.must_breed:
            hers = {index: 1.0 for pair, index in place.items() if pair[0] == dam}
            yield hers, 1.0
    for row in changed.more:
        if row not in base.more:
            terms = {
                place[pair]: slope for pair, slope in row.coefficients.items() if pair in place
            }
            yield terms, row.at_least
