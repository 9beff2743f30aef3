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
one that its prices make worth while joins, and the solver goes on from there until there is none.
Then its bound is that of all pairs. A row that the model lacks has a price of zero, a dual that may
be.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

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
from brumal.planner.warm import let_in
from brumal.timings import timed

_LEAST_OF_A_DAM = 12
"""The model begins and grows by so many pairs of each dam, more where males are many."""
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
            first = _first_of_each(self.problem.columns.dam, without, _of_a_dam(self.problem))
            self._let_in(np.flatnonzero(first & (without < 0)))

    @timed("building")
    def _build(self, part: Numbers) -> None:
        """Build the model of some of the pairs, with all bounds known so far."""
        self.part = part
        self.model = models.build(among(self.problem, part.tolist()), self.omit)
        models.bound_surplus(self.model, [self._cut(bound) for bound in self.bounds])

    @timed("building")
    def _let_in(self, new: Numbers) -> None:
        """Let more pairs into the model."""
        assert self.model is not None
        rows, pairs, amounts = self._entries()
        place = np.full(len(self.problem.candidates), -1)
        place[new] = np.arange(new.size)
        own = np.flatnonzero(place[pairs] >= 0)
        own = own[np.argsort(place[pairs[own]], kind="stable")]
        starts = np.searchsorted(place[pairs[own]], np.arange(new.size))
        let_in(self.model, self._worth()[new], starts, rows[own], amounts[own])
        self.part = np.append(self.part, new)

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

    def _worth(self) -> Array:
        """Return what each pair adds to the objective before wishes are looked at."""
        columns, costs = self.problem.columns, self.problem.use_costs
        own = np.array([costs.get(dam, 0.0) for dam in columns.dams], dtype=np.float64)
        return np.subtract(columns.worth, own[columns.dam])

    def _entries(self) -> tuple[Numbers, Numbers, Array]:
        """Return what pairs count in rows of the model, all pairs: (row, pair, amount) of each."""
        model, columns = self.model, self.problem.columns
        assert model is not None
        partners = np.array([model.partners.get(dam, -1) for dam in columns.dams], dtype=np.intp)
        every = np.flatnonzero(partners[columns.dam] >= 0)
        rows, pairs, amounts = [partners[columns.dam[every]]], [every], [np.ones(every.size)]
        found = [
            (model.places[limit.statement], limit.members, limit.amounts)
            for limit in self.limits
            if limit.statement in model.places
        ]
        first = models.rows(model) - len(model.bounds)
        found += [
            (row, bound.wish.members, -bound.slopes)
            for row, bound in enumerate(self.bounds, start=first)
        ]
        for row, members, own in found:
            rows.append(np.full(members.size, row))
            pairs.append(members)
            amounts.append(own)
        return np.concatenate(rows), np.concatenate(pairs), np.concatenate(amounts)

    def _without(self, relaxed: Relaxed) -> Array:
        """Return the reduced cost of every pair, in the model or not, by the prices of its rows."""
        rows, pairs, amounts = self._entries()
        found = -self._worth()
        np.add.at(found, pairs, relaxed.prices[rows] * amounts)
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

    Of a dam they are two or more, and of a sire more than his limit, so that both have a row. Of a
    sire who costs something all are there. Where more is asked of a plan than limits, wishes and
    locks, it may ask it of any pair.
    """
    if problem.more or problem.must_breed:
        return np.arange(len(problem.candidates))
    columns = problem.columns
    costs = np.array([sire in problem.use_costs for sire in columns.sires], dtype=bool)
    found = problem.must_stand() | costs[columns.sire]
    his = max(problem.male_limits.values(), default=0) + 1
    found |= _first_of_each(columns.dam, -columns.worth, _of_a_dam(problem))
    found |= _first_of_each(columns.sire, -columns.worth, his)
    return np.flatnonzero(found)


def _of_a_dam(problem: Problem) -> int:
    """Return how many pairs of each dam are looked at first, and let in at once."""
    return max(_LEAST_OF_A_DAM, len(problem.male_limits) // 8)


def _first_of_each(animal: Numbers, figures: Array, each: int) -> NDArray[np.bool_]:
    """Say which pairs are among so many of their animal with the least figures."""
    order = np.lexsort((figures, animal))
    first = np.searchsorted(animal[order], animal[order])
    found = np.empty(order.size, dtype=bool)
    found[order] = np.arange(order.size) - first < each
    return found


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
