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

*Pairs left out.* The model is built of some pairs alone, at first those worth most to each dam. The
duals of its rows price every other pair (Dantzig & Wolfe 1960, Oper Res 8:101-111, from memory);
one that its prices make worth while joins, and the model is solved anew until there is none. Then
its bound is that of all pairs. A sire whose pairs there are fewer than his limit has no row and a
price of zero, as has what a borrowed sire costs with a pair left out: both are duals that may be.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np

from brumal.planner import model as models
from brumal.planner.answers import Relaxed
from brumal.planner.limits import Limit, limits_of
from brumal.planner.model import Model
from brumal.planner.pair_columns import Numbers
from brumal.planner.pairing import Array
from brumal.planner.problem import Problem
from brumal.planner.search import among, lowered
from brumal.planner.spread import poisson, poisson_surplus
from brumal.planner.statements import chance_statement
from brumal.planner.surplus import Cut
from brumal.timings import timed

_LEAST_OF_A_DAM = 12
"""The model is first built of so many pairs of each dam, more where males are many."""
_LITTLE = 0.1
"""Pairs left out that raise the bound by no more than this part of what is asked stay out."""


@dataclass(frozen=True, slots=True, eq=False)
class Means:
    """Mean counts of the pairs that serve wish ``number``, and what they lose at most.

    ``members`` are candidate indices; all arrays have the shape (pairs,).
    """

    number: int
    threshold: int
    cost: float
    members: Numbers
    means: Array
    excess: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Bound:
    """A lower bound on a wish's surplus: ``constant`` and the sum of ``slopes``, (members,)."""

    wish: Means
    constant: float
    slopes: Array


@dataclass(slots=True, eq=False)
class Rough:
    """A season with wishes bounded by their means, chance wishes left out.

    ``part`` are the pairs that the ``model`` is built of, ``bounds`` the lower bounds on wishes.
    """

    problem: Problem
    omit: Collection[str]
    wishes: tuple[Means, ...]
    limits: tuple[Limit, ...]
    bounds: list[_Bound]
    part: Numbers = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    model: Model | None = None

    @staticmethod
    def of(problem: Problem, omit: Collection[str] = ()) -> Rough:
        """Take a season in which every candidate states its means."""
        chances = {chance_statement(wish.id) for wish in problem.chances}
        wishes = _all_means(problem)
        return Rough(
            problem=problem,
            omit={*omit, *chances},
            wishes=wishes,
            limits=tuple(limits_of(problem)),
            bounds=[_Bound(wish, -float(wish.threshold), wish.means) for wish in wishes],
        )

    def tighten(self, share: float) -> Relaxed | None:
        """Bound the season as :meth:`brumal.planner.search.Search.tighten` does."""
        self._build(_dearest(self.problem))
        while True:
            assert self.model is not None
            relaxed = lowered(self.model, share, self._add_short)
            if relaxed is None:
                if self.part.size == len(self.problem.candidates):
                    return None
                self._build(np.arange(len(self.problem.candidates)))
                continue
            without = self._without(relaxed)
            without[self.part] = relaxed.without
            raised = self._raised(without)
            if raised <= _LITTLE * share * max(1.0, abs(relaxed.bound)):
                return replace(
                    relaxed,
                    bound=relaxed.bound + raised,
                    without=np.maximum(without, 0.0),
                    amounts=self._spread_out(relaxed.amounts),
                )
            self._build(np.union1d(self.part, np.flatnonzero(without < 0)))

    @timed("building")
    def _build(self, part: Numbers) -> None:
        """Build the model of some of the pairs, with all bounds known so far."""
        self.part = part
        self.model = models.build(among(self.problem, part.tolist()), self.omit)
        models.bound_surplus(self.model, [self._cut(bound) for bound in self.bounds])

    def _cut(self, bound: _Bound) -> Cut:
        """Return a bound by the indices of the pairs in the model."""
        place = np.full(len(self.problem.candidates), -1)
        place[self.part] = np.arange(self.part.size)
        own = place[bound.wish.members]
        there = own >= 0
        slopes = zip(own[there].tolist(), bound.slopes[there].tolist(), strict=True)
        return Cut(bound.wish.number, bound.constant, dict(slopes))

    def _add_short(self, relaxed: Relaxed, least: float) -> bool:
        amounts = self._spread_out(relaxed.amounts)
        new = []
        # With a threshold of zero the mean is the surplus, and the first bound says it all.
        for wish in (each for each in self.wishes if each.threshold > 0):
            taken = amounts[wish.members]
            mean = float(wish.means @ taken)
            value, slope, _ = poisson_surplus(wish.threshold, mean, 0.0)
            short = value - float(wish.excess @ taken) - relaxed.surplus[wish.number]
            if wish.cost * short > least:
                slopes = slope * wish.means - wish.excess
                new.append(_Bound(wish, value - slope * mean, slopes))
        assert self.model is not None
        self.bounds += new
        models.bound_surplus(self.model, [self._cut(bound) for bound in new])
        return bool(new)

    def _spread_out(self, amounts: Array) -> Array:
        """Return amounts of the pairs in the model as amounts of all pairs."""
        found = np.zeros(len(self.problem.candidates))
        found[self.part] = amounts
        return found

    def _without(self, relaxed: Relaxed) -> Array:
        """Return the reduced cost of every pair, in the model or not, by the prices of its rows."""
        model, problem, columns = self.model, self.problem, self.problem.columns
        assert model is not None
        dearer = np.array([problem.use_costs.get(dam, 0.0) for dam in columns.dams])
        of_dam = np.zeros(len(columns.dams))
        names = {dam: place for place, dam in enumerate(columns.dams)}
        for dam, row in model.partners.items():
            of_dam[names[dam]] = relaxed.prices[row]
        found = (dearer + of_dam)[columns.dam] - columns.worth
        for limit in self.limits:
            if limit.statement in model.places:
                price = relaxed.prices[model.places[limit.statement]]
                found[limit.members] += price * limit.amounts
        first = models.rows(model) - len(model.bounds)
        for row, bound in enumerate(self.bounds, start=first):
            found[bound.wish.members] -= relaxed.prices[row] * bound.slopes
        return found

    def _raised(self, without: Array) -> float:
        """Return what the bound lacks: each dam's price is raised to what her pairs ask for."""
        columns = self.problem.columns
        short = np.zeros(len(columns.dams))
        np.maximum.at(short, columns.dam, -without)
        return float(short.sum())


def is_rough_enough(problem: Problem) -> bool:
    """Say whether a season states what this bound needs."""
    return problem.risk is None and problem.columns.means is not None


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


def _dearest(problem: Problem) -> Numbers:
    """Return the pairs that are worth most of each dam and sire, and those that have to stand.

    Of a sire they are more than his limit, so that it has a price. Where more is asked of a plan
    than limits, wishes and locks, it may ask it of any pair.
    """
    if problem.more or problem.must_breed:
        return np.arange(len(problem.candidates))
    columns = problem.columns
    hers = max(_LEAST_OF_A_DAM, len(problem.male_limits) // 8)
    his = max(problem.male_limits.values(), default=0) + 1
    found = problem.must_stand()
    for animal, each in ((columns.dam, hers), (columns.sire, his)):
        order = np.lexsort((-columns.worth, animal))
        first = np.searchsorted(animal[order], animal[order])
        found[order] |= np.arange(order.size) - first < each
    return np.flatnonzero(found)


def _all_means(problem: Problem) -> tuple[Means, ...]:
    means, swings = problem.columns.means, problem.columns.swing
    assert means is not None
    found = []
    for number, wish in enumerate(problem.wish_terms):
        members = np.flatnonzero(means[:, number])
        if members.size:
            own = means[members, number]
            excess = own * swings[members]
            found.append(Means(number, wish.threshold, wish.cost, members, own, excess))
    return tuple(found)
