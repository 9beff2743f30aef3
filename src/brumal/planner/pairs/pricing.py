"""From a pair to a candidate: its clutch, its young's value, what it counts for each wish."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.clutch import ClutchForecast, young_table
from brumal.forecast.layouts import Sight
from brumal.forecast.price_lines import FEMALE, MALE
from brumal.forecast.sheets import (
    Shares,
    Sheets,
    expected_value,
    hatchling_shares,
    many_shares,
)
from brumal.forecast.value import Reduced, Tracked, price_list
from brumal.genetics.welfare import watched_genes
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Array, Candidate, Luck, Pair
from brumal.planner.pairs.columns import Pairs
from brumal.planner.pairs.figures import figures_of
from brumal.planner.pairs.first_look import FirstLook, first_look
from brumal.planner.pairs.following import Following
from brumal.planner.pairs.mixed import Whole, mixed_laws, parts_of, with_parts
from brumal.planner.pairs.price_changes import entries_changed
from brumal.planner.pairs.tables import Follow, PairTables
from brumal.planner.risk.samples import draw_luck, risk_of
from brumal.planner.wishes.law_book import WishBook
from brumal.planner.wishes.laws import Served, serve
from brumal.planner.wishes.terms import ChanceCounted, Counted, chance_terms, counted_terms

_BOTH = (FEMALE, MALE)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Made:
    """Pairs priced before, and what their prices rest on."""

    pricing: Pricing
    candidates: Mapping[Pair, Candidate]
    clutches: Mapping[Pair, ClutchForecast]
    penalties: Mapping[str, float]


@dataclass(slots=True, eq=False, kw_only=True)
class Pricing:
    """Prices and wishes ready to price any pair.

    ``following`` says whose genotypes are followed from clutch to clutch. ``like`` is a season of
    the same genotypes whose prices differ in no more than the entries ``changed`` (as bits).
    """

    prepared: Prepared
    sheets: Sheets
    tables: PairTables
    terms: tuple[Counted, ...]
    chances: tuple[ChanceCounted, ...]
    like: Pricing | None = None
    changed: int = 0
    following: Following = field(default_factory=Following)
    _sights: dict[Pair, Sight] = field(default_factory=dict)
    _shares: dict[tuple[int, ...], tuple[tuple[Reduced, ...], Shares]] = field(default_factory=dict)

    def of_plan(self) -> Pricing:
        """Return the same prices with nobody followed yet: for the pairs of one plan alone."""
        return Pricing(
            prepared=self.prepared,
            sheets=self.sheets,
            tables=self.tables,
            terms=self.terms,
            chances=self.chances,
        )

    def keeps(self, pair: Pair) -> bool:
        """Say whether a pair known to ``like`` has the prices and wishes that it has there."""
        before = self.like._sights if self.like else {}
        known = [before.get(each) for each in with_parts(self.prepared, [pair])]
        return all(each is not None and not each.reach & self.changed for each in known)

    def candidates(
        self,
        clutches: Sequence[ClutchForecast],
        penalties: Mapping[str, float],
        made: Made | None = None,
    ) -> Sequence[Candidate]:
        """Price all pairs; ``penalties`` is money that soft rules take off, by animal.

        Those made before, for the season ``like`` which this one knows, are taken over where
        nothing of theirs differs.
        """
        whole = Whole.of(self.prepared, clutches)
        pairs = whole.pairs[: whole.count]
        # Where bad seasons count, kin are drawn together and pairs have to be seen together.
        if made is not None and made.pricing is self.like and self._is_sure(made):
            self.follow(pairs)
            known = [self._known(clutch, penalties, made) for clutch in clutches]
            new = [clutch for clutch, was in zip(clutches, known, strict=True) if was is None]
            priced = iter(self.again(new, penalties) if new else ())
            return tuple([was or next(priced) for was in known])
        seen = self._look(whole)
        self.follow(pairs)
        return self._priced(whole, seen, penalties)

    def look(self, pairs: Sequence[Pair]) -> FirstLook:
        """Return a first look at many pairs."""
        return first_look(self.tables, self.sheets, pairs)

    def _look(self, whole: Whole) -> FirstLook:
        """Look at all pairs of some clutches, and keep what wishes see of them."""
        seen = self.look(whole.pairs)
        self._sights.update(zip(whole.pairs, seen.of_each(), strict=True))
        return seen

    def _is_sure(self, made: Made) -> bool:
        """Say whether bad seasons count neither here nor there."""
        both = (self.prepared, made.pricing.prepared)
        return all(risk_of(each.records.settings.risk) is None for each in both)

    def _known(
        self, clutch: ClutchForecast, penalties: Mapping[str, float], made: Made
    ) -> Candidate | None:
        """Return a pair priced before if nothing of it differs now."""
        pair = (clutch.dam, clutch.sire)
        if made.clutches.get(pair) is not clutch or not self.keeps(pair):
            return None
        was, before, kinship = made.candidates[pair], made.pricing, self.prepared.kinship
        one, two = before.prepared.records.settings, self.prepared.records.settings
        same = (
            before.prepared.costs == self.prepared.costs
            and one.kin.penalty_per_F == two.kin.penalty_per_F
            and all(made.penalties[animal] == penalties[animal] for animal in pair)
            and kinship.phi(*pair) == was.F
            and (not was.kept or kinship is before.prepared.kinship)
            and before.following.of_pair(pair) == self.following.of_pair(pair)
        )
        return was if same else None

    def again(
        self,
        clutches: Sequence[ClutchForecast],
        penalties: Mapping[str, float],
    ) -> Sequence[Candidate]:
        """Price some of the pairs anew with other clutches; parents are followed as they were."""
        whole = Whole.of(self.prepared, clutches)
        return self._priced(whole, self.look(whole.pairs), penalties)

    def follow(self, pairs: Sequence[Pair]) -> None:
        """Follow the genotypes of the pairs' parents where wishes can tell."""
        every = with_parts(self.prepared, pairs)
        new = [pair for pair in every if pair not in self._sights and not self._taken_over(pair)]
        if new:
            self._sights.update(zip(new, self.look(new).of_each(), strict=True))
        sights = [self._sights[pair] for pair in every]
        self.following = Following.of(self.tables, every, sights, self._marks_watched())

    def _marks_watched(self) -> list[int]:
        """Return the wishes that the solver watches, by number: terms first, then chances."""
        first, chances = len(self.sheets.prices.tracked), len(self.sheets.prices.fitting)
        return [*np.flatnonzero(self._watched()).tolist(), *range(first, first + chances)]

    def _watched(self) -> NDArray[np.bool_]:
        """Say which tracked wishes lose something: a wish that does not needs no watching."""
        watched = np.zeros(len(self.sheets.prices.tracked), dtype=bool)
        for number, each in enumerate(self.terms):
            watched[number] = each.term.cost > 0
        return watched

    def _taken_over(self, pair: Pair) -> bool:
        """Take over what is known of a pair where it has the same prices and wishes before."""
        if self.like is None or not self.keeps(pair):
            return False
        self._sights[pair] = self.like._sights[pair]
        return True

    def _priced(
        self,
        whole: Whole,
        seen: FirstLook,
        penalties: Mapping[str, float],
    ) -> Pairs:
        """Return the pairs in columns, and what makes the record of one of them."""
        watched = self._watched()
        columns = whole.columns(
            figures_of(self.prepared, whole.clutches, seen.expected, self.terms, watched, penalties)
        )
        luck = self._luck(whole.clutches[: whole.count], columns.penalty)
        book = WishBook(whole.count, self._server(whole, seen))
        following, tracked = self.following, len(self.sheets.prices.tracked)

        def made(number: int) -> Candidate:
            counts, none = book.entries(number)
            families = following.names(columns.pairs[number])
            return columns.record(
                number,
                counts=counts,
                none=none,
                count_families={n: name for n, name in families.items() if n < tracked},
                none_families={n - tracked: f for n, f in families.items() if n >= tracked},
                luck=luck[number] if luck else None,
            )

        return Pairs(columns, made)

    def _luck(self, clutches: Sequence[ClutchForecast], penalty: Array) -> Sequence[Luck]:
        """Return what each pair brings in the sampled seasons, nothing where none count."""
        if risk_of(self.prepared.records.settings.risk) is None:
            return ()
        return draw_luck(self.prepared, clutches, self.terms, penalty.tolist())

    def _server(self, whole: Whole, seen: FirstLook) -> Callable[[Sequence[int]], Served]:
        """Return what works out what some of the pairs bring, by the states of their families."""
        counting = np.array([sight.marked for sight in seen.sights], dtype=bool)[seen.sight]
        pairs = whole.pairs

        def served(numbers: Sequence[int]) -> Served:
            parts = {at: whole.parts[n] for at, n in enumerate(numbers) if n in whole.parts}
            every = [*numbers, *(n for own in parts.values() for _, n in own)]
            asked = [place for place, number in enumerate(every) if counting[number]]
            own = {place: pairs[every[place]] for place in asked}
            tables = {place: self.tables.of(*pair) for place, pair in own.items()}
            follow = {place: self.following.at(pair) for place, pair in own.items()}
            found = serve(
                many_shares(
                    self.sheets,
                    [self.tables.followed(tables[place], follow[place]) for place in asked],
                ),
                np.array(asked, dtype=np.intp),
                young_table([whole.clutches[number] for number in every]),
                self._watched(),
            )
            stands_for = _stands_for(parts, every, pairs)
            for place, pair in own.items():
                stands = stands_for.get(place, pair)
                if place in stands_for or self.following.is_tied(pair):
                    self._spread(found, place, stands, pair, tables[place], follow[place])
            return _mixed(found, parts, len(numbers))

        return served

    def _spread(
        self,
        served: Served,
        place: int,
        stands: Pair,
        pair: Pair,
        tables: tuple[Reduced, ...],
        follow: Follow,
    ) -> None:
        """Turn what a pair brings by its parents' genotypes into what it brings by family state.

        The family is that of the pair for which it ``stands``.
        """
        known: dict[str, Array] = {}
        first = len(self.sheets.prices.tracked)
        for laws, before in ((served.counts[place], 0), (served.none[place], first)):
            for wish, law in laws.items():
                family = self.following.family(before + wish, stands)
                if family.name not in known:
                    known[family.name] = self.tables.by_state(pair, tables, follow, family)
                laws[wish] = known[family.name] @ law

    def value(self, dam: str, sire: str) -> float:
        """Return the expected value of one hatchling of any pair, barred or not."""
        return expected_value(self.sheets, self.tables.of(dam, sire))

    def shares(self, dam: str, sire: str) -> Shares:
        """Return the shares of one hatchling of a pair, over all that its parents may be.

        Pairs alike in what prices see share them.
        """
        tables = self.tables.of(dam, sire)
        key = tuple(id(table) for table in tables)
        if key not in self._shares:
            self._shares[key] = (tables, hatchling_shares(self.sheets, tables))
        return self._shares[key][1]

    def by_sire(self, clutch: ClutchForecast) -> list[tuple[float, ClutchForecast, Shares]]:
        """Return the chance of each sire of a clutch, the clutch by him and its young's shares."""
        return [
            (chance, part, self.shares(part.dam, part.sire))
            for chance, part in parts_of(self.prepared, clutch)
        ]

    def told_chances(self, clutches: Sequence[ClutchForecast]) -> list[float]:
        """Return the chance of one young or more that fits, for each fitting entry.

        ``clutches`` are all of the season; what their parents may be is followed among them.
        """
        whole = Whole.of(self.prepared, clutches)
        pairs, seen = whole.pairs[: whole.count], self._look(whole)
        self.follow(pairs)
        found = self._server(whole, seen)(range(whole.count))
        first = len(self.sheets.prices.tracked)
        told = []
        for entry in range(len(self.sheets.prices.fitting)):
            by_family: dict[str, tuple[Array, Array]] = {}
            for pair, none in zip(pairs, found.none, strict=True):
                if entry in none:
                    family = self.following.family(first + entry, pair)
                    weights, missed = by_family.get(family.name, (family.weights, np.ones(1)))
                    by_family[family.name] = (weights, missed * none[entry])
            missed_all = math.prod(float(weights @ none) for weights, none in by_family.values())
            told.append(min(max(0.0, 1.0 - missed_all), 1.0))
        return told


def _stands_for(
    parts: Mapping[int, Sequence[tuple[float, int]]], every: Sequence[int], pairs: Sequence[Pair]
) -> dict[int, Pair]:
    """Return the pair that each part of an uncertain one stands for; parts come last, in order."""
    owners = [at for at, own in parts.items() for _ in own]
    first = len(every) - len(owners)
    return {first + n: pairs[every[at]] for n, at in enumerate(owners)}


def _mixed(served: Served, parts: Mapping[int, Sequence[tuple[float, int]]], count: int) -> Served:
    """Return what the first ``count`` pairs bring, those in parts mixed of these."""
    last = count
    for at, own in parts.items():
        chances = [chance for chance, _ in own]
        for table in (served.counts, served.none):
            laws = table[last : last + len(own)]
            table[at] = mixed_laws(list(zip(chances, laws, strict=True)))
        last += len(own)
    return Served(served.counts[:count], served.none[:count])


def pricing_of(prepared: Prepared, like: Pricing | None = None) -> Pricing:
    """Make prices and wishes ready for the planner.

    What does not differ from a season before (``like``) is taken over.
    """
    terms, chances = counted_terms(prepared.values), chance_terms(prepared.values)
    tracked = tuple((counted.entries, counted.sexes) for counted in terms)
    fitting = tuple(counted.entry for counted in chances)
    pricing = _pricing(prepared, terms, chances, tracked, fitting)
    if like is None or like.prepared.inferred is not prepared.inferred:
        return pricing
    before, after = like.sheets.prices, pricing.sheets.prices
    changed = entries_changed(before, after, like.terms, terms)
    if changed is None:
        return pricing
    pricing.like, pricing.changed = like, changed
    if not changed:
        pricing.sheets, pricing.tables, pricing._sights = like.sheets, like.tables, like._sights
    return pricing


def telling_prices(prepared: Prepared) -> Pricing:
    """Make prices that track every wanted entry and whole values, to tell what pairs bring."""
    entries = range(1, len(prepared.wishes) + 1)
    tracked = tuple(((entry,), _BOTH) for entry in entries)
    return _pricing(prepared, (), (), tracked, tuple(entries), whole=True)


def _pricing(
    prepared: Prepared,
    terms: tuple[Counted, ...],
    chances: tuple[ChanceCounted, ...],
    tracked: tuple[Tracked, ...],
    fitting: tuple[int, ...],
    whole: bool = False,
) -> Pricing:
    values, sold = prepared.values, prepared.sold
    # Where no pair may have harmed young, nothing is told of them, and prices part by group.
    harmed = prepared.harmed_groups if whole or _may_harm(prepared) else frozenset()
    prices = price_list(values, sold, prepared.catalogue, tracked, fitting, whole, harmed)
    return Pricing(
        prepared=prepared,
        sheets=Sheets(prices),
        tables=PairTables(prepared, prices, tuple(sorted(prices.groups))),
        terms=terms,
        chances=chances,
    )


def _may_harm(prepared: Prepared) -> bool:
    """Say whether a rule on harmed young is lifted, or a pair made that may have any."""
    settings = prepared.records.settings
    paired = {animal for pair in prepared.records.already_paired for animal in pair}
    return bool(settings.rules.accept_welfare) or any(
        watched_genes(prepared.genotypes[animal], prepared.catalogue) for animal in paired
    )
