"""A first bound on a season, from what pairs bring in the mean: no law is looked at.

The wishes' surplus is bounded as in :mod:`brumal.planner.wishes.mean_spread` with ``l = 0``, that
is by a Poisson count ``Z`` of the plan's mean, and chance wishes are left out. Both need means
alone:

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

*Column generation* (Dantzig & Wolfe 1960, Oper Res 8:101-111, from memory). The restricted master
is built of some pairs alone, at first those worth most to each dam. The duals of its rows give the
reduced cost of every other pair; those with a negative one join, and the solver goes on from there
until there is none. Then its bound is that of all pairs. A row that the restricted master lacks has
a dual of zero, which is one that may be.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from brumal.planner.limits.every import limits_of
from brumal.planner.limits.limit import Limit
from brumal.planner.pairs.candidate import Array
from brumal.planner.pairs.columns import Numbers
from brumal.planner.problem import Problem
from brumal.planner.solver import model as models
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.master import tightened
from brumal.planner.solver.model import Model
from brumal.planner.solver.runs import Relaxed
from brumal.planner.wishes.chances import chance_id
from brumal.planner.wishes.mean_spread import poisson_surplus
from brumal.planner.wishes.surplus import Cut
from brumal.timings import timed

_LEAST_OF_A_DAM = 12
"""The model begins and grows by so many pairs of each dam, more where males are many."""
_LITTLE = 0.1
"""Pairs left out that raise the bound by no more than this part of what is asked stay out."""


@dataclass(frozen=True, slots=True, eq=False)
class MeanCounts:
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
class _MeanCut:
    """A lower bound on a wish's surplus: ``constant`` and the sum of ``slopes``, (members,)."""

    wish: MeanCounts
    constant: float
    slopes: Array


@dataclass(slots=True, eq=False)
class MeansBound:
    """A season with wishes bounded by their means, chance wishes left out.

    ``columns`` are the pairs that the restricted master ``model`` is built of, ``cuts`` the lower
    bounds on wishes, ``slots`` the pairs of each slot of each route.
    """

    problem: Problem
    omit: Collection[str]
    wishes: tuple[MeanCounts, ...]
    limits: tuple[Limit, ...]
    cuts: list[_MeanCut]
    slots: Mapping[tuple[int, int], Numbers] = field(default_factory=dict)
    columns: Numbers = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    model: Model | None = None

    @staticmethod
    def of(problem: Problem, omit: Collection[str] = ()) -> MeansBound:
        """Take a season in which every candidate states its means."""
        wishes = _all_counts(problem)
        return MeansBound(
            problem=problem,
            omit={*omit, *map(chance_id, problem.chances)},
            wishes=wishes,
            limits=limits_of(problem),
            cuts=[_MeanCut(wish, -float(wish.threshold), wish.means) for wish in wishes],
            slots=_slots(problem),
        )

    def solve(self, share: float, clock: Clock) -> Relaxed | None:
        """Bound the season; see :func:`brumal.planner.solver.master.tightened`."""
        self._build(_first_columns(self.problem))
        while True:
            assert self.model is not None
            relaxed = tightened(self.model, share, clock, self._add_cuts)
            if relaxed is None:
                if self.columns.size == len(self.problem.candidates):
                    return None
                self._build(np.arange(len(self.problem.candidates)))
                continue
            reduced = self._reduced_costs(relaxed)
            reduced[self.columns] = relaxed.reduced
            lacking = self._lacking(reduced)
            if lacking <= _LITTLE * share * max(1.0, abs(relaxed.bound)):
                return replace(
                    relaxed,
                    bound=relaxed.bound + lacking,
                    reduced=np.maximum(reduced, 0.0),
                    amounts=self._for_all(relaxed.amounts),
                )
            first = _first_of_each(self.problem.columns.dam, reduced, _of_a_dam(self.problem))
            self._add_columns(np.flatnonzero(first & (reduced < 0)))

    def _build(self, columns: Numbers) -> None:
        """Build the restricted master of some of the pairs, with all cuts known so far."""
        self.columns = columns
        self.model = models.build(self.problem.only(columns.tolist()), self.omit)
        models.cut_surplus(self.model, [self._in_model(cut) for cut in self.cuts])

    @timed("building")
    def _add_columns(self, new: Numbers) -> None:
        """Let more pairs into the restricted master."""
        assert self.model is not None
        rows, pairs, amounts = self._entries()
        place = np.full(len(self.problem.candidates), -1)
        place[new] = np.arange(new.size)
        own = np.flatnonzero(place[pairs] >= 0)
        own = own[np.argsort(place[pairs[own]], kind="stable")]
        starts = np.searchsorted(place[pairs[own]], np.arange(new.size))
        highs = models.in_highs(self.model)
        highs.add_pairs(self._worth()[new], starts, rows[own], amounts[own])
        self.columns = np.append(self.columns, new)

    def _in_model(self, cut: _MeanCut) -> Cut:
        """Return a cut by the indices of the pairs in the restricted master."""
        place = np.full(len(self.problem.candidates), -1)
        place[self.columns] = np.arange(self.columns.size)
        own = place[cut.wish.members]
        there = own >= 0
        slopes = zip(own[there].tolist(), cut.slopes[there].tolist(), strict=True)
        return Cut(cut.wish.number, cut.constant, dict(slopes))

    def _add_cuts(self, relaxed: Relaxed, least: float) -> bool:
        amounts = self._for_all(relaxed.amounts)
        new = []
        # With a threshold of zero the mean is the surplus, and the first cut says it all.
        for wish in (each for each in self.wishes if each.threshold > 0):
            taken = amounts[wish.members]
            mean = float(wish.means @ taken)
            value, slope, _ = poisson_surplus(wish.threshold, mean, 0.0)
            short = value - float(wish.excess @ taken) - relaxed.surplus[wish.number]
            if wish.cost * short > least:
                slopes = slope * wish.means - wish.excess
                new.append(_MeanCut(wish, value - slope * mean, slopes))
        assert self.model is not None
        self.cuts += new
        models.cut_surplus(self.model, [self._in_model(cut) for cut in new])
        return bool(new)

    def _for_all(self, amounts: Array) -> Array:
        """Return amounts of the pairs in the restricted master as amounts of all pairs."""
        found = np.zeros(len(self.problem.candidates))
        found[self.columns] = amounts
        return found

    def _worth(self) -> Array:
        """Return what each pair adds to the objective before wishes are looked at."""
        columns, costs = self.problem.columns, self.problem.use_costs
        own = np.array([costs.get(dam, 0.0) for dam in columns.dams], dtype=np.float64)
        return np.subtract(columns.worth + self.problem.standing, own[columns.dam])

    def _entries(self) -> tuple[Numbers, Numbers, Array]:
        """Return what all pairs count in rows of the model: (row, pair, amount) of each entry."""
        model, columns = self.model, self.problem.columns
        assert model is not None
        of_dam = np.array([model.row_of_dam.get(dam, -1) for dam in columns.dams], dtype=np.intp)
        every = np.flatnonzero(of_dam[columns.dam] >= 0)
        rows, pairs, amounts = [of_dam[columns.dam[every]]], [every], [np.ones(every.size)]
        found = [
            (model.row_of[limit.id], limit.members, limit.amounts)
            for limit in self.limits
            if limit.id in model.row_of
        ]
        of_slots = [
            (row, self.slots[key], np.ones(self.slots[key].size))
            for key, row in model.row_of_slot.items()
        ]
        found += of_slots
        first = int(model.lp.numConstraints())
        found += [
            (row, cut.wish.members, -cut.slopes) for row, cut in enumerate(self.cuts, start=first)
        ]
        for row, members, own in found:
            rows.append(np.full(members.size, row))
            pairs.append(members)
            amounts.append(own)
        return np.concatenate(rows), np.concatenate(pairs), np.concatenate(amounts)

    def _reduced_costs(self, relaxed: Relaxed) -> Array:
        """Return the reduced cost of every pair, in the model or not, by the duals of its rows."""
        rows, pairs, amounts = self._entries()
        found = -self._worth()
        np.add.at(found, pairs, relaxed.duals[rows] * amounts)
        return found

    def _lacking(self, reduced: Array) -> float:
        """Return what the bound lacks: each dam's dual is raised to what her pairs ask for."""
        columns = self.problem.columns
        short = np.zeros(len(columns.dams))
        np.maximum.at(short, columns.dam, -reduced)
        return float(short.sum())


def has_means(problem: Problem) -> bool:
    """Say whether a season states what this bound needs."""
    return problem.risk is None and problem.columns.means is not None


def _first_columns(problem: Problem) -> Numbers:
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
    # Of a route all are there: a way to fill its slots is a column of its own.
    for members in _slots(problem).values():
        found[members] = True
    his = max(problem.male_limits.values(), default=0) + 1
    found |= _first_of_each(columns.dam, -columns.worth, _of_a_dam(problem))
    found |= _first_of_each(columns.sire, -columns.worth, his)
    return np.flatnonzero(found)


def _slots(problem: Problem) -> dict[tuple[int, int], Numbers]:
    """Return the candidates of each slot of each route, by the numbers of both."""
    place = {pair: at for at, pair in enumerate(problem.columns.pairs)} if problem.routes else {}
    return {
        (number, at): np.array(sorted(place[p] for p in slot if p in place), dtype=np.intp)
        for number, route in enumerate(problem.routes)
        for at, slot in enumerate(route.slots)
    }


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


def _all_counts(problem: Problem) -> tuple[MeanCounts, ...]:
    means, swings = problem.columns.means, problem.columns.swing
    assert means is not None
    found = []
    for number, wish in enumerate(problem.wish_terms):
        members = np.flatnonzero(means[:, number])
        if members.size:
            own = means[members, number]
            excess = own * swings[members]
            found.append(MeanCounts(number, wish.threshold, wish.cost, members, own, excess))
    return tuple(found)
