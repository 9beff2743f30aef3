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
that the mean over the states is above that at the mean (Jensen).

*Cuts.* ``G`` is convex in the mean and rises with the twos, but bends the wrong way a little
between the two. With any slopes ``a`` and ``c``, ``f(S) >= floor + sum of (a m + c l - e)`` over
the plan, where the floor is the least of ``G(m, l) - a m - c l`` over all ``(m, l)`` in reach.
Along a ray ``l = r m`` that is a convex function of one variable, and ``G`` only rises with ``r``,
so the least over a narrow fan of rays is bounded by the convex function of its lowest ray with the
slope of its highest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array
from brumal.planner.wishes.association import are_associated
from brumal.planner.wishes.surplus import Cut, FamilyLaws, TermLaws

_SHARES = np.linspace(0.0, 0.5, 17)
"""The choices of ``l / m``: half is all twos."""
_RAYS = 128
_HALVINGS = 60
_SETTLED = 4
_FAR = 4096.0
_SAFE = 1e-9
"""Taken off every floor, above what rounding can do."""


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """What the pairs bring to wish term ``number``, as its mean and spread see it.

    ``members`` are candidate indices, ``means`` their expected counts, both of shape (pairs,);
    ``excess[s]``, shape (shares, pairs), is ``e`` where the share ``l / m`` is the s-th choice
    (infinite: not allowed).
    """

    number: int
    threshold: int
    members: NDArray[np.intp]
    means: Array
    excess: Array


@dataclass(frozen=True, slots=True, eq=False)
class Touch:
    """Where a bound is taken: its slopes by the mean and by the twos, and its value there.

    ``twos`` and ``excess``, shape (pairs,), are the choices that are best at those slopes.
    """

    value: float
    slope: float
    steep: float
    twos: Array
    excess: Array


def spread_of(laws: TermLaws, number: int) -> Spread | None:
    """Gather the pairs of a wish term; ``None`` where none counts anything."""
    if not laws.families or laws.threshold < 1:
        return None
    tied = [are_associated(family.weights, family.laws, laws.threshold) for family in laws.families]
    together = [family for family, yes in zip(laws.families, tied, strict=True) if yes]
    apart = [family for family, yes in zip(laws.families, tied, strict=True) if not yes]
    own = [_excess_together(together, laws.threshold)] if together else []
    found = [*own, *(_excess_apart(family, laws.threshold) for family in apart)]
    means = np.concatenate([means for means, _ in found])
    some = means > 0
    if not some.any():
        return None
    return Spread(
        number=number,
        threshold=laws.threshold,
        members=np.concatenate([family.members for family in (*together, *apart)])[some],
        means=means[some],
        excess=np.concatenate([excess for _, excess in found], axis=1)[:, some],
    )


def touch(spread: Spread, amounts: Array) -> Touch:
    """Return the bound that is tightest at a plan, or at a mixture of plans.

    ``amounts``, shape (candidates,), says how much of each candidate is in it, from 0 to 1.
    """
    taken = amounts[spread.members]
    some = np.flatnonzero(taken)
    part = Spread(
        number=spread.number,
        threshold=spread.threshold,
        members=spread.members[some],
        means=spread.means[some],
        excess=spread.excess[:, some],
    )
    mean = float(part.means @ taken[some])
    value, slope, steep = 0.0, 0.0, 0.1
    for _ in range(_SETTLED):
        twos, excess = _tuned(part, steep)
        value, slope, steep = poisson_surplus(spread.threshold, mean, float(twos @ taken[some]))
        value -= float(excess @ taken[some])
    return Touch(value, slope, steep, *_tuned(spread, steep))


def spread_cut(spread: Spread, at: Touch) -> Cut:
    """Return the bound as a cut for every plan, at most a little below its value there."""
    shares = at.twos / spread.means
    floor = _floor(spread.threshold, at.slope, at.steep, float(shares.min()), float(shares.max()))
    coefficients = at.slope * spread.means + at.steep * at.twos - at.excess
    members = zip(spread.members.tolist(), coefficients.tolist(), strict=True)
    return Cut(spread.number, floor, dict(members))


def _excess_together(families: Sequence[FamilyLaws], threshold: int) -> tuple[Array, Array]:
    """Return means, shape (pairs,), and ``e``, shape (shares, pairs), of associated clutches."""
    longest = max(family.laws.shape[2] for family in families)
    own = np.concatenate(
        [
            np.pad(
                np.einsum("s,sck->ck", family.weights, family.laws),
                ((0, 0), (0, longest - family.laws.shape[2])),
            )
            for family in families
        ]
    )
    means = own @ np.arange(longest)
    return means, _excess(own, means, _SHARES, threshold)


def _excess_apart(family: FamilyLaws, threshold: int) -> tuple[Array, Array]:
    """Return the same for the clutches of a family whose association is not certain."""
    given = family.laws @ np.arange(family.laws.shape[2])
    plain = [
        _excess(laws, means, _SHARES[:1], threshold)
        for laws, means in zip(family.laws, given, strict=True)
    ]
    excess = np.full((_SHARES.size, family.members.size), np.inf)
    excess[0] = np.einsum("s,sc->c", family.weights, np.concatenate(plain))
    return family.weights @ given, excess


def _excess(laws: Array, means: Array, shares: Array, threshold: int) -> Array:
    """Return ``e``, shape (shares, pairs), of laws of shape (pairs, young + 1)."""
    short = np.zeros((threshold, means.size))
    known = min(threshold, laws.shape[1])
    short[:known] = laws[:, :known].T
    worst = np.zeros((shares.size, means.size))
    for row, share in enumerate(shares.tolist()):
        # psi(k) = m - k + E (k - X)^+, and sums of sums of P(X = j) are E (k - X)^+.
        difference = poisson(means * (1 - 2 * share), means * share, threshold) - short
        worst[row] = np.cumsum(np.cumsum(difference, axis=0), axis=0).max(axis=0)
    return np.maximum(worst, 0.0)


def poisson(ones: Array, twos: Array, below: int) -> Array:
    """Return P(Z1 + 2 Z2 = k) for k below a threshold, shape (below, ...).

    By the recursion of Panjer 1981 (ASTIN Bull 12:22-26, from memory).
    """
    found = [np.exp(-ones - twos)]
    for k in range(1, below):
        earlier = 2 * twos * found[k - 2] if k > 1 else 0.0
        found.append((ones * found[k - 1] + earlier) / k)
    return np.stack(found)


def _tuned(spread: Spread, steep: float) -> tuple[Array, Array]:
    """Return the twos of each pair worth most at a price each, and the excess they cost."""
    gain = steep * _SHARES[:, None] * spread.means - spread.excess
    best = gain.argmax(axis=0)
    return _SHARES[best] * spread.means, spread.excess[best, np.arange(best.size)]


def poisson_surplus(threshold: int, mean: float, twos: float) -> tuple[float, float, float]:
    """Return G and its slopes: by the mean P(Z >= n), by the twos P(Z = n - 1)."""
    law = poisson(np.array([mean - 2 * twos]), np.array([twos]), threshold)[:, 0]
    value = mean - threshold + float((threshold - np.arange(threshold)) @ law)
    return value, max(0.0, 1.0 - float(law.sum())), float(law[-1])


def _floor(threshold: int, slope: float, steep: float, least: float, most: float) -> float:
    """Return a lower bound of G(m, l) - slope m - steep l over all least m <= l <= most m."""
    edges = np.linspace(least, most, _RAYS + 1)
    low, tilt = edges[:-1], slope + steep * edges[1:]
    left = np.zeros(_RAYS)
    right = np.full(_RAYS, 4.0 * threshold + 40.0)
    while (_climb(threshold, low, right) < tilt).any() and right[0] < _FAR:
        right *= 2
    for _ in range(_HALVINGS):
        middle = (left + right) / 2
        down = _climb(threshold, low, middle) < tilt
        left, right = np.where(down, middle, left), np.where(down, right, middle)
    law = poisson(right * (1 - 2 * low), right * low, threshold)
    value = right - threshold + (threshold - np.arange(threshold)) @ law
    return float((value - tilt * right).min()) - _SAFE


def _climb(threshold: int, share: Array, mean: Array) -> Array:
    """Return the slope of G along rays: P(Z >= n) + share P(Z = n - 1)."""
    law = poisson(mean * (1 - 2 * share), mean * share, threshold)
    climb: Array = 1.0 - law.sum(axis=0) + share * law[-1]
    return climb


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
