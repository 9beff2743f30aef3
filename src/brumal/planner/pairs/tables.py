"""Odds of every pair's young as prices see them, worked out once for each kind of parents."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.het_labels import Told
from brumal.forecast.parents import Parents, parents_of, taken_apart, weighted
from brumal.forecast.value import PriceList, Reduced, told_labels
from brumal.genetics.crosses.cross import parent_belief, young_of
from brumal.genetics.crosses.meiosis import is_wild
from brumal.genetics.crosses.pair_odds import JointChances, joint_chances
from brumal.genetics.genotypes import SEX_GROUP, Belief, Diplotype
from brumal.genetics.lethal import living
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Array, Pair
from brumal.planner.pairs.families import Family
from brumal.records.animals import Sex

MOST_STATES = 32
"""A sire with more possible genotypes than this, as wishes see them, is averaged over the rest."""

_KindKey = tuple[str, tuple[Diplotype, ...], tuple[Diplotype, ...], bytes, frozenset[object]]


Role = tuple[tuple[Diplotype, ...], Array]
"""What a parent may be, in order, and the chances of that."""


@dataclass(frozen=True, slots=True)
class SireStates:
    """What an uncertain sire may be at some linkage groups: ``weights`` has shape (states,).

    States are the product of the groups' own in their order. ``averaged`` are groups that had to
    be left out.
    """

    groups: tuple[str, ...]
    weights: Array
    averaged: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Follow:
    """The linkage groups at which a pair's sire and dam are followed."""

    sire: frozenset[str] = frozenset()
    dam: frozenset[str] = frozenset()


NOBODY = Follow()


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """Parents of one linkage group by what they may be, in order, and the young of every two."""

    parents: Parents
    mothers: tuple[Diplotype, ...]
    fathers: tuple[Diplotype, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """How a table was made: the parents' kind and their chances, (mothers, fathers)."""

    table: Reduced
    kind: Kind
    chances: Array


@dataclass(slots=True, eq=False)
class PairTables:
    """Reduced odds by pair; parents of the same beliefs share them."""

    prepared: Prepared
    prices: PriceList
    groups: tuple[str, ...]
    _apart: dict[tuple[str, int, int], Reduced | None] = field(default_factory=dict)
    _roles: dict[tuple[str, int, Sex], Role] = field(default_factory=dict)
    _kinds: dict[_KindKey, Kind | None] = field(default_factory=dict)
    _made: dict[int, _Made] = field(default_factory=dict)
    _apart_by: dict[tuple[int, bool, bool], Reduced] = field(default_factory=dict)

    def of(self, dam: str, sire: str, follow: Follow = NOBODY) -> tuple[Reduced, ...]:
        """Return the odds at every group that prices see and young may differ in, sex included.

        At the groups to ``follow`` they are taken apart by what the sire or the dam may be.
        """
        found = [self._table(group, dam, sire) for group in self.groups]
        return self.followed(tuple([table for table in found if table is not None]), follow)

    def followed(self, tables: tuple[Reduced, ...], follow: Follow) -> tuple[Reduced, ...]:
        """Return odds of ``of`` with the groups to follow taken apart by parent's genotype."""
        if not follow.sire and not follow.dam:
            return tables
        return tuple([self._apart_at(table, follow) for table in tables])

    def _apart_at(self, table: Reduced, follow: Follow) -> Reduced:
        fathers, mothers = table.group in follow.sire, table.group in follow.dam
        if not fathers and not mothers:
            return table
        key = (id(table), fathers, mothers)
        if key not in self._apart_by:
            made = self._made[id(table)]
            self._apart_by[key] = taken_apart(
                made.kind.parents, made.chances, table.common, fathers=fathers, mothers=mothers
            )
        return self._apart_by[key]

    def by_state(
        self, pair: Pair, tables: tuple[Reduced, ...], follow: Follow, family: Family
    ) -> Array:
        """Return the chances of what a pair's followed parents are in each state of a family.

        ``tables`` are those of ``of``. The result has the shape (states of the family, states
        of the odds that ``followed`` gives). Whom the family does not follow has his own odds, and
        a dam those that her sire's genotype leaves.
        """
        found = np.ones((family.weights.size, 1))
        for table in sorted(tables, key=lambda each: (each.group != SEX_GROUP, each.group)):
            fathers, mothers = table.group in follow.sire, table.group in follow.dam
            if fathers or mothers:
                made = self._made[id(table)]
                his = _placed(family, pair[1], table.group, made.kind.fathers)
                if his is None:
                    his = np.tile(made.chances.sum(axis=0), (family.weights.size, 1))
                hers = _placed(family, pair[0], table.group, made.kind.mothers)
                if hers is None:
                    given = (made.chances / made.chances.sum(axis=0)).T[None]
                    both = his[:, :, None] * given
                else:
                    both = his[:, :, None] * hers[:, None, :]
                own = both if fathers and mothers else both.sum(axis=2 if fathers else 1)
                own = own.reshape(family.weights.size, -1)
                found = (found[:, :, None] * own[:, None, :]).reshape(family.weights.size, -1)
        return found

    def states(self, sire: str, groups: Iterable[str]) -> SireStates:
        """Return every genotype the sire may have at the groups where he is uncertain."""
        beliefs = self.prepared.genotypes[sire].groups
        # The order in which hatchling_shares joins the groups.
        unsure = sorted(groups, key=lambda group: (group != SEX_GROUP, group))
        unsure = [group for group in unsure if len(beliefs.get(group, ())) > 1]
        kept: list[str] = []
        for group in unsure:
            if math.prod(len(beliefs[each]) for each in [*kept, group]) <= MOST_STATES:
                kept.append(group)
        weights = np.ones(1)
        for group in kept:
            chances = np.array([chance for _, chance in beliefs[group]])
            weights = np.multiply.outer(weights, chances).reshape(-1)
        return SireStates(tuple(kept), weights, tuple(g for g in unsure if g not in kept))

    def _table(self, group: str, dam: str, sire: str) -> Reduced | None:
        """Return the odds of one pair at one group; ``None``: all its young are alike there."""
        inferred = self.prepared.inferred
        mother, father = inferred.uncertain[dam], inferred.uncertain[sire]
        if group in mother and mother[group] == father.get(group):
            joint = joint_chances(inferred, dam, sire, group)
            if joint is not None:
                return self._make(group, *only_possible(joint))
        hers = self.prepared.genotypes[dam].groups.get(group)
        his = self.prepared.genotypes[sire].groups.get(group)
        key = (group, id(hers), id(his))
        if key not in self._apart:
            mothers, her = self.in_role(group, hers, Sex.FEMALE)
            fathers, him = self.in_role(group, his, Sex.MALE)
            self._apart[key] = self._make(group, mothers, fathers, np.multiply.outer(her, him))
        return self._apart[key]

    def in_role(self, group: str, belief: Belief | None, role: Sex) -> Role:
        """Return what a parent may be at a group, and the chances of that."""
        key = (group, id(belief), role)
        if key not in self._roles:
            found = parent_belief(belief, self.prepared.catalogue.groups[group], role)
            chances = np.array([chance for _, chance in found])
            self._roles[key] = (tuple([carried for carried, _ in found]), chances)
        return self._roles[key]

    def kinds(
        self,
        group: str,
        mothers: tuple[Diplotype, ...],
        fathers: tuple[Diplotype, ...],
        chances: Array,
    ) -> Iterator[tuple[NDArray[np.intp], Kind | None]]:
        """Yield parents who may be these, as rows of ``chances``, (rows, mothers, fathers).

        Those of a kind come together; the same two must be possible in all rows. No kind: all
        their young are wild type there, and nobody asks for their sex.
        """
        there = chances[0] > 0
        recombination = self.prepared.catalogue.groups[group].recombination
        young = [
            [
                living(group, young_of(mother, father, recombination), self.prepared.catalogue)
                if yes
                else None
                for father, yes in both
            ]
            for mother, row in zip(mothers, there.tolist(), strict=True)
            for both in [list(zip(fathers, row, strict=True))]
        ]
        for rows, told in told_labels(self.prices, group, young, chances):
            key = (group, mothers, fathers, there.tobytes(), frozenset(told.items()))
            if key not in self._kinds:
                self._kinds[key] = self._kind(group, mothers, fathers, young, told)
            yield rows, self._kinds[key]

    def _kind(
        self,
        group: str,
        mothers: tuple[Diplotype, ...],
        fathers: tuple[Diplotype, ...],
        young: Sequence[Sequence[Belief | None]],
        told: Told,
    ) -> Kind | None:
        wild = all(is_wild(found) for row in young for odds in row for found, _ in odds or ())
        if wild and group != SEX_GROUP:
            return None
        return Kind(parents_of(self.prices, group, young, told), mothers, fathers)

    def _make(
        self,
        group: str,
        mothers: tuple[Diplotype, ...],
        fathers: tuple[Diplotype, ...],
        chances: Array,
    ) -> Reduced | None:
        """Return the odds of the young of parents with these chances, (mothers, fathers)."""
        ((_, kind),) = self.kinds(group, mothers, fathers, chances[None])
        if kind is None:
            return None
        table = weighted(kind.parents, chances)
        self._made[id(table)] = _Made(table, kind, chances)
        return table


def only_possible(
    joint: JointChances,
) -> tuple[tuple[Diplotype, ...], tuple[Diplotype, ...], Array]:
    """Return what two parents may be together, what neither can be left out, and the chances."""
    there = joint.chances > 0
    hers, his = there.any(axis=1), there.any(axis=0)
    mothers = tuple(itertools.compress(joint.mothers, hers.tolist()))
    fathers = tuple(itertools.compress(joint.fathers, his.tolist()))
    return mothers, fathers, joint.chances[hers][:, his]


def _placed(family: Family, animal: str, group: str, order: Sequence[Diplotype]) -> Array | None:
    """Return the chances of what an animal is, by state and in this order, if it is followed."""
    given = family.given(animal, group)
    if given is None:
        return None
    found, chances = given
    placed = np.zeros((chances.shape[0], len(order)))
    place = {carried: number for number, carried in enumerate(order)}
    for number, carried in enumerate(found):
        placed[:, place[carried]] = chances[:, number]
    return placed
