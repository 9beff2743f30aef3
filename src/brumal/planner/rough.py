"""A first bound on a large season, from what pairs bring in the mean: no law is looked at.

The wishes' surplus is bounded as in :mod:`brumal.planner.spread` with ``l = 0``, that is by a
Poisson count ``Z`` of the plan's mean, and chance wishes are left out. Both need means alone:

*Kin.* Given what every parent is, clutches are independent and the exchange of counts for Poisson
ones holds; a Poisson surplus is convex in its mean, so the mean over what parents may be, shared
and kin or not, is above the surplus at the mean (Jensen). No association is needed.

*Excess.* Let ``E`` be the eggs of a female that may not go, ``Y`` the counted young, each egg one
with chance ``u``. For any ``k`` the function ``g(j) = E (Bin(j, u) - k)^+`` is convex with slopes
from 0 to ``u``. Hence, with ``P`` a Poisson number of eggs of the same mean,

    E g(P) - E g(E) = sum over j >= 1 of g''(j) (psi_P(j) - psi_E(j)) <= u e_E,

``e_E`` the greatest of ``psi_P(j) - psi_E(j)`` and zero over all ``j >= 1``; a thinned Poisson
number is Poisson. ``E (Bin(j, u) - k)^+`` is convex in ``u`` too, so the mean over an uncertain
``u`` (shares of fertile eggs that differ from clutch to clutch, genotypes) keeps the bound with the
mean of ``u``. A pair that counts ``m`` young in the mean thus loses at most ``m`` times its dam's
*swing*, ``e_E`` over the mean of ``E``.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.planner import model as models
from brumal.planner.answers import Relaxed
from brumal.planner.model import Model
from brumal.planner.problem import Array, Problem
from brumal.planner.search import lowered
from brumal.planner.spread import poisson, poisson_surplus
from brumal.planner.statements import chance_statement
from brumal.planner.surplus import Cut
from brumal.timings import timed

_LEAST_OF_A_DAM = 12
"""The relaxed model is first solved among so many pairs of each dam, more where males are many."""


@dataclass(frozen=True, slots=True, eq=False)
class Means:
    """Mean counts of the pairs that serve wish ``number``, and what they lose at most.

    ``members`` are candidate indices; all arrays have the shape (pairs,).
    """

    number: int
    threshold: int
    cost: float
    members: NDArray[np.intp]
    means: Array
    excess: Array


@dataclass(frozen=True, slots=True, eq=False)
class Rough:
    """The model of a season with wishes bounded by their means, chance wishes left out.

    ``dearest`` are pairs to look at first.
    """

    model: Model
    wishes: tuple[Means, ...]
    dearest: NDArray[np.intp]

    @staticmethod
    @timed("building")
    def of(problem: Problem, omit: Collection[str] = ()) -> Rough:
        """Build the model; every candidate must state its means."""
        chances = {chance_statement(wish.id) for wish in problem.chances}
        model = models.build(problem, {*omit, *chances})
        rough = Rough(model, _all_means(problem), _dearest(problem))
        models.bound_surplus(
            rough.model,
            [_cut(wish, 1.0, -float(wish.threshold), 0.0) for wish in rough.wishes],
        )
        return rough

    def tighten(self, share: float) -> Relaxed | None:
        """Bound the season as :meth:`brumal.planner.search.Search.tighten` does."""
        models.start_among(self.model, self.dearest)
        return lowered(self.model, share, self._add_short)

    def _add_short(self, relaxed: Relaxed, least: float) -> bool:
        cuts = []
        # With a threshold of zero the mean is the surplus, and the first bound says it all.
        for wish in (each for each in self.wishes if each.threshold > 0):
            taken = relaxed.amounts[wish.members]
            mean = float(wish.means @ taken)
            value, slope, _ = poisson_surplus(wish.threshold, mean, 0.0)
            short = value - float(wish.excess @ taken) - relaxed.surplus[wish.number]
            if wish.cost * short > least:
                cuts.append(_cut(wish, slope, value - slope * mean, 1.0))
        models.bound_surplus(self.model, cuts)
        return bool(cuts)


def is_rough_enough(problem: Problem) -> bool:
    """Say whether a season states what this bound needs."""
    if problem.risk is not None:
        return False
    return all(candidate.means is not None for candidate in problem.candidates)


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


def _dearest(problem: Problem) -> NDArray[np.intp]:
    """Return the pairs that are worth most of each dam's, with those that have to stand."""
    dams = np.unique([c.dam for c in problem.candidates], return_inverse=True)[1]
    order = np.lexsort((np.array([-c.worth for c in problem.candidates]), dams))
    first = np.searchsorted(dams[order], dams[order])
    each = max(_LEAST_OF_A_DAM, len(problem.male_limits) // 8)
    found = np.zeros(order.size, dtype=bool)
    found[order] = np.arange(order.size) - first < each
    must = set(problem.must)
    if must:
        found |= np.array([c.pair in must for c in problem.candidates])
    return np.flatnonzero(found)


def _all_means(problem: Problem) -> tuple[Means, ...]:
    members: list[list[int]] = [[] for _ in problem.wish_terms]
    means: list[list[float]] = [[] for _ in problem.wish_terms]
    swings = np.array([candidate.swing for candidate in problem.candidates])
    for index, candidate in enumerate(problem.candidates):
        for number, mean in (candidate.means or {}).items():
            members[number].append(index)
            means[number].append(mean)
    found = []
    for number, wish in enumerate(problem.wish_terms):
        places, own = np.array(members[number], dtype=np.intp), np.array(means[number])
        if places.size:
            excess = own * swings[places]
            found.append(Means(number, wish.threshold, wish.cost, places, own, excess))
    return tuple(found)


def _cut(wish: Means, slope: float, constant: float, excess: float) -> Cut:
    coefficients = (slope * wish.means - excess * wish.excess).tolist()
    return Cut(wish.number, constant, dict(zip(wish.members.tolist(), coefficients, strict=True)))
