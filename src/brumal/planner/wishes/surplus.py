"""Saturating wishes, exactly: the expected surplus of young and the cuts that bound it.

For a wish term with threshold ``n`` the objective loses ``cost * f(S)`` with
``f(S) = E[max(N(S) - n, 0)]`` and ``N(S)`` the counted young of the chosen pairs ``S``. As a set
function ``f`` is supermodular, with ``f`` of nothing zero: a convex function of a sum of
non-negative counts. It cannot be written as a finite linear model of reasonable size, so the
solver is given lower bounds on it that are exact at plans already met, and more are added until
the model's value and the true value agree. Three families, all valid for every plan:

* Nemhauser, Wolsey & Fisher 1978 (Math Program 14:265-294, from memory), the two linear bounds of
  a submodular function, here mirrored for a supermodular one;
* the subgradient of an expected recourse (Van Slyke & Wets 1969, SIAM J Appl Math 17:638-663, from
  memory): ``f(S) >= E[w * (N(S) - n)]`` for any weight ``0 <= w <= 1``, taken as the event
  ``N(T) >= n``.

All three ask only that the counts of all pairs are random numbers on one space, dependent in
whatever way: which uncertain parents are shared or kin bears on the figures alone. These are worked
out by family of clutches (:mod:`brumal.planner.pairs.families`): independent given the family's
state, and families independent of each other.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array, Candidate
from brumal.planner.problem import Problem
from brumal.planner.wishes.law_book import work_out

_FEW_STATES = 4
"""Of no more states than this, laws are convolved one by one and all kept: that is quicker."""
_DECIMALS = 13


@dataclass(frozen=True, slots=True)
class Cut:
    """A lower bound, linear in the plan, on what wish ``number`` comes to.

    ``constant + sum of coefficients[i] over the pairs i of the plan`` is never above the true
    figure, whatever the plan.
    """

    number: int
    constant: float
    coefficients: Mapping[int, float]

    def at(self, plan: Iterable[int]) -> float:
        """Return the bound at a plan."""
        return self.constant + sum(self.coefficients.get(index, 0.0) for index in plan)


@dataclass(frozen=True)
class FamilyLaws:
    """Counted young of one family's candidates, given each of its states.

    ``weights`` has shape (states,), ``members`` (candidates,) holds candidate indices and ``laws``
    (states, candidates, most young + 1) their distributions. ``known`` holds the law of each set
    of members asked for, whatever the state.
    """

    weights: Array
    members: NDArray[np.intp]
    laws: Array
    known: dict[frozenset[int], Array] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def places(self) -> Mapping[int, int]:
        """Return the place of each member."""
        return {index: at for at, index in enumerate(self.members.tolist())}

    @cached_property
    def group(self) -> frozenset[int]:
        """Return the members as a set."""
        return frozenset(self.places)

    def law(self, made: frozenset[int]) -> Array:
        """Return the chances of 0, 1, ... young of some members together."""
        if made not in self.known:
            self.known[made] = _mixed(self, _given(self, made))
        return self.known[made]


@dataclass(frozen=True)
class TermLaws:
    """All counted young of one wish term, by family; different families are independent.

    ``known`` holds the surplus of each set of pairs asked for: plans that differ in few pairs count
    the same young for most wishes.
    """

    threshold: int
    families: tuple[FamilyLaws, ...]
    known: dict[frozenset[int], float] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def members(self) -> frozenset[int]:
        """Return the candidates that count for the term."""
        return frozenset().union(*(each.group for each in self.families))

    @cached_property
    def means(self) -> Mapping[int, float]:
        """Return the mean number of young that each member counts."""
        means: dict[int, float] = {}
        for family in self.families:
            means |= _keyed(family.members, _means(family))
        return means

    def surplus(self, chosen: Iterable[int]) -> float:
        """Return the mean number of young beyond the threshold that a plan brings.

        That is the mean less the threshold, and what is missing to it in the mean: only the chances
        of fewer young are asked for.
        """
        counted = self.members.intersection(chosen)
        if counted not in self.known:
            few = plan_law(self, counted, max(self.threshold, 1))
            missing = float(few @ (self.threshold - np.arange(few.size)))
            mean = math.fsum(self.means[index] for index in counted)
            self.known[counted] = max(mean - self.threshold + missing, 0.0)
        return self.known[counted]


def by_family(
    problem: Problem,
    given: Callable[[Candidate], Mapping[int, Array]],
    family_of: Callable[[Candidate, int], str],
) -> dict[int, list[tuple[Array, NDArray[np.intp], Array]]]:
    """Return by wish, then by family, what candidates bring: weights, members, what is ``given``.

    Weights have the shape (states,), members (candidates,), what is given (states, candidates,
    ...); families come in the order of their names, states that nobody tells apart are merged.
    """
    members: dict[int, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for index, candidate in enumerate(problem.candidates):
        for wish in given(candidate):
            members[wish][family_of(candidate, wish)].append(index)
    found: dict[int, list[tuple[Array, NDArray[np.intp], Array]]] = defaultdict(list)
    for wish, families in members.items():
        for family, own in sorted(families.items()):
            each = np.stack([given(problem.candidates[index])[wish] for index in own], axis=1)
            weights, each = merged(problem.states_of(family), each)
            found[wish].append((weights, np.array(own, dtype=np.intp), each))
    return found


def merged(weights: Array, given: Array) -> tuple[Array, Array]:
    """Merge the states of a family that none of its clutches tells apart.

    ``weights`` has the shape (states,), and what is ``given`` in each state (states, ...).
    """
    if weights.size <= _FEW_STATES:
        return weights, given
    place: dict[bytes, int] = {}
    kept: list[int] = []
    of = []
    for state, row in enumerate(np.round(given.reshape(weights.size, -1), _DECIMALS)):
        key = (row + 0.0).tobytes()
        if key not in place:
            place[key] = len(kept)
            kept.append(state)
        of.append(place[key])
    return np.bincount(of, weights=weights, minlength=len(kept)).astype(np.float64), given[kept]


def all_terms(problem: Problem) -> tuple[TermLaws, ...]:
    """Gather every wish term once, for repeated questions."""
    work_out(problem.candidates)
    found = by_family(problem, lambda pair: pair.counts, Candidate.family_of_count)
    return tuple(
        TermLaws(wish.threshold, tuple(FamilyLaws(*own) for own in found[term]))
        for term, wish in enumerate(problem.wish_terms)
    )


def plan_law(laws: TermLaws, chosen: Iterable[int], below: int | None = None) -> Array:
    """Return the chances of 0, 1, ... young that a plan brings to a wish term, all or ``below``."""
    wanted = frozenset(chosen)
    made = ((family, wanted & family.group) for family in laws.families)
    return _convolve([family.law(own) for family, own in made if own], below)


def surplus(law: Array, threshold: int) -> float:
    """Return E[max(N - threshold, 0)] for the distribution ``law`` of N."""
    return float(law @ np.maximum(np.arange(law.size) - threshold, 0))


def first_cuts(laws: TermLaws, term: int) -> tuple[Cut, ...]:
    """Return the bounds that hold before any plan is known: the mean's, and each pair alone."""
    alone: dict[int, float] = {}
    for family in laws.families:
        own = np.einsum("s,sck->ck", family.weights, family.laws)
        counts = np.arange(own.shape[1])
        alone |= _keyed(family.members, own @ np.maximum(counts - laws.threshold, 0))
    return (Cut(term, float(-laws.threshold), laws.means), Cut(term, 0.0, alone))


def cuts_at(laws: TermLaws, term: int, chosen: Iterable[int]) -> tuple[Cut, ...]:
    """Return three bounds on the surplus of a term, each exact at the plan ``chosen``."""
    wanted = set(chosen)
    given = [_given(family, wanted) for family in laws.families]
    mixed = [_mixed(family, made) for family, made in zip(laws.families, given, strict=True)]
    at_plan = surplus(_convolve(mixed), laws.threshold)
    removal: dict[int, float] = {}
    insertion: dict[int, float] = {}
    slope: dict[int, float] = {}
    first = second = at_plan
    reached = float(_convolve(mixed)[laws.threshold :].sum())
    for place, family in enumerate(laws.families):
        others = _convolve(mixed[:place] + mixed[place + 1 :])
        for at, index in enumerate(family.members.tolist()):
            if index in wanted:
                rest = _given(family, wanted - {index})
                gain = at_plan - surplus(np.convolve(_mixed(family, rest), others), laws.threshold)
                removal[index] = gain
                insertion[index] = laws.means[index]
                slope[index] = _mean_when_reached(family, at, rest, others, laws.threshold)
                first -= gain
                second -= insertion[index]
        _price_outsiders(
            family,
            given[place],
            others,
            laws.threshold,
            at_plan,
            (removal, insertion, slope),
            wanted,
        )
    return (
        Cut(term, first, removal),
        Cut(term, second, insertion),
        Cut(term, -laws.threshold * reached, slope),
    )


def _price_outsiders(
    family: FamilyLaws,
    given: Array,
    others: Array,
    threshold: int,
    at_plan: float,
    prices: tuple[dict[int, float], dict[int, float], dict[int, float]],
    wanted: set[int],
) -> None:
    """Fill in what each pair outside the plan adds: alone, on top of the plan, by the slope."""
    counts = np.arange(family.laws.shape[2])
    alone = np.zeros(family.members.size)
    on_top = np.full(family.members.size, -at_plan)
    along = np.zeros(family.members.size)
    for weight, laws, made in zip(family.weights, family.laws, given, strict=True):
        base = np.convolve(made, others)
        excess = np.array(
            [surplus(base, max(threshold - k, 0)) + max(k - threshold, 0) for k in counts]
        )
        alone += weight * laws @ np.maximum(counts - threshold, 0)
        on_top += weight * laws @ excess
        along += weight * (laws @ counts) * float(base[threshold:].sum())
    for table, values in zip(prices, (alone, on_top, along), strict=True):
        for index, value in zip(family.members.tolist(), values.tolist(), strict=True):
            if index not in wanted:
                table[index] = value


def _mean_when_reached(
    family: FamilyLaws, at: int, rest: Array, others: Array, threshold: int
) -> float:
    """Return E[Y; Y + R >= threshold] for one pair's count Y and the plan's other counts R."""
    total = 0.0
    for weight, own, made in zip(family.weights, family.laws[:, at], rest, strict=True):
        base = np.convolve(made, others)
        tail = np.concatenate([np.cumsum(base[::-1])[::-1], [0.0]])
        needed = np.clip(threshold - np.arange(own.size), 0, tail.size - 1)
        total += float(weight) * float(own * np.arange(own.size) @ tail[needed])
    return total


def _means(family: FamilyLaws) -> Array:
    own = np.einsum("s,sck->ck", family.weights, family.laws)
    means: Array = own @ np.arange(own.shape[1])
    return means


def _given(family: FamilyLaws, wanted: Set[int]) -> Array:
    """Return the law of a family's chosen clutches together, given each of its states."""
    inside = sorted(family.places[index] for index in family.group & wanted)
    if family.weights.size <= _FEW_STATES:
        return np.array([_convolve([laws[at] for at in inside]) for laws in family.laws])
    total = np.ones((family.weights.size, 1))
    for at in inside:
        own = family.laws[:, at]
        longer = np.zeros((total.shape[0], total.shape[1] + own.shape[1] - 1))
        for young in range(own.shape[1]):
            longer[:, young : young + total.shape[1]] += own[:, young, None] * total
        total = longer
    return total


def _mixed(family: FamilyLaws, given: Array) -> Array:
    total: Array = family.weights @ given
    return total


def _convolve(laws: Sequence[Array], below: int | None = None) -> Array:
    """Return the law of a sum, or of what is below a number alone."""
    total = np.ones(1)[:below]
    for law in laws:
        total = np.convolve(total, law[:below])[:below]
    return total


def _keyed(members: NDArray[np.intp], values: Array) -> dict[int, float]:
    return dict(zip(members.tolist(), values.tolist(), strict=True))
