"""How much a better policy could add: a bound on every policy of a route's frame.

Every genotype that the founders' descendants can have by a season is taken to be there, with as
many females of the best of them as may be held, kinship forgotten: the chance that none of these
best pairs gives a target is a lower bound on the chance of failing. Given what the founders are,
clutches of different females and seasons are independent whatever was decided before, so that the
bound holds for any policy that keeps to the founders, the seasons and the room.
"""

from __future__ import annotations

from collections.abc import Iterable

from brumal.records.animals import Sex
from brumal.routes.frame import Book, Frame, Member
from brumal.routes.genes import Kind, TargetGenes
from brumal.routes.selection import none_of

MOST_KINDS = 48
"""With more genotypes of a sex, later generations are taken to give nothing but targets."""


def most_chance(frame: Frame) -> float:
    """Return an upper bound on the chance of a target of any policy within the frame."""
    return sum(chance * (1 - _least_failing(frame, kinds)) for kinds, chance in frame.prior)


def _least_failing(frame: Frame, founders: tuple[Kind, ...]) -> float:
    members = Book(frame).members
    fail = 1.0
    reached = _Reach(frame, founders)
    for season in range(1, frame.seasons + 1):
        sires = reached.by(season, Sex.MALE)
        if sires is None or not sires:
            if sires is None:
                return 0.0
            continue
        for member, kind in zip(members, founders, strict=True):
            if member.sex is Sex.FEMALE and member.ready <= season:
                best = _best(frame.genes, [kind], sires)
                fail *= min(
                    none_of(frame.young(member, sire, season), best) for sire in _males(members)
                )
        dams = reached.young(season)
        if dams is None:
            return 0.0
        if dams and frame.hold:
            best = _best(frame.genes, dams, sires)
            fail *= min(none_of(young, best) for young in _young(frame, members, season)) ** (
                frame.hold
            )
    return fail


def _males(members: Iterable[Member]) -> list[Member]:
    return [
        *(each for each in members if each.sex is Sex.MALE),
        Member(number=-1, sex=Sex.MALE, ready=1),
    ]


def _young(frame: Frame, members: Iterable[Member], season: int) -> list[tuple[float, ...]]:
    """Return the clutches that a female that hatched on the way may have: first and later ones."""
    return [
        frame.young(Member(number=-1, sex=Sex.FEMALE, ready=ready, born=1), sire, season)
        for ready in (season, season - 1)
        for sire in _males(members)
    ]


def _best(genes: TargetGenes, dams: Iterable[Kind], sires: Iterable[Kind]) -> float:
    return max((genes.brood(dam, sire).target for dam in dams for sire in sires), default=0.0)


class _Reach:
    """The genotypes that can be there by each season; ``None`` where there are too many."""

    def __init__(self, frame: Frame, founders: tuple[Kind, ...]) -> None:
        self.frame = frame
        self.first: dict[tuple[Sex, Kind], int] = {}
        for founder, kind in zip(frame.founders, founders, strict=True):
            self._add(founder.sex, kind, founder.ready)
        self.hatched: dict[Kind, int] = {}
        self.many_from = frame.seasons + 1
        for season in range(1, frame.seasons + 1):
            self._breed(season)

    def by(self, season: int, sex: Sex) -> list[Kind] | None:
        """Return what animals of a sex may be in a season."""
        if season >= self.many_from:
            return None
        return [k for (own, k), first in self.first.items() if own is sex and first <= season]

    def young(self, season: int) -> list[Kind] | None:
        """Return what females that hatched on the way may be in a season."""
        if season >= self.many_from:
            return None
        return [kind for kind, first in self.hatched.items() if first <= season]

    def _add(self, sex: Sex, kind: Kind, season: int) -> None:
        self.first[sex, kind] = min(self.first.get((sex, kind), season), season)

    def _breed(self, season: int) -> None:
        dams, sires = self.by(season, Sex.FEMALE), self.by(season, Sex.MALE)
        least = season + min(self.frame.lag.values())
        if dams is None or sires is None or least > self.frame.seasons or not self.frame.hold:
            return
        if max(len(dams), len(sires)) > MOST_KINDS:
            self.many_from = min(self.many_from, least)
            return
        for dam in dams:
            for sire in sires:
                for alike in self.frame.genes.brood(dam, sire).others:
                    sex = self.frame.genes.seen(alike.look).sex
                    ready = season + self.frame.lag[sex]
                    for kind, _ in alike.kinds:
                        self._add(sex, kind, ready)
                        if sex is Sex.FEMALE:
                            self.hatched[kind] = min(self.hatched.get(kind, ready), ready)
