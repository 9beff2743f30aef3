"""Whose genotypes are followed: sires through their clutches, and kin through theirs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from brumal.forecast.layouts import Laid, Layout, Sheet
from brumal.forecast.sheets import groups_that_count
from brumal.genetics.kin_states import lone_states
from brumal.planner.families import Family, Kinship, Ties, most_states
from brumal.planner.pair_columns import named
from brumal.planner.pair_tables import NOBODY, Follow, PairTables, SireStates
from brumal.planner.pairing import Array, Pair

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
        layouts: Sequence[Layout],
        wishes: Iterable[int],
    ) -> Following:
        """Find out whom to follow for these wishes, each the number of its mark on the sheets."""
        laid = Laid.one_each(layouts)
        seen = _seen_of_sires(pairs, laid)
        states = {
            sire: states
            for sire, groups in sorted(seen.items())
            if len((states := tables.states(sire, groups)).weights) > 1 or states.averaged
        }
        prepared = tables.prepared
        alone = {sire: each.groups for sire, each in states.items()}
        kinship = Kinship(prepared.inferred, prepared.genotypes, alone, most_states(len(pairs)))
        by_wish = _seen(pairs, laid)
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
            ties={wish: kinship.ties(by_wish[wish]) for wish in wishes if wish in by_wish},
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


def _seen_of_sires(pairs: Sequence[Pair], laid: Laid) -> dict[str, set[str]]:
    """Return the linkage groups that wishes see in some of a sire's clutches."""
    groups = groups_that_count(laid.layouts)
    sorts: dict[frozenset[str] | None, int] = {}
    sort = np.array([sorts.setdefault(each, len(sorts)) for each in groups], dtype=np.intp)
    sires, sire = named([sire for _, sire in pairs])
    found: dict[str, set[str]] = {name: set() for name in sires}
    seen = list(sorts)
    for both in np.unique(sire * len(seen) + sort[laid.place]).tolist():
        found[sires[both // len(seen)]] |= seen[both % len(seen)] or set()
    return found


def _seen(pairs: Sequence[Pair], laid: Laid) -> dict[int, dict[frozenset[str], list[Pair]]]:
    """Return for each wish the pairs that serve it, by the linkage groups it sees in the young."""
    sheets: dict[int, Sheet] = {}
    places: dict[int, int] = {}
    sheet_of = []
    for layout in laid.layouts:
        if layout.sheet is not None:
            sheets[id(layout.sheet)] = layout.sheet
        sheet_of.append(places.setdefault(id(layout.sheet), len(places)))
    sheet = np.array(sheet_of, dtype=np.intp)[laid.place]
    order = np.argsort(sheet, kind="stable")
    ends = np.searchsorted(sheet[order], np.arange(len(places) + 1)).tolist()
    found: dict[int, dict[frozenset[str], list[Pair]]] = defaultdict(dict)
    for key, (first, last) in zip(places, pairwise(ends), strict=True):
        told = sheets.get(key)
        if told is not None and told.seen:
            served = [pairs[number] for number in order[first:last].tolist()]
            for wish in np.flatnonzero(told.apart.any(axis=1)).tolist():
                found[wish].setdefault(told.seen_by(wish), []).extend(served)
    return found
