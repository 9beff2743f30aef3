"""What uncertain kin may be together, told by as few animals as make the others independent.

Sisters whose dam is uncertain are not independent of each other, but given what she is they are. So
it is enough to follow her: two states instead of two for each daughter. Whom to follow is read off
the factors of the part of the pedigree in which the kin stand: once the followed are taken out, no
two of the others may still be connected (the global Markov property; Lauritzen 1996, Graphical
Models, section 3.2, from memory).
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from brumal.genetics.crosses.pair_odds import joint_cases
from brumal.genetics.evidence.bucket_tree import (
    LARGEST_TABLE,
    eliminate,
    lowest_along,
    plan_elimination,
)
from brumal.genetics.evidence.family_network import components
from brumal.genetics.evidence.group_solver import GroupResult, Part
from brumal.genetics.evidence.infer import Inferred
from brumal.genetics.evidence.kindred import Kindred
from brumal.genetics.genotypes import Belief, Diplotype

Floats = NDArray[np.float64]
Numbers = frozenset[int]
Cases = dict[tuple[Diplotype, ...], float]

MOST_STATES = 512
"""Kin with more states than this together are too many."""
_RULED_OUT = 4
"""Of the combinations of what each may be, this many times the states are looked at: kinship rules
some out."""
_MOST_CELLS = 65_536
"""Joint chances of animals with more combinations than this are not worked out."""


@dataclass(frozen=True, slots=True, eq=False)
class KinStates:
    """What the ``followed`` animals may be together at a linkage group.

    ``weights`` has shape (states,); the same animals always have their states in the same order.
    ``given`` holds, for each animal asked about, what it may be
    and the chances of that in each state, shape (states, diplotypes); given the state the animals
    are independent of each other.
    """

    group: str
    followed: tuple[str, ...]
    weights: Floats
    given: Mapping[str, tuple[tuple[Diplotype, ...], Floats]]


_Key = tuple[str, int, tuple[str, ...], tuple[str, ...], int]
_KNOWN: WeakKeyDictionary[Inferred, dict[_Key, KinStates | None]] = WeakKeyDictionary()


def lone_states(group: str, animal: str, belief: Belief) -> KinStates:
    """Return the states of an animal that is followed for itself alone, in the belief's order."""
    weights = np.array([chance for _, chance in belief])
    found = tuple(carried for carried, _ in belief)
    return KinStates(group, (animal,), weights, {animal: (found, np.eye(weights.size))})


def kin_states(
    inferred: Inferred,
    group: str,
    part: int,
    own: tuple[str, ...],
    others: tuple[str, ...],
    most: int = MOST_STATES,
) -> KinStates | None:
    """Return the states of kin in one part of the pedigree, ``None`` where they exceed ``most``.

    Those of ``own`` are followed themselves, and besides as few as make ``others`` independent. In
    a part that was only approximated nothing is known of kin together: ``None``. What was asked
    before is not worked out again.
    """
    known = _KNOWN.setdefault(inferred, {})
    key = (group, part, own, others, most)
    if key not in known:
        known[key] = _kin_states(inferred, *key)
    return known[key]


def _kin_states(
    inferred: Inferred,
    group: str,
    part: int,
    own: tuple[str, ...],
    others: tuple[str, ...],
    most: int,
) -> KinStates | None:
    place, ids = inferred.collection.kin.place, inferred.collection.kin.ids
    found = inferred.groups[group].parts[part]
    if found.tree is None:
        return None
    chosen = _separators(
        found,
        inferred.collection.kin,
        frozenset(place[name] for name in own),
        frozenset(place[name] for name in others),
        _RULED_OUT * most,
    )
    if chosen is None:
        return None
    followed = tuple(ids[number] for number in sorted(chosen))
    states = _cases(inferred, followed, group)
    if states is None or len(states) > most:
        return None
    given: dict[str, tuple[tuple[Diplotype, ...], Floats]] = {}
    for name in sorted({*own, *others}):
        if name in followed:
            given[name] = _followed(states, followed.index(name))
            continue
        told = _given(inferred.groups[group], found, place[name], sorted(chosen), list(states))
        if told is None:
            return None
        given[name] = told
    return KinStates(group, followed, np.array(list(states.values())), given)


def _followed(states: Cases, at: int) -> tuple[tuple[Diplotype, ...], Floats]:
    """Return what a followed animal may be, and its chances (all or nothing) by state."""
    found = tuple(sorted({carried[at] for carried in states}))
    own = [found.index(carried[at]) for carried in states]
    return found, np.eye(len(found))[own]


def _given(
    result: GroupResult,
    part: Part,
    number: int,
    followed: Sequence[int],
    states: Sequence[tuple[Diplotype, ...]],
) -> tuple[tuple[Diplotype, ...], Floats] | None:
    """Return what an animal that is not followed may be, and its chances by state.

    Only those bear on it whom the followed ones leave connected with it. ``None``: that would need
    too large a table.
    """
    scopes = [factor.scope for factor in part.factors]
    near = next(each for each in _connected(scopes, frozenset(followed)) if number in each)
    factors = [factor for factor in part.factors if near.intersection(factor.scope)]
    around = {each for factor in factors for each in factor.scope}
    keep = frozenset({number, *around.intersection(followed)})
    plan = plan_elimination((factor.scope for factor in factors), part.sizes, keep)
    if plan.largest > LARGEST_TABLE:
        return None
    table = eliminate(factors, plan)
    chances = np.moveaxis(lowest_along(table, number), table.scope.index(number), -1)
    index = []
    for at, other in enumerate(followed):
        if other in keep:
            place = {carried: n for n, carried in enumerate(result.diplotypes(other))}
            index.append([place[carried[at]] for carried in states])
    by_state = np.broadcast_to(chances[tuple(index)], (len(states), chances.shape[-1]))
    there = by_state.any(axis=0)
    found = tuple(itertools.compress(result.diplotypes(number), there.tolist()))
    left = by_state[:, there]
    return found, left / left.sum(axis=1, keepdims=True)


def _cases(inferred: Inferred, names: tuple[str, ...], group: str) -> Cases | None:
    """Return the joint chances of animals of one part, in the order of their numbers."""
    (block,) = joint_cases(inferred, names, group, _MOST_CELLS)
    if block.cases is None:
        return None
    return dict(sorted((carried, chance) for chance, carried in block.cases))


def _separators(
    part: Part, kin: Kindred, own: Numbers, others: Numbers, most: int
) -> Numbers | None:
    """Return ``own`` and as few more as leave none of ``others`` connected with each other.

    Greedy: each step takes an animal, or both parents of one, that parts the most for the number
    of states it adds. ``None`` where that comes to more than ``most`` combinations.
    """
    chosen = own
    scopes = [factor.scope for factor in part.factors]
    while crowded := [near for near in _connected(scopes, chosen) if len(near & others) > 1]:
        crowd = crowded[0] & others
        within = _between(scopes, crowded[0], crowd)
        option = min(_options(within, kin, crowd), key=_Price(part, within, crowd))
        chosen = chosen | option
        if math.prod(part.sizes[number] for number in chosen) > most:
            return None
    return chosen


def _between(scopes: Iterable[Collection[int]], near: Numbers, crowd: Numbers) -> list[Numbers]:
    """Return the factors that connect a crowd: ends that lead to nobody else are stripped off."""
    within = [found for scope in scopes if len(found := near.intersection(scope)) > 1]
    while True:
        factors = Counter(number for scope in within for number in scope)
        ends = {number for number, count in factors.items() if count == 1} - crowd
        if not ends:
            return within
        within = [found for scope in within if len(found := scope - ends) > 1]


def _options(within: Sequence[Numbers], kin: Kindred, crowd: Numbers) -> list[Numbers]:
    """Return who may part the crowd: each alone, and the two parents of each."""
    near = frozenset(itertools.chain(crowd, *within))
    parents = {near.intersection(kin.parents[number] or ()) for number in near}
    return [frozenset({number}) for number in near] + [both for both in parents if len(both) > 1]


@dataclass(frozen=True, slots=True)
class _Price:
    """What it costs, in logs of states, to part one more of a crowd; then by number."""

    part: Part
    within: Sequence[Numbers]
    crowd: Numbers

    def __call__(self, option: Numbers) -> tuple[float, list[int]]:
        rest = _connected(self.within, option)
        left = [len(each & self.crowd) for each in rest]
        # Who is in no factor with others any more stands alone.
        gain = len(self.crowd) - 1 - sum(count - 1 for count in left if count)
        cost = math.log(math.prod(self.part.sizes[number] for number in option))
        return (round(cost / gain, 9) if gain > 0 else math.inf, sorted(option))


def _connected(scopes: Iterable[Collection[int]], without: Numbers) -> list[Numbers]:
    """Return the connected rest of a network without some of its animals."""
    left = ([number for number in scope if number not in without] for scope in scopes)
    return [frozenset(each) for each in components(scope for scope in left if scope)]
