"""Odds of every pair's young as prices see them, worked out once for each kind of parents."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

import numpy as np

from brumal.forecast.value import PriceList, Reduced, by_state, reduced
from brumal.genetics.cross import (
    JointBelief,
    group_odds,
    group_odds_of_joint,
    parent_belief,
    young_of,
)
from brumal.genetics.genotypes import SEX_GROUP, Belief, GroupOdds
from brumal.genetics.pair_odds import joint_belief
from brumal.pipeline import Prepared
from brumal.planner.problem import Array
from brumal.records.animals import Sex

MOST_STATES = 32
"""A sire with more possible genotypes than this, as wishes see them, is averaged over the rest."""


@dataclass(frozen=True, slots=True)
class SireStates:
    """What an uncertain sire may be at some linkage groups: ``weights`` has shape (states,).

    States are the product of the groups' own in their order. ``averaged`` are groups that had to
    be left out.
    """

    groups: tuple[str, ...]
    weights: Array
    averaged: tuple[str, ...] = ()


@dataclass(slots=True, eq=False)
class PairTables:
    """Reduced odds by pair; parents of the same beliefs share them."""

    prepared: Prepared
    prices: PriceList
    groups: tuple[str, ...]
    _shared: dict[tuple[str, int, int], Reduced | None] = field(default_factory=dict)
    _split: dict[tuple[str, int, int], Reduced] = field(default_factory=dict)

    def of(self, dam: str, sire: str, follow: Collection[str] = ()) -> tuple[Reduced, ...]:
        """Return the odds at every group that prices see and young may differ in, sex included.

        At the groups to ``follow`` they are taken apart by what the sire may be.
        """
        hers = self.prepared.genotypes[dam].groups
        his = self.prepared.genotypes[sire].groups
        mother = self.prepared.inferred.uncertain[dam]
        father = self.prepared.inferred.uncertain[sire]
        found = []
        for group in self.groups:
            together = group in mother and mother[group] == father.get(group)
            joint = joint_belief(self.prepared.inferred, dam, sire, group) if together else None
            if joint is not None:
                table = self._together(group, joint, group in follow)
            else:
                table = self._apart(group, hers.get(group), his.get(group), group in follow)
            if table is not None:
                found.append(table)
        return tuple(found)

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

    def _apart(
        self, group: str, hers: Belief | None, his: Belief | None, follow: bool
    ) -> Reduced | None:
        if hers is None and his is None and group != SEX_GROUP:
            return None
        key = (group, id(hers), id(his))
        if key not in self._shared:
            self._shared[key] = self._reduce(self._odds(group, hers, his))
        base = self._shared[key]
        if not follow or base is None:
            return base
        if key not in self._split:
            linkage = self.prepared.catalogue.groups[group]
            dams = parent_belief(hers, linkage, Sex.FEMALE)
            sires = parent_belief(his, linkage, Sex.MALE)
            self._split[key] = by_state(
                base,
                [
                    [(p, young_of(mother, father, linkage.recombination)) for mother, p in dams]
                    for father, _ in sires
                ],
            )
        return self._split[key]

    def _odds(self, group: str, hers: Belief | None, his: Belief | None) -> GroupOdds | None:
        linkage = self.prepared.catalogue.groups[group]
        return group_odds(
            group,
            parent_belief(hers, linkage, Sex.FEMALE),
            parent_belief(his, linkage, Sex.MALE),
            linkage.recombination,
        )

    def _together(self, group: str, joint: JointBelief, follow: bool) -> Reduced | None:
        """Return the odds of two parents whose genotypes hang together."""
        recombination = self.prepared.catalogue.groups[group].recombination
        base = self._reduce(group_odds_of_joint(group, joint, recombination))
        if not follow or base is None:
            return base
        chances = dict(joint)
        dams = sorted({mother for (mother, _), _ in joint})
        sires = sorted({father for (_, father), _ in joint})
        states = []
        for father in sires:
            total = sum(chances.get((mother, father), 0.0) for mother in dams)
            states.append(
                [
                    (
                        chances.get((mother, father), 0.0) / total,
                        young_of(mother, father, recombination)
                        if (mother, father) in chances
                        else (),
                    )
                    for mother in dams
                ]
            )
        return by_state(base, states)

    def _reduce(self, odds: GroupOdds | None) -> Reduced | None:
        return None if odds is None else reduced(self.prices, odds)
