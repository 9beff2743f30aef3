"""Which clutches hang together: families of clutches whose uncertain parents are shared or kin.

What a wish counts in two clutches is dependent where a parent of uncertain genotype is in both, or
where an uncertain parent of one and an uncertain parent of the other stand in the same part of the
pedigree, at a linkage group that decides whether young count. The clutches of a sire are a family
of their own (paternal half sibs); a tie joins families. Within a family clutches are independent
given its state, what the animals that are followed may be together; families are independent of
each other. Families are told for each wish by itself, since each sees linkage groups of its own.

A family is followed up to so many states, the more the fewer pairs there are. A tie that would need
more is left out, the kin then taken as independent at that linkage group: ties of few animals are
joined first, then by name, so that the same season always leaves out the same.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from brumal.genetics.evidence.infer import Inferred
from brumal.genetics.evidence.kin_states import MOST_STATES, KinStates, kin_states, lone_states
from brumal.genetics.genotypes import SEX_GROUP, Diplotype, Genotype
from brumal.planner.pairs.candidate import Array, Pair

MOST_NUMBERS = 20_000
"""A family is followed while its states times the pairs of the season stay within this, but ..."""
FEW_STATES = 16
"""... always through so many states, and never through more than ``MOST_STATES``."""

_Part = tuple[str, int]
"""A linkage group and a part of the pedigree there."""
_Parts = tuple[_Part, ...]
_Unsure = tuple[str, int, str]
"""A part with the sire who stands in it, or with nobody's name for all dams in it."""
_Served = tuple[Sequence[Pair], Mapping[str, _Parts], Mapping[str, _Parts]]
"""Pairs, and where their dams and their sires are uncertain."""


@dataclass(frozen=True, slots=True, eq=False)
class Family:
    """Clutches that hang together, by what their followed animals may be.

    ``weights`` has shape (states,); states are the product of those of the ``kin``, which are
    independent of each other.
    """

    name: str
    weights: Array
    kin: tuple[KinStates, ...]

    @staticmethod
    def of(kin: Iterable[KinStates], name: str = "") -> Family:
        """Join kin that clutches tie to each other; left out, the name says who is followed."""
        ordered = sorted(kin, key=lambda each: (each.group != SEX_GROUP, each.group, each.followed))
        weights = np.ones(1)
        for each in ordered:
            weights = np.multiply.outer(weights, each.weights).reshape(-1)
        followed = "; ".join(f"{each.group}: {', '.join(each.followed)}" for each in ordered)
        return Family(name or followed, weights, tuple(ordered))

    def given(self, animal: str, group: str) -> tuple[tuple[Diplotype, ...], Array] | None:
        """Return what an animal may be and its chances by state; ``None``: not followed here."""
        before, after = 1, self.weights.size
        for each in self.kin:
            after //= each.weights.size
            if each.group == group and animal in each.given:
                found, chances = each.given[animal]
                return found, np.tile(chances.repeat(after, axis=0), (before, 1))
            before *= each.weights.size
        return None

    def follows(self, animal: str, group: str) -> bool:
        """Say whether what an animal is at a linkage group depends on the state."""
        return any(each.group == group and animal in each.given for each in self.kin)


@dataclass(frozen=True, slots=True, eq=False)
class Ties:
    """The families that one wish sees where kin are tied, by pair; others are their sires' own.

    ``apart`` are the animals of each tie that was left out.
    """

    families: Mapping[Pair, Family]
    apart: frozenset[tuple[str, ...]]


def most_states(pairs: int) -> int:
    """Return how many states a family may have in a season of so many pairs.

    It is a power of two, so that a pair more or less seldom changes who is followed.
    """
    allowed = min(max(MOST_NUMBERS // max(pairs, 1), FEW_STATES), MOST_STATES)
    return 1 << (allowed.bit_length() - 1)


@dataclass(slots=True, eq=False)
class Kinship:
    """What is known of uncertain animals and their kin; what is worked out once is kept.

    ``alone`` holds the linkage groups at which each sire is followed for himself.
    """

    inferred: Inferred
    genotypes: Mapping[str, Genotype]
    alone: Mapping[str, tuple[str, ...]]
    most: int
    _lone: dict[tuple[str, str], KinStates] = field(default_factory=dict)
    _parts: dict[str, _Parts] = field(default_factory=dict)

    def ties(
        self, seen: Mapping[frozenset[str], Sequence[Pair]], mixed: Mapping[Pair, Sequence[Pair]]
    ) -> Ties:
        """Return how pairs are tied for a wish, by the linkage groups it sees in their young.

        ``mixed`` are the pairs that one of uncertain sire may be: his males are tied by her.
        """
        served: list[_Served] = []
        sires: dict[_Part, set[str]] = defaultdict(set)
        dams: dict[_Part, set[str]] = defaultdict(set)
        for groups, pairs in seen.items():
            hers = {dam: self._unsure(dam, groups) for dam in {dam for dam, _ in pairs}}
            his = {sire: self._unsure(sire, groups) for sire in {sire for _, sire in pairs}}
            for found, animals in ((hers, dams), (his, sires)):
                for animal, parts in found.items():
                    for part in parts:
                        animals[part].add(animal)
            served.append((pairs, hers, his))
        size = {p: len(dams.get(p, ())) + len(sires.get(p, ())) for p in {*dams, *sires}}
        tied = sorted([part for part in size if size[part] > 1], key=lambda p: (size[p], p))
        if not tied and not mixed:
            return Ties({}, frozenset())
        web = _Web(self, set(tied), {part: sorted(sires.get(part, ())) for part in tied})
        web.join(
            {(hers[dam], his[sire], sire) for pairs, hers, his in served for dam, sire in pairs}
        )
        web.join_mixed(mixed.values(), _touched(served) if mixed else {})
        apart = set()
        for part in tied:
            own = tuple(sorted(sires.get(part, ())))
            others = tuple(sorted(dams.get(part, ())))
            if not web.takes(part, own, others):
                apart.add(tuple(sorted((*own, *others))))
        if not web.taken and not web.mixed:
            return Ties({}, frozenset(apart))
        families = web.families(_touched(served))
        return Ties({**families, **_of_mixed(families, mixed)}, frozenset(apart))

    def lone(self, sire: str, group: str) -> KinStates:
        """Return the states of a sire at a group where he is tied to nobody, in kin's order."""
        if (sire, group) not in self._lone:
            belief = tuple(sorted(self.genotypes[sire].groups[group]))
            self._lone[sire, group] = lone_states(group, sire, belief)
        return self._lone[sire, group]

    def _unsure(self, animal: str, groups: frozenset[str]) -> _Parts:
        """Return where an animal is uncertain among these groups."""
        if animal not in self._parts:
            beliefs = self.genotypes[animal].groups
            parts = sorted(self.inferred.uncertain[animal].items())
            # A group left out of the beliefs is certainly wild type.
            self._parts[animal] = tuple(
                [part for part in parts if len(beliefs.get(part[0], ())) > 1]
            )
        return tuple([part for part in self._parts[animal] if part[0] in groups])


def _touched(served: Iterable[_Served]) -> dict[Pair, tuple[_Parts, _Parts]]:
    """Return where dam and sire of each pair are uncertain."""
    return {
        (dam, sire): (hers[dam], his[sire]) for pairs, hers, his in served for dam, sire in pairs
    }


def _of_mixed(
    families: Mapping[Pair, Family], mixed: Mapping[Pair, Sequence[Pair]]
) -> dict[Pair, Family]:
    """Return the family of each clutch of uncertain sire, for all that it may be."""
    found: dict[Pair, Family] = {}
    for named, pairs in mixed.items():
        own = next((families[pair] for pair in pairs if pair in families), None)
        if own is not None:
            found |= dict.fromkeys((named, *pairs), own)
    return found


@dataclass(slots=True, eq=False)
class _Web:
    """Uncertain animals that one wish sees, joined by the clutches that they share.

    ``tied`` are the parts in which several of them stand, ``sires`` the sires in each;
    ``taken`` are the ties that are followed so far, ``mixed`` the sires of whom one has a clutch,
    each where he is followed for himself.
    """

    kinship: Kinship
    tied: set[_Part]
    sires: Mapping[_Part, Sequence[str]]
    near: dict[_Unsure, set[_Unsure]] = field(default_factory=lambda: defaultdict(set))
    taken: dict[_Part, KinStates] = field(default_factory=dict)
    mixed: set[_Unsure] = field(default_factory=set)

    def join(self, clutches: Iterable[tuple[_Parts, _Parts, str]]) -> None:
        """Take in clutches by the parts in which dam and sire are uncertain, and the sire."""
        met: set[tuple[_Unsure, ...]] = set()
        for hers, his, sire in clutches:
            both: list[_Unsure] = [(*part, "") for part in hers if part in self.tied]
            both += [(*part, sire) for part in his]
            met.add(tuple(both))
        for each in met:
            for unsure in each:
                self.near[unsure].update(each)

    def join_mixed(
        self, clutches: Iterable[Sequence[Pair]], touched: Mapping[Pair, tuple[_Parts, _Parts]]
    ) -> None:
        """Take in clutches of uncertain sire, each by the pairs that it may be of."""
        for pairs in clutches:
            seen = [pair for pair in pairs if pair in touched]
            hers = {(*p, "") for pair in seen for p in touched[pair][0] if p in self.tied}
            his = {(*p, pair[1]) for pair in seen for p in touched[pair][1]}
            for each in hers | his:
                self.near[each].update(hers | his)
            self.mixed |= {each for each in his if self._is_alone(each)}

    def takes(self, part: _Part, own: tuple[str, ...], others: tuple[str, ...]) -> bool:
        """Follow a tie if that needs no more states than allowed; say whether it is followed."""
        most = self.kinship.most
        rest = 1
        for each in self._reach(part):
            rest *= 1 if each == part else self._kin(each).weights.size
            if 2 * rest > most:
                return False
        states = kin_states(self.kinship.inferred, *part, own, others, most // rest)
        if states is None:
            return False
        self.taken[part] = states
        return True

    def families(self, touched: Mapping[Pair, tuple[_Parts, _Parts]]) -> dict[Pair, Family]:
        """Return the family of each pair that a followed tie reaches."""
        of: dict[_Part | _Unsure, Family] = {}
        starts: list[_Part | _Unsure] = [*self.taken, *sorted(self.mixed)]
        for part in starts:
            if part not in of and (part[0], part[1]) not in of:
                kin = {each: self._kin(each) for each in self._reach(part)}
                states = math.prod(each.weights.size for each in kin.values())
                if part in self.taken or states <= self.kinship.most:
                    of |= dict.fromkeys(kin, Family.of(kin.values()))
        found: dict[Pair, Family] = {}
        for pair, (hers, his) in touched.items():
            for part in (*hers, *his):
                # A sire who is not of a tie may be reached from one all the same.
                family = of.get(part) or (of.get((*part, pair[1])) if part in his else None)
                if family is not None:
                    found[pair] = family
                    break
        return found

    def _reach(self, part: _Part | _Unsure) -> Iterator[_Part | _Unsure]:
        """Yield what hangs together with a tie, or with a sire who is followed for himself.

        These are ties that are followed, and sires by themselves.
        """
        met: set[_Part | _Unsure] = {part}
        seen: set[_Unsure] = set()
        waiting = self._members(part) if len(part) == 2 else [part]
        yield part
        while waiting:
            unsure = waiting.pop()
            if unsure in seen:
                continue
            seen.add(unsure)
            own = unsure[:2]
            if own == part or own in self.taken:
                if own not in met:
                    met.add(own)
                    yield own
                waiting += self._members(own)
            elif self._is_alone(unsure):
                if unsure not in met:
                    met.add(unsure)
                    yield unsure
            else:
                continue
            waiting += sorted(self.near.get(unsure, ()))

    def _is_alone(self, unsure: _Unsure) -> bool:
        """Say whether this is a sire who is followed for himself."""
        return unsure[0] in self.kinship.alone.get(unsure[2], ())

    def _members(self, part: _Part) -> list[_Unsure]:
        return [(*part, ""), *((*part, sire) for sire in self.sires[part])]

    def _kin(self, reached: _Part | _Unsure) -> KinStates:
        if len(reached) == 2:
            return self.taken[reached]
        return self.kinship.lone(reached[2], reached[0])
