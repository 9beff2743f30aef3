"""What uncertain kin may be together, told by as few animals as make the others independent.

Sisters whose dam is uncertain are not independent of each other, but given what she is they are. So
it is enough to follow her: two states instead of two for each daughter. Whom to follow is read off
the factors of the part of the pedigree in which the kin stand: once the followed are taken out, no
two of the others may still be connected (the global Markov property; Lauritzen 1996, Graphical
Models, section 3.2, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from brumal.genetics.evidence import Inferred
from brumal.genetics.family_network import components
from brumal.genetics.genotypes import Belief, Diplotype
from brumal.genetics.group_solver import Part
from brumal.genetics.kindred import Kindred
from brumal.genetics.pair_odds import joint_cases

Floats = NDArray[np.float64]
Numbers = frozenset[int]
Cases = dict[tuple[Diplotype, ...], float]

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


_Key = tuple[str, int, tuple[str, ...], tuple[str, ...]]
_KNOWN: WeakKeyDictionary[Inferred, dict[_Key, KinStates | None]] = WeakKeyDictionary()


def lone_states(group: str, animal: str, belief: Belief) -> KinStates:
    """Return the states of an animal that is followed for itself alone, in the belief's order."""
    weights = np.array([chance for _, chance in belief])
    found = tuple(carried for carried, _ in belief)
    return KinStates(group, (animal,), weights, {animal: (found, np.eye(weights.size))})


def kin_states(
    inferred: Inferred, group: str, part: int, own: tuple[str, ...], others: tuple[str, ...]
) -> KinStates | None:
    """Return the states of kin in one part of the pedigree, or ``None`` where they are too many.

    Those of ``own`` are followed themselves, and besides as few as make ``others`` independent. In
    a part that was only approximated nothing is known of kin together: ``None``. What was asked
    before is not worked out again.
    """
    known = _KNOWN.setdefault(inferred, {})
    key = (group, part, own, others)
    if key not in known:
        known[key] = _kin_states(inferred, group, part, own, others)
    return known[key]


def _kin_states(
    inferred: Inferred, group: str, part: int, own: tuple[str, ...], others: tuple[str, ...]
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
    )
    followed = tuple(ids[number] for number in sorted(chosen))
    states = _cases(inferred, followed, group)
    if states is None:
        return None
    given: dict[str, tuple[tuple[Diplotype, ...], Floats]] = {}
    for name in sorted({*own, *others}):
        names = tuple(sorted({*followed, name}, key=lambda each: place[each]))
        cases = states if name in followed else _cases(inferred, names, group)
        if cases is None:
            return None
        given[name] = _given(states, cases, names.index(name), name in followed)
    return KinStates(group, followed, np.array(list(states.values())), given)


def _given(
    states: Cases, cases: Cases, at: int, is_followed: bool
) -> tuple[tuple[Diplotype, ...], Floats]:
    """Return what the animal at one place of joint cases may be, and its chances by state."""
    row = {carried: number for number, carried in enumerate(states)}
    found = tuple(sorted({carried[at] for carried in cases}))
    chances = np.zeros((len(states), len(found)))
    for carried, chance in cases.items():
        state = carried if is_followed else (*carried[:at], *carried[at + 1 :])
        chances[row[state], found.index(carried[at])] += chance
    return found, chances / chances.sum(axis=1, keepdims=True)


def _cases(inferred: Inferred, names: tuple[str, ...], group: str) -> Cases | None:
    """Return the joint chances of animals of one part, in the order of their numbers."""
    (block,) = joint_cases(inferred, names, group, _MOST_CELLS)
    if block.cases is None:
        return None
    return dict(sorted((carried, chance) for chance, carried in block.cases))


def _separators(part: Part, kin: Kindred, own: Numbers, others: Numbers) -> Numbers:
    """Return ``own`` and as few more as leave none of ``others`` connected with each other.

    Greedy: each step takes an animal, or both parents of one, that parts the most for the number
    of states it adds.
    """
    chosen = own
    while crowded := [comp for comp in _connected(part, chosen) if len(comp & others) > 1]:
        near = crowded[0]
        options: set[Numbers] = {frozenset({number}) for number in near}
        options |= {near.intersection(kin.parents[number] or ()) for number in near}
        crowd = len(near & others) - 1

        def price(
            option: Numbers, near: Numbers = near, chosen: Numbers = chosen, crowd: int = crowd
        ) -> tuple[float, list[int]]:
            left = [each & others for each in _connected(part, chosen | option) if each <= near]
            gain = crowd - sum(len(each) - 1 for each in left if each)
            cost = math.log(math.prod(part.sizes[number] for number in option))
            return (round(cost / gain, 9) if gain > 0 else math.inf, sorted(option))

        best: Numbers = min([option for option in options if option], key=price)
        chosen = chosen | best
    return chosen


def _connected(part: Part, without: Numbers) -> list[Numbers]:
    """Return the connected rest of a part without some of its animals."""
    scopes = [[number for number in f.scope if number not in without] for f in part.factors]
    return [frozenset(each) for each in components(scope for scope in scopes if scope)]
