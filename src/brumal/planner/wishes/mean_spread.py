"""Bounds on a wish's surplus by the mean and the spread of the count, whatever the pairs are.

The bounds of :mod:`brumal.planner.wishes.surplus` are exact at one plan, and a plan of other pairs
that counts as many young escapes them. Those here hold for every plan and are tight wherever mean
and spread are alike. The count of a plan is compared with ``Z = Z1 + 2 Z2``, independent Poisson
counts of single young and of twos, whose means add up over the pairs of the plan: a pair that
counts ``m`` young in the mean gives ``m - 2 l`` to the first and ``l`` to the second.

*Exchange* (the argument of Lindeberg 1922, Math Z 15:211-225, from memory). Exchange the pairs'
counts ``Y`` for their ``Z`` one at a time. With ``A >= 0`` the rest of the sum, both of mean ``m``,

    E (A + Y - n)^+ - E (A + Z - n)^+ = sum over k = 1..n of P(A = n - k) (psi_Y(k) - psi_Z(k))

where ``psi_X(k) = E (X - k)^+``, and this is at least ``-e`` with ``e`` the greatest of
``psi_Z(k) - psi_Y(k)`` and zero over those ``k``. So for every plan ``S``

    f(S) >= G(mean, twos) - sum of e over S,   G(m, l) = E (Z - n)^+,

with mean and twos linear in the plan. ``l`` is free: the more spread the pair's own count, the
more of it can be had at ``e = 0``.

*Families.* Clutches that hang together (:mod:`brumal.planner.pairs.families`) are exchanged as if
independent where their association is certain (:mod:`brumal.planner.wishes.association`). Where it
is not, ``e`` is the mean over the family's states of what it is given each, and ``l = 0``: given
its state the clutches are independent, and the surplus of a Poisson count is convex in its mean, so
that the mean over the states is above that at the mean (Jensen). What clutches have in common is
lost either way. So the families whose clutches share most variance at the plan are told apart by
groups of their states: ``f`` is the mean over the groups of what it is given each, and the mean of
bounds on these bounds it.

*Cuts.* ``G`` is convex in the mean and rises with the twos, but bends the wrong way between the
two. With any slopes ``a`` and ``c``, ``f(S) >= floor + sum of (a m + c l - e)`` over the plan,
where the floor is the least of ``G(m, l) - a m - c l`` over all ``(m, l)`` in reach. Along a ray
``l = r m`` that is a convex function of one variable, and ``G`` only rises with ``r``, so the least
over a narrow fan of rays is bounded by the convex function of its lowest ray with the slope of its
highest. The fewer choices of ``l / m`` pairs have, the higher the floor, and the less each pair can
have of ``c l - e``: the run of choices is taken that makes the cut highest at the plan.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array
from brumal.planner.wishes.association import are_associated
from brumal.planner.wishes.surplus import Cut, FamilyLaws, TermLaws

_SHARES = np.linspace(0.0, 0.5, 17)
"""The choices of ``l / m``: half is all twos."""
_RAYS = 8
"""The fan between two neighbouring choices is cut into so many."""
_MOST_STEPS = 60
_SETTLED_FLOOR = 1e-11
_FLAT = 1e-30
_SETTLED = 4
_MOST_CASES = 16
"""Joint states of families that are looked at one by one are no more than this."""
_LEVELS = 4
_LITTLE_SHARED = 0.01
"""Less variance than this is not worth telling a family's states apart for."""
_FAR = 4096.0
_SAFE = 1e-9
"""Taken off every floor, above what rounding can do."""


@dataclass(frozen=True, slots=True, eq=False)
class ExpectedCounts:
    """Expected counts of pairs, shape (pairs,), and what their exchange costs at most.

    ``excess[s]``, shape (shares, pairs), is ``e`` where the share ``l / m`` is the s-th choice
    (infinite: not allowed).
    """

    means: Array
    excess: Array


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """What the pairs bring to wish term ``number``, as its mean and spread see it.

    ``members`` are candidate indices, family by family; ``counts`` are each family's, and
    ``within`` those where its states are some alone, by the family's place and those states.
    """

    number: int
    threshold: int
    members: NDArray[np.intp]
    families: tuple[FamilyLaws, ...]
    counts: tuple[ExpectedCounts, ...]
    within: dict[tuple[int, tuple[int, ...]], ExpectedCounts] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Touch:
    """A bound that holds for every plan, and its value where it was taken.

    A plan comes to ``floor`` and the sum of ``slopes``, shape (pairs,), over its pairs, or more.
    """

    value: float
    floor: float
    slopes: Array


def spread_of(laws: TermLaws, number: int) -> Spread | None:
    """Gather the pairs of a wish term; ``None`` where none counts anything."""
    if not laws.families or laws.threshold < 1:
        return None
    counts = tuple(_counts(family, laws.threshold) for family in laws.families)
    if not any(own.means.any() for own in counts):
        return None
    return Spread(
        number=number,
        threshold=laws.threshold,
        members=np.concatenate([family.members for family in laws.families]),
        families=laws.families,
        counts=counts,
    )


def touch(spread: Spread, amounts: Array) -> Touch:
    """Return a bound that is tight at a plan, or at a mixture of plans.

    ``amounts``, shape (candidates,), says how much of each candidate is in it, from 0 to 1.
    """
    value, floor, slopes = 0.0, 0.0, np.zeros(spread.members.size)
    for weight, counts in _cases(spread, amounts):
        own = _touch(spread.threshold, counts, amounts[spread.members])
        value += weight * own.value
        floor += weight * own.floor
        slopes += weight * own.slopes
    return Touch(value, floor, slopes)


def _cases(spread: Spread, amounts: Array) -> Iterator[tuple[float, ExpectedCounts]]:
    """Yield the chances of some states of the families, and what pairs count given these."""
    parts = [[(1.0, counts)] for counts in spread.counts]
    told, cases = [], 1
    for place, family in enumerate(spread.families):
        taken = amounts[family.members]
        if family.weights.size > 1 and np.count_nonzero(taken) > 1:
            given = family.laws @ np.arange(family.laws.shape[2])
            told.append((_shared(family.weights, given, taken), place, given @ taken))
    for gain, place, means in sorted(told, key=lambda each: -each[0]):
        weights = spread.families[place].weights
        groups = [group for group in _groups(means) if weights[list(group)].any()]
        if gain < _LITTLE_SHARED or cases * len(groups) > _MOST_CASES:
            break
        cases *= len(groups)
        parts[place] = [
            (float(weights[list(group)].sum()), _within(spread, place, group)) for group in groups
        ]
    for case in itertools.product(*parts):
        means = np.concatenate([own.means for _, own in case])
        excess = np.concatenate([own.excess for _, own in case], axis=1)
        yield math.prod(chance for chance, _ in case), ExpectedCounts(means, excess)


def _shared(weights: Array, given: Array, taken: Array) -> float:
    """Return how much variance clutches have together beyond that of each alone."""
    off = given - weights @ given
    return float(weights @ (off @ taken) ** 2 - (weights @ off**2) @ taken**2)


def _groups(means: Array) -> list[tuple[int, ...]]:
    """Return groups of states in which a plan counts about alike."""
    level = np.round((means - means.min()) / max(float(np.ptp(means)), _SAFE) * (_LEVELS - 1))
    return [tuple(np.flatnonzero(level == each).tolist()) for each in np.unique(level)]


def _within(spread: Spread, place: int, group: tuple[int, ...]) -> ExpectedCounts:
    """Return what a family's pairs count given that its state is one of a group."""
    if (place, group) not in spread.within:
        family, some = spread.families[place], list(group)
        weights = family.weights[some]
        part = FamilyLaws(weights / weights.sum(), family.members, family.laws[some])
        spread.within[place, group] = _counts(part, spread.threshold)
    return spread.within[place, group]


def _touch(threshold: int, counts: ExpectedCounts, amounts: Array) -> Touch:
    """Return the bound for plans whose clutches are taken as independent."""
    some = np.flatnonzero(amounts)
    means, excess, taken = counts.means[some], counts.excess[:, some], amounts[some]
    mean, steep = float(means @ taken), 0.1
    for _ in range(_SETTLED):
        shares, _ = _tuned(ExpectedCounts(means, excess), steep, slice(None))
        _, slope, steep = poisson_surplus(threshold, mean, float((shares * means) @ taken))
    floors = _floors(threshold, slope, steep, mean)
    gains = steep * _SHARES[:, None] * means - excess
    value, window = _best_window(floors, gains, taken, np.isfinite(counts.excess).all(axis=1))
    shares, lost = _tuned(counts, steep, window)
    return Touch(
        value=value + slope * mean,
        floor=_lowest(floors, window),
        slopes=(slope + steep * shares) * counts.means - lost,
    )


def spread_cut(spread: Spread, at: Touch) -> Cut:
    """Return the bound as a cut by the candidates' indices."""
    slopes = zip(spread.members.tolist(), at.slopes.tolist(), strict=True)
    return Cut(spread.number, at.floor, dict(slopes))


def _counts(family: FamilyLaws, threshold: int) -> ExpectedCounts:
    """Return what a family's clutches count, exchanged as far as their dependence allows."""
    young = np.arange(family.laws.shape[2])
    if are_associated(family.weights, family.laws, threshold):
        own = np.einsum("s,sck->ck", family.weights, family.laws)
        return ExpectedCounts(own @ young, _excess(own, own @ young, _SHARES, threshold))
    given = family.laws @ young
    plain = [
        _excess(laws, means, _SHARES[:1], threshold)
        for laws, means in zip(family.laws, given, strict=True)
    ]
    excess = np.full((_SHARES.size, family.members.size), np.inf)
    excess[0] = np.einsum("s,sc->c", family.weights, np.concatenate(plain))
    return ExpectedCounts(family.weights @ given, excess)


def _excess(laws: Array, means: Array, shares: Array, threshold: int) -> Array:
    """Return ``e``, shape (shares, pairs), of laws of shape (pairs, young + 1)."""
    short = np.zeros((threshold, means.size))
    known = min(threshold, laws.shape[1])
    short[:known] = laws[:, :known].T
    share = shares[:, None]
    # psi(k) = m - k + E (k - X)^+, and sums of sums of P(X = j) are E (k - X)^+.
    difference = poisson(means * (1 - 2 * share), means * share, threshold) - short[:, None]
    worst: Array = np.cumsum(np.cumsum(difference, axis=0), axis=0).max(axis=0)
    return np.maximum(worst, 0.0)


def poisson(ones: Array, twos: Array, below: int) -> Array:
    """Return P(Z1 + 2 Z2 = k) for k below a threshold, shape (below, ...).

    By the recursion of Panjer 1981 (ASTIN Bull 12:22-26, from memory).
    """
    found = np.empty((below, *ones.shape))
    found[0] = np.exp(-ones - twos)
    doubled = 2 * twos
    for k in range(1, below):
        earlier = doubled * found[k - 2] if k > 1 else 0.0
        found[k] = (ones * found[k - 1] + earlier) / k
    return found


def _tuned(counts: ExpectedCounts, steep: float, window: slice) -> tuple[Array, Array]:
    """Return the share of each pair worth most at a price of twos each, and its excess."""
    excess = counts.excess[window]
    best = (steep * _SHARES[window, None] * counts.means - excess).argmax(axis=0)
    return _SHARES[window][best], excess[best, np.arange(best.size)]


def _best_window(
    floors: Array, gains: Array, taken: Array, allowed: NDArray[np.bool_]
) -> tuple[float, slice]:
    """Return which run of shares gives the greatest bound, and that bound without its mean.

    ``floors``, shape (shares - 1,), are those of the fans between neighbouring shares; ``gains``,
    shape (shares, pairs), what each share adds to a pair taken; ``allowed``, shape (shares,), says
    which every pair may have.
    """
    best, window = -math.inf, slice(0, _SHARES.size)
    for first in np.flatnonzero(allowed).tolist():
        gained = np.maximum.accumulate(gains[first:], axis=0) @ taken
        # The fan above a share holds its own ray too.
        lowest = np.minimum.accumulate(floors[min(first, floors.size - 1) :])
        values = gained + lowest[np.maximum(np.arange(gained.size) - 1, 0)]
        last = int(values.argmax())
        if values[last] > best:
            best, window = float(values[last]), slice(first, first + last + 1)
    return best, window


def poisson_surplus(threshold: int, mean: float, twos: float) -> tuple[float, float, float]:
    """Return G and its slopes: by the mean P(Z >= n), by the twos P(Z = n - 1)."""
    law = poisson(np.array([mean - 2 * twos]), np.array([twos]), threshold)[:, 0]
    value = mean - threshold + float((threshold - np.arange(threshold)) @ law)
    return value, max(0.0, 1.0 - float(law.sum())), float(law[-1])


def _lowest(floors: Array, window: slice) -> float:
    first = min(window.start, floors.size - 1)
    return float(floors[first : max(first + 1, window.stop - 1)].min())


def _floors(threshold: int, slope: float, steep: float, near: float) -> Array:
    """Return lower bounds of G(m, l) - slope m - steep l, one a fan of rays l / m.

    The fans lie between neighbouring shares; the result has the shape (shares - 1,). The least
    along each ray is searched for by Newton's method from a mean that is ``near``.
    """
    edges = np.linspace(_SHARES[0], _SHARES[-1], _RAYS * (_SHARES.size - 1) + 1)
    low, tilt = edges[:-1], slope + steep * edges[1:]
    left, right = np.zeros(low.size), np.full(low.size, _FAR)
    mean = np.full(low.size, min(near, _FAR))
    for _ in range(_MOST_STEPS):
        law = poisson(mean * (1 - 2 * low), mean * low, threshold)
        climb, bend = _along_rays(law, low)
        over = climb - tilt
        left, right = np.where(over < 0, mean, left), np.where(over < 0, right, mean)
        # So far can a convex function be below its value here.
        if (np.abs(over) * (right - left)).max() < _SETTLED_FLOOR:
            break
        step = mean - over / np.maximum(bend, _FLAT)
        mean = np.where((left < step) & (step < right), step, (left + right) / 2)
    value = mean - threshold + (threshold - np.arange(threshold)) @ law
    found: Array = (value - tilt * mean).reshape(-1, _RAYS).min(axis=1) - _SAFE
    return found


def _along_rays(law: Array, share: Array) -> tuple[Array, Array]:
    """Return the slope of G along rays, P(Z >= n) + share P(Z = n - 1), and how fast that rises.

    ``law`` holds P(Z = k) for k below n, shape (n, rays).
    """
    last, one_less, two_less = [*law[::-1], 0.0, 0.0][:3]
    climb: Array = 1.0 - law.sum(axis=0) + share * last
    fewer = (1 - 2 * share) * (one_less - last) + share * (two_less - last)
    bend: Array = (1 - share) * last + share * one_less + share * fewer
    return climb, bend


def all_spreads(terms: Sequence[TermLaws]) -> tuple[Spread, ...]:
    """Gather every wish term that some pair counts for."""
    found = (spread_of(laws, number) for number, laws in enumerate(terms))
    return tuple(spread for spread in found if spread is not None)


def swing(eggs: Array, goes: float) -> float:
    """Return how much less spread a female's eggs are than a Poisson number, per egg expected.

    ``eggs`` is the distribution of her eggs if she goes, from 0.
    """
    law = goes * eggs
    law[0] += 1.0 - goes
    counts = np.arange(law.size)
    mean = float(law @ counts)
    if mean <= 0:
        return 0.0
    whole = poisson(np.array([mean]), np.zeros(1), law.size + 1)[:, 0]
    # psi(j) = mean - j + E (j - X)^+, and sums of sums of P(X = k) are E (j - X)^+.
    difference = np.cumsum(np.cumsum(whole - np.append(law, 0.0)))
    return max(0.0, float(difference.max())) / mean
