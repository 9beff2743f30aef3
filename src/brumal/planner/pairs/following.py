"""Whose genotypes are followed: sires through their clutches, and kin through theirs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from brumal.forecast.layouts import Sight
from brumal.genetics.evidence.kin_states import lone_states
from brumal.planner.pairs.candidate import Array, Pair
from brumal.planner.pairs.columns import Numbers, named
from brumal.planner.pairs.families import Family, Kinship, Ties, most_states
from brumal.planner.pairs.tables import NOBODY, Follow, PairTables, SireStates

_CERTAIN = Family.of(())


@dataclass(frozen=True, slots=True, eq=False)
class Following:
    """What uncertain parents may be where wishes can tell.

    ``states`` holds the sires, ``own`` the family of each one's clutches, and ``ties`` the families
    of clutches of uncertain kin, by wish.
    """

    states: Mapping[str, SireStates] = field(default_factory=dict)
    own: Mapping[str, Family] = field(default_factory=dict)
    ties: Mapping[int, Ties] = field(default_factory=dict)

    @staticmethod
    def of(
        tables: PairTables,
        pairs: Sequence[Pair],
        sights: Sequence[Sight],
        wishes: Iterable[int],
    ) -> Following:
        """Find out whom to follow for these wishes, each the number of its mark on the sheets."""
        places: dict[Sight, int] = {}
        sight = np.array([places.setdefault(each, len(places)) for each in sights], dtype=np.intp)
        seen = _seen_of_sires(pairs, list(places), sight)
        states = {
            sire: states
            for sire, groups in sorted(seen.items())
            if len((states := tables.states(sire, groups)).weights) > 1 or states.averaged
        }
        prepared = tables.prepared
        alone = {sire: each.groups for sire, each in states.items()}
        kinship = Kinship(prepared.inferred, prepared.genotypes, alone, most_states(len(pairs)))
        by_wish = _seen(pairs, list(places), sight)
        mixed = {
            (dam, named): [(dam, sire) for sire in odds]
            for (dam, named), odds in prepared.mixed.items()
        }
        return Following(
            states=states,
            own={
                sire: Family.of(
                    (
                        lone_states(group, sire, prepared.genotypes[sire].groups[group])
                        for group in groups
                    ),
                    sire,
                )
                for sire, groups in alone.items()
            },
            ties={wish: kinship.ties(by_wish[wish], mixed) for wish in wishes if wish in by_wish},
        )

    @property
    def averaged(self) -> tuple[str, ...]:
        """Return the sires of too many possible genotypes to be followed one by one."""
        return tuple(sorted(sire for sire, states in self.states.items() if states.averaged))

    @property
    def apart(self) -> tuple[tuple[str, ...], ...]:
        """Return the uncertain kin that some wish takes as independent, for want of states."""
        return tuple(sorted({animals for ties in self.ties.values() for animals in ties.apart}))

    @property
    def weights(self) -> dict[str, Array]:
        """Return the probabilities of every family's states, by its name."""
        tied = (family for ties in self.ties.values() for family in ties.families.values())
        weights = {family.name: family.weights for family in tied}
        return {sire: states.weights for sire, states in self.states.items()} | weights

    def is_tied(self, pair: Pair) -> bool:
        """Say whether a pair's clutch hangs together with clutches of other sires."""
        return any(pair in ties.families for ties in self.ties.values())

    def at(self, pair: Pair) -> Follow:
        """Return where a pair's parents are followed for some wish."""
        states = self.states.get(pair[1])
        alone = frozenset(states.groups) if states else frozenset()
        families = [ties.families[pair] for ties in self.ties.values() if pair in ties.families]
        if not families:
            return Follow(sire=alone) if alone else NOBODY
        groups = {kin.group for family in families for kin in family.kin}
        dam, sire = (
            frozenset(g for g in groups if any(family.follows(animal, g) for family in families))
            for animal in pair
        )
        return Follow(sire=alone | sire, dam=dam)

    def family(self, wish: int, pair: Pair) -> Family:
        """Return the family in which a pair's clutch stands for a wish."""
        ties = self.ties.get(wish)
        if ties and pair in ties.families:
            return ties.families[pair]
        return self.own.get(pair[1], _CERTAIN)

    def of_pair(self, pair: Pair) -> tuple[object, ...]:
        """Return how a pair is followed, to be held against another season."""
        states = self.states.get(pair[1])
        return (states.groups if states else (), self.at(pair), self.names(pair))

    def names(self, pair: Pair) -> dict[int, str]:
        """Return the names of a pair's families that are not its sire's own, by wish."""
        return {
            wish: ties.families[pair].name
            for wish, ties in self.ties.items()
            if pair in ties.families
        }


def _seen_of_sires(
    pairs: Sequence[Pair], sights: Sequence[Sight], sight: Numbers
) -> dict[str, set[str]]:
    """Return the linkage groups that wishes see in some of a sire's clutches."""
    sires, sire = named([sire for _, sire in pairs])
    found: dict[str, set[str]] = {name: set() for name in sires}
    groups = [each.groups or frozenset() for each in sights]
    for both in np.unique(sire * len(sights) + sight).tolist():
        found[sires[both // len(sights)]] |= groups[both % len(sights)]
    return found


def _seen(
    pairs: Sequence[Pair], sights: Sequence[Sight], sight: Numbers
) -> dict[int, dict[frozenset[str], list[Pair]]]:
    """Return for each wish the pairs that serve it, by the linkage groups it sees in the young."""
    order = np.argsort(sight, kind="stable")
    ends = np.searchsorted(sight[order], np.arange(len(sights) + 1)).tolist()
    found: dict[int, dict[frozenset[str], list[Pair]]] = defaultdict(dict)
    for told, (first, last) in zip(sights, pairwise(ends), strict=True):
        if told.seen:
            served = [pairs[number] for number in order[first:last].tolist()]
            for wish, groups in told.seen:
                found[wish].setdefault(groups, []).extend(served)
    return found
