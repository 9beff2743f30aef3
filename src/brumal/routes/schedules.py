"""Which founders a route may start from: schedules of crosses, told apart by rough chances.

A schedule is a tree: a target is the young of two items, an item is a founder or a young held back
from two items. Every pair of founders is looked at; of the young of founders the ``BEAM`` of each
sex that carry the most towards the target are crossed on once more. Chances here multiply averages:
they only order the schedules, and what is told of a route is worked out anew, exactly.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.genetics.genotypes import Haplotype
from brumal.records.animals import Sex
from brumal.routes.frame import Book, Frame
from brumal.routes.framing import Start, beliefs, frame_without_odds
from brumal.routes.genes import Genes, Kind, Look, TargetGenes
from brumal.routes.selection import none_of

BEAM = 24
"""Young of founders, of each sex, that are crossed with each other and with founders once more."""
MOST_KINDS = 64
"""Genotypes that one item may have; an item with more is left out (its founder too)."""
PARTNERS = 2
"""Founders of each sex that carry nothing of the target and are looked at as mates all the same."""
TRIED = 4000
"""Best pairs of items whose kinship and rules are looked at."""
MOST_ITEMS = 1500
"""Young of each sex that are looked at as parents of a target."""
MOST_FOUNDERS = 6
"""Founders of one route."""
TRIES = 2
"""Seasons in which a young to be held back is counted on, in rough chances."""

NOTHING = 1e-12
"""Rough chances below this are errors of rounding."""

Floats = NDArray[np.float64]
Kinds = tuple[tuple[Kind, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """An animal of a schedule: its number in the book, what it may be, the chance to have it."""

    number: int
    sex: Sex
    ready: int
    kinds: tuple[tuple[Kind, float], ...]
    odds: float
    founders: frozenset[int]
    worth: float = 0.0


def schedules(start: Start, seasons: int, most: int) -> tuple[tuple[str, ...], ...]:
    """Return up to ``most`` sets of founders, by id, that lead to a target within so many seasons.

    The likeliest come first, by rough chances.
    """
    kinds = _all_kinds(start)
    ids = _relevant(start, kinds)
    return _Search(start, ids, kinds, seasons).found(most) if ids else ()


def carriers_and_mates(start: Start) -> tuple[str, ...]:
    """Return the founders that may carry genes of the target, and a few mates without."""
    return _relevant(start, _all_kinds(start))


def _all_kinds(start: Start) -> dict[str, Kinds]:
    return {name: found for name in start.founders if (found := kinds_of(start, name))}


def kinds_of(start: Start, name: str) -> tuple[tuple[Kind, float], ...]:
    """Return what a founder may be, its groups taken as independent; nothing if too much."""
    found: list[tuple[Genes, float]] = [((), 1.0)]
    for belief in beliefs(start, name):
        found = [
            ((*sofar, pair), chance * share)
            for sofar, chance in found
            for pair, share in belief
            if share > 0
        ]
        if len(found) > MOST_KINDS:
            return ()
    return tuple((start.genes.kind(made), chance) for made, chance in found)


def _relevant(start: Start, kinds: Mapping[str, Kinds]) -> tuple[str, ...]:
    """Return the founders that may carry genes of the target, and a few mates without."""
    carriers: list[str] = []
    plain: dict[Sex, list[str]] = {sex: [] for sex in Sex}
    for name, found in kinds.items():
        if any(start.genes.copies(kind) for kind, _ in found):
            carriers.append(name)
        else:
            plain[start.founders[name].sex].append(name)
    for mates in plain.values():
        mates.sort(key=lambda name: (start.founders[name].ready, name))
        carriers += mates[:PARTNERS]
    return tuple(sorted(carriers))


class _Search:
    """The items of a collection up to the second generation, and pairs that give a target."""

    def __init__(
        self, start: Start, ids: Sequence[str], kinds: Mapping[str, Kinds], seasons: int
    ) -> None:
        self.frame: Frame = frame_without_odds(start, ids, seasons)
        self.genes: TargetGenes = start.genes
        self.book = Book(self.frame)
        self.founders = [
            Item(at, member.sex, member.ready, kinds[name], 1.0, frozenset({at}))
            for at, (name, member) in enumerate(zip(ids, self.book.members, strict=True))
            if member.ready <= seasons
        ]

    def found(self, most: int) -> tuple[tuple[str, ...], ...]:
        """Return the likeliest sets of founders."""
        first = self._young_of(self.founders, self.founders)
        near = [each for sex in Sex for each in _of_sex(first, sex)[:BEAM]]
        second = self._young_of([*self.founders, *near], near)
        kept = [each for sex in Sex for each in _of_sex([*first, *second], sex)[:MOST_ITEMS]]
        items = [*self.founders, *kept]
        best: list[frozenset[int]] = []
        for dam, sire in self._finals(items):
            founders = dam.founders | sire.founders
            if len(founders) > MOST_FOUNDERS or any(each <= founders for each in best):
                continue
            if self.book.may_meet(dam.number, sire.number):
                best.append(founders)
                if len(best) == most:
                    break
        return tuple(tuple(self._id(at) for at in sorted(founders)) for founders in best)

    def _id(self, number: int) -> str:
        founder = self.book.members[number].founder
        return founder.id if founder is not None else ""

    def _young_of(self, one: Sequence[Item], other: Sequence[Item]) -> list[Item]:
        """Return the young of every female and male of which one is of each list."""
        pairs = {
            (dam.number, sire.number): (dam, sire)
            for dams, sires in ((one, other), (other, one))
            for dam in dams
            if dam.sex is Sex.FEMALE
            for sire in sires
            if sire.sex is Sex.MALE
        }
        return [young for dam, sire in pairs.values() for young in self._young(dam, sire)]

    def _young(self, dam: Item, sire: Item) -> Iterator[Item]:
        season = max(dam.ready, sire.ready)
        first = season + min(self.frame.lag.values())
        if first > self.frame.seasons or not self.book.may_meet(dam.number, sire.number):
            return
        members = self.book.members[dam.number], self.book.members[sire.number]
        young = self.frame.young(*members, season)
        for look, (share, kinds) in self._looks(dam, sire).items():
            sex = self.genes.seen(look).sex
            ready = season + self.frame.lag[sex]
            worth = sum(chance * self.genes.copies(kind) for kind, chance in kinds)
            if ready > self.frame.seasons or worth <= 0 or len(kinds) > MOST_KINDS:
                continue
            odds = dam.odds * sire.odds * (1 - none_of(young, share) ** TRIES)
            number = self.book.young(dam.number, sire.number, season, look, 0)
            yield Item(number, sex, ready, kinds, odds, dam.founders | sire.founders, worth)

    def _looks(self, dam: Item, sire: Item) -> dict[Look, tuple[float, Kinds]]:
        """Return the share of each look among the young, and what they may be."""
        shares: dict[Look, dict[Kind, float]] = {}
        for (mother, p), (father, q) in itertools.product(dam.kinds, sire.kinds):
            for each in self.genes.brood(mother, father).others:
                into = shares.setdefault(each.look, {})
                for kind, chance in each.kinds:
                    into[kind] = into.get(kind, 0.0) + p * q * each.share * chance
        return {
            look: (total, tuple((kind, share / total) for kind, share in kinds.items()))
            for look, kinds in shares.items()
            for total in [sum(kinds.values())]
        }

    def _finals(self, items: Sequence[Item]) -> Iterator[tuple[Item, Item]]:
        """Yield the likeliest pairs of items by the rough chance of a target from them."""
        dams = [each for each in items if each.sex is Sex.FEMALE]
        sires = [each for each in items if each.sex is Sex.MALE]
        if not dams or not sires:
            return
        target = self._targets(dams, sires)
        start = np.maximum.outer([d.ready for d in dams], [s.ready for s in sires])
        left = np.maximum(self.frame.seasons - start + 1, 0)
        clutch = np.array(self._usual())
        none = np.polynomial.polynomial.polyval(1 - np.minimum(target, 1.0), clutch)
        odds = np.multiply.outer([d.odds for d in dams], [s.odds for s in sires])
        rough = odds * (1 - none**left)
        order = np.argsort(-rough, axis=None, kind="stable")[:TRIED]
        for at in order.tolist():
            row, column = divmod(at, len(sires))
            if rough[row, column] <= NOTHING:
                return
            yield dams[row], sires[column]

    def _usual(self) -> tuple[float, ...]:
        """Return the young of a clutch of the first female there is."""
        dam = next(each for each in self.book.members if each.sex is Sex.FEMALE)
        sire = next(each for each in self.book.members if each.sex is Sex.MALE)
        return self.frame.young(dam, sire, 1)

    def _targets(self, dams: Sequence[Item], sires: Sequence[Item]) -> Floats:
        """Return the chance that one young is a target, for each dam and sire."""
        eggs, hers = self._gametes(dams)
        sperms, his = self._gametes(sires)
        fits = np.array(
            [[self.genes.is_target(self.genes.joined(e, s)) for s in sperms] for e in eggs], float
        )
        found: Floats = hers @ fits @ his.T
        return found

    def _gametes(self, items: Sequence[Item]) -> tuple[list[tuple[Haplotype, ...]], Floats]:
        """Return the gametes of items: all there are, and the chance of each, (items, gametes)."""
        known: dict[Kind, dict[tuple[Haplotype, ...], float]] = {}
        places: dict[tuple[Haplotype, ...], int] = {}
        for item in items:
            for kind, _ in item.kinds:
                if kind not in known:
                    known[kind] = self.genes.gametes(kind)
                    for gamete in known[kind]:
                        places.setdefault(gamete, len(places))
        table = np.zeros((len(items), len(places)))
        for row, item in enumerate(items):
            for kind, chance in item.kinds:
                for gamete, share in known[kind].items():
                    table[row, places[gamete]] += chance * share
        return list(places), table


def _of_sex(items: Sequence[Item], sex: Sex) -> list[Item]:
    """Return the items of a sex, those that carry the most towards the target first."""
    own = [each for each in items if each.sex is sex]
    return sorted(own, key=lambda each: (-each.worth * each.odds, each.ready, each.number))
