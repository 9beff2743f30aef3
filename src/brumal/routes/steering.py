"""What a policy tries: who is paired, which young are looked for, which are held.

With ``whole`` it tries everything. Else it tries the likeliest: by what an animal *promises*, the
rough chance of a target by the last season with the best mate among founders, animals held and
young of the same season. No chance that is told rests on a promise, only what is tried.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from brumal.records.animals import Sex
from brumal.routes.frame import Book, Frame, Pmf, Rows
from brumal.routes.genes import Brood, Kind, Look
from brumal.routes.outcomes import Offer, Ranking
from brumal.routes.selection import none_of

Pair = tuple[int, int]
"""Dam and sire by number."""
Held = tuple[int, Offer | None]
"""A member, and what it was offered as where it is new."""
Kinds = tuple[tuple[Kind, float], ...]
GENE_STEP = 1e-4
"""What a copy of a gene of the target counts beside the rough chance of a target."""
MATE_TO_COME = 0.5
"""A mate that may hatch in the same season counts so much of one that is there."""
FEW = 4
"""So many choices of young to hold are all tried."""


@dataclass(frozen=True, slots=True)
class State:
    """What is known before a season; ``rows`` has a column for each founder, then each held.

    ``resting`` holds the females that rest and the last season in which they do, ``runs`` those
    that were paired in the season before, with how many seasons in a row.
    """

    season: int
    held: tuple[int, ...]
    rows: Rows
    resting: tuple[tuple[int, int], ...] = ()
    runs: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Width:
    """How far a policy looks.

    ``whole``: every composition of a clutch, every pairing, every choice. Otherwise ``looks`` is
    the length of the ranking of each sex, ``females`` and ``males`` how many of each are told
    apart, ``mates`` how many sires are tried for a female, ``pairings`` how many sets of pairs a
    season. ``rows`` is the most joint chances followed (young that would need more are not held);
    young are held from seasons up to ``until``.
    """

    whole: bool = False
    looks: int = 3
    females: int = 1
    males: int = 1
    mates: int = 2
    pairings: int = 3
    rows: int = 512
    until: int = 1000


class Steering:
    """What is tried in the states of one frame."""

    def __init__(self, frame: Frame, book: Book, width: Width) -> None:
        self.frame, self.book, self.width = frame, book, width
        self.genes, self._founders = frame.genes, len(frame.founders)
        self._last = {
            sex: min(frame.seasons - frame.lag[sex], width.until)
            for sex in Sex
            if frame.hold and frame.hold_sex in (None, sex)
        }
        self._targets: dict[tuple[Kinds, Kinds], float] = {}
        self._promised: dict[tuple[State, tuple[Pair, ...]], _Promised] = {}

    # What is true of a state ----------------------------------------------------------------

    def brood(self, state: State, kinds: tuple[Kind, ...], pair: Pair) -> Brood:
        """Return the young of a pair, given what all animals are."""
        dam, sire = pair
        return self.genes.brood(self.kind(state, kinds, dam), self.kind(state, kinds, sire))

    def kind(self, state: State, kinds: tuple[Kind, ...], number: int) -> Kind:
        """Return what a member is, given one row of the state."""
        founders = self._founders
        return kinds[number if number < founders else founders + state.held.index(number)]

    def may_be(
        self, state: State, kinds: tuple[Kind, ...], pairs: Sequence[Pair], held: Held
    ) -> Kinds:
        """Return what an animal held or offered may be, given one row of the state."""
        number, offer = held
        if offer is None:
            return ((self.kind(state, kinds, number), 1.0),)
        brood = self.brood(state, kinds, pairs[offer[0]])
        return next((each.kinds for each in brood.others if each.look == offer[1]), ())

    def in_time(self, state: State, look: Look) -> bool:
        """Say whether young of a look may be held and can still breed."""
        return state.season <= self._last.get(self.frame.genes.seen(look).sex, 0)

    def too_late(self, state: State) -> bool:
        """Say whether no young of the season can breed in time."""
        return all(state.season > last for last in self._last.values())

    # Pairs ----------------------------------------------------------------------------------

    def pairings(self, state: State) -> Sequence[tuple[Pair, ...]]:
        """Return the sets of pairs to try in a season."""
        mates = self.mates(state)
        if self.width.whole:
            return list(self._matchings(state, mates))
        return self._likely(state, mates)

    def mates(self, state: State) -> dict[int, list[int]]:
        """Return for each female that may breed the males she may meet to some purpose."""
        season = state.season
        able = self.book.able((*range(len(self.frame.founders)), *state.held), season)
        busy = {number for number, until in state.resting if until >= season}
        males = [each for each in able if each.sex is Sex.MALE]
        found = {}
        for dam in able:
            if dam.sex is not Sex.FEMALE or dam.number in busy:
                continue
            given = dam.founder.given if dam.founder and season == 1 else None
            found[dam.number] = [
                sire.number
                for sire in males
                if (given is None or (sire.founder is not None and sire.founder.id == given))
                and self.book.may_meet(dam.number, sire.number)
                and self._serves(state, (dam.number, sire.number))
            ]
        return {dam: sires for dam, sires in found.items() if sires}

    def ranked_mates(self, state: State) -> dict[int, list[int]]:
        """Return for each female the males that she may meet to some purpose, the best first."""
        mates = self.mates(state)
        worth = self._pair_worth(state, mates)
        return {
            dam: sorted(sires, key=lambda sire, dam=dam: (-worth[dam, sire], sire))  # type: ignore[misc]
            for dam, sires in mates.items()
        }

    def _serves(self, state: State, pair: Pair) -> bool:
        """Say whether a pair may give a target, or young that can still breed and are wanted."""
        late = self.too_late(state)
        return any(
            brood.target > 0
            or (
                not late
                and any(
                    self.in_time(state, each.look)
                    and (self.width.whole or self._copies(each.kinds))
                    for each in brood.others
                )
            )
            for brood in (self.brood(state, kinds, pair) for kinds, _ in state.rows)
        )

    def _copies(self, kinds: Kinds) -> float:
        return sum(chance * self.frame.genes.copies(kind) for kind, chance in kinds)

    def _matchings(
        self, state: State, mates: Mapping[int, list[int]]
    ) -> Iterator[tuple[Pair, ...]]:
        """Yield every way to give each female a male or none, within what each male serves."""
        dams = sorted(mates)
        for sires in itertools.product(*((None, *mates[dam]) for dam in dams)):
            pairs = tuple((d, s) for d, s in zip(dams, sires, strict=True) if s is not None)
            if self._within(pairs, state.season):
                yield pairs

    def _within(self, pairs: Sequence[Pair], season: int) -> bool:
        sires = [sire for _, sire in pairs]
        return all(
            sires.count(sire) <= self.frame.males(self.book.members[sire], season)
            for sire in set(sires)
        )

    def _likely(self, state: State, mates: Mapping[int, list[int]]) -> list[tuple[Pair, ...]]:
        """Return the likeliest sets of pairs, the first ones by the sum of what each promises."""
        worth = self._pair_worth(state, mates)
        sets: list[tuple[float, tuple[Pair, ...]]] = [(0.0, ())]
        for dam in sorted(mates, key=lambda each: -max(worth[each, s] for s in mates[each])):
            ordered = sorted(mates[dam], key=lambda sire: -worth[dam, sire])
            longer = [
                (told + worth[dam, sire], (*sofar, (dam, sire)))
                for told, sofar in sets
                for sire in ordered[: self.width.mates]
                if self._within((*sofar, (dam, sire)), state.season)
            ]
            # Those without a male of hers stay: a better use of him may come.
            sets = sorted([*longer, *sets], key=lambda one: (-one[0], -len(one[1]), one[1]))
            sets = sets[: 4 * self.width.pairings]
        likely = [tuple(sorted(pairs)) for _, pairs in sets[: self.width.pairings]]
        return list(dict.fromkeys([*likely, *self._sparing(state, likely[0])]))

    def _sparing(self, state: State, pairs: tuple[Pair, ...]) -> Iterator[tuple[Pair, ...]]:
        """Yield the pairs without those females that would have to rest after them."""
        tired = self.tired(state, {dam for dam, _ in pairs})
        if tired and state.season < self.frame.seasons:
            for spared in (tired, *({dam} for dam in tired if len(tired) > 1)):
                yield tuple(pair for pair in pairs if pair[0] not in spared)

    def tired(self, state: State, paired: set[int]) -> set[int]:
        """Return those females that have to rest after a season in which they are paired."""
        runs, most = dict(state.runs), self.frame.in_a_row
        return {dam for dam in paired if self.frame.rest or (most and runs.get(dam, 0) + 1 >= most)}

    def _pair_worth(self, state: State, mates: Mapping[int, list[int]]) -> dict[Pair, float]:
        """Return the rough chance of a target that each pair adds, now or through its young."""
        pairs = tuple((dam, sire) for dam, sires in mates.items() for sire in sires)
        promised = self._promises(state, pairs)
        worth = {}
        for place, pair in enumerate(pairs):
            young = self._young(pair, state.season)
            target = self._target(*(promised.kinds[number] for number in pair))
            later = max(
                (
                    promised.of[number] * (1 - none_of(young, promised.share[offer]))
                    for offer, number in promised.offers.items()
                    if offer[0] == place
                ),
                default=0.0,
            )
            worth[pair] = 1 - none_of(young, target) + later
        return worth

    # Young ----------------------------------------------------------------------------------

    def ranking(self, state: State, pairs: tuple[Pair, ...]) -> Ranking:
        """Rank the young that a season's pairs may give by what they promise."""
        promised = self._promises(state, pairs)
        ordered = sorted(promised.offers, key=lambda o: (-promised.of[promised.offers[o]], o))
        sexes = {sex: [o for o in ordered if self.frame.genes.seen(o[1]).sex is sex] for sex in Sex}
        self._match(promised, sexes[Sex.FEMALE], sexes[Sex.MALE])
        hold = self.frame.hold
        return Ranking(
            females=tuple(sexes[Sex.FEMALE][: self.width.looks]),
            males=tuple(sexes[Sex.MALE][: self.width.looks]),
            most=(min(self.width.females, hold), min(self.width.males, hold)),
        )

    def _match(self, promised: _Promised, females: list[Offer], males: list[Offer]) -> None:
        """Set the best mate of the most promising female first, where it is one of the males."""
        if females:
            mate = promised.mate[promised.offers[females[0]]]
            males.sort(key=lambda offer: promised.offers[offer] != mate)

    def choices(
        self, state: State, pairs: tuple[Pair, ...], pool: Sequence[Held], size: int
    ) -> Iterator[tuple[Held, ...]]:
        """Yield the choices of ``size`` of the pool to hold: all of them, or the likeliest.

        These are to go on with those held before, and to take the most promising, each with its
        best mate.
        """
        if self.width.whole or math.comb(len(pool), size) <= FEW:
            yield from itertools.combinations(pool, size)
            return
        promised = self._promises(state, pairs)
        by_number = {held[0]: held for held in pool}
        ordered = sorted(pool, key=lambda held: (-promised.of.get(held[0], 0.0), held[0]))
        taken: list[Held] = []
        for held in ordered:
            mate = promised.mate.get(held[0], -1)
            for each in (held, by_number.get(mate)):
                if each is not None and each not in taken:
                    taken.append(each)
        tried = {tuple(sorted(chosen)) for chosen in (pool[:size], taken[:size])}
        yield from sorted(tried, key=lambda chosen: [held[0] for held in chosen])

    # Promises -------------------------------------------------------------------------------

    def _promises(self, state: State, pairs: tuple[Pair, ...]) -> _Promised:
        key = (state, pairs)
        if key not in self._promised:
            self._promised[key] = self._promise_all(state, pairs)
        return self._promised[key]

    def _promise_all(self, state: State, pairs: tuple[Pair, ...]) -> _Promised:
        founders = range(len(self.frame.founders))
        kinds = {number: self._marginal(state, number) for number in (*founders, *state.held)}
        there = set(kinds)
        offers, share = {}, {}
        for offer, (chance, alike) in self.offered(state, pairs).items():
            dam, sire = pairs[offer[0]]
            number = self.book.young(dam, sire, state.season, offer[1], 0)
            offers[offer], share[offer], kinds[number] = number, chance, alike
        of, mates = {}, {}
        for number in (*state.held, *offers.values()):
            of[number], mates[number] = self._best_mate(number, kinds, there)
        return _Promised(of=of, mate=mates, offers=offers, share=share, kinds=kinds)

    def _best_mate(
        self, number: int, kinds: Mapping[int, Kinds], there: set[int]
    ) -> tuple[float, int]:
        """Return the rough chance of a target with the best mate, and who that is."""
        own = self.book.members[number]
        best, mate = 0.0, -1
        for other in kinds:
            member = self.book.members[other]
            left = self.frame.seasons - max(own.ready, member.ready) + 1
            if member.sex is own.sex or left <= 0:
                continue
            female = own.sex is Sex.FEMALE
            dam, sire = (number, other) if female else (other, number)
            if not self.book.may_meet(dam, sire):
                continue
            target = self._target(kinds[dam], kinds[sire])
            if target <= 0:
                continue
            young = self._young((dam, sire), self.frame.seasons)
            chance = 1 - none_of(young, target) ** left
            chance *= 1.0 if other in there else MATE_TO_COME
            if chance > best + 1e-12:
                best, mate = chance, other
        return best + GENE_STEP * self._copies(kinds[number]), mate

    def offered(self, state: State, pairs: tuple[Pair, ...]) -> dict[Offer, tuple[float, Kinds]]:
        """Return the young that may be held, each with its share and what it may be."""
        found: dict[Offer, dict[Kind, float]] = {}
        for kinds, chance in () if self.too_late(state) else state.rows:
            for place, pair in enumerate(pairs):
                for each in self.brood(state, kinds, pair).others:
                    if not self.in_time(state, each.look) or self._copies(each.kinds) <= 0:
                        continue
                    into = found.setdefault((place, each.look), {})
                    for kind, share in each.kinds:
                        into[kind] = into.get(kind, 0.0) + chance * each.share * share
        return {
            offer: (total, tuple(sorted((kind, part / total) for kind, part in into.items())))
            for offer, into in found.items()
            for total in [sum(into.values())]
        }

    def _marginal(self, state: State, number: int) -> Kinds:
        odds: dict[Kind, float] = {}
        for kinds, chance in state.rows:
            kind = self.kind(state, kinds, number)
            odds[kind] = odds.get(kind, 0.0) + chance
        return tuple(sorted(odds.items()))

    def _target(self, dam: Kinds, sire: Kinds) -> float:
        """Return the chance that one young is a target, whatever the parents are."""
        key = (dam, sire)
        if key not in self._targets:
            self._targets[key] = min(
                sum(
                    p * q * self.frame.genes.brood(mother, father).target
                    for mother, p in dam
                    for father, q in sire
                ),
                1.0,
            )
        return self._targets[key]

    def _young(self, pair: Pair, season: int) -> Pmf:
        return self.book.clutch(*pair, season)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Promised:
    """Promises of a season by number: of those held and offered, with the best mate of each.

    ``offers`` gives the number of each young that may be held, ``share`` its share of the clutch,
    ``kinds`` what every animal may be.
    """

    of: Mapping[int, float]
    mate: Mapping[int, int]
    offers: Mapping[Offer, int]
    share: Mapping[Offer, float]
    kinds: Mapping[int, Kinds]
