"""From a pair to a candidate: its clutch, its young's value, what it counts for each wish."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from brumal.forecast.clutch import ClutchForecast, young_table
from brumal.forecast.layouts import Layout, layouts_of
from brumal.forecast.sheets import (
    Shares,
    Sheets,
    expected_all,
    expected_value,
    groups_that_count,
    hatchling_shares,
    many_shares,
)
from brumal.forecast.value import FEMALE, MALE, Reduced, Tracked, price_list
from brumal.pipeline import Prepared
from brumal.planner.luck import draw_luck, risk_of
from brumal.planner.pair_tables import PairTables, SireStates
from brumal.planner.price_changes import entries_changed
from brumal.planner.problem import Array, Candidate, Luck, Pair
from brumal.planner.rough import swing
from brumal.planner.wish_book import WishBook
from brumal.planner.wish_laws import Served, none_left, serve
from brumal.planner.wish_terms import ChanceCounted, Counted, chance_terms, counted_terms

_DECIMALS = 6
"""Money is rounded to this many decimals, so that equal pairs tie on every machine."""
_BOTH = (FEMALE, MALE)
MOST_AT_ONCE = 4000
"""Of more pairs than this, laws of counted young are worked out only where they are asked for."""


@dataclass(frozen=True, slots=True)
class _Counting:
    """What prices and wishes see of a pair: the groups that count, and the entries in reach."""

    groups: frozenset[str] | None
    reach: int


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

    ``states`` holds what uncertain sires may be, where wishes can tell; ``averaged`` names the
    sires of too many possible genotypes to be followed one by one. ``like`` is a season of the same
    genotypes whose prices differ in no more than the entries ``changed`` (as bits).
    """

    prepared: Prepared
    sheets: Sheets
    tables: PairTables
    terms: tuple[Counted, ...]
    chances: tuple[ChanceCounted, ...]
    like: Pricing | None = None
    changed: int = 0
    states: dict[str, SireStates] = field(default_factory=dict)
    _counting: dict[Pair, _Counting] = field(default_factory=dict)
    _kin: Array | None = None
    _shares: dict[tuple[int, ...], tuple[tuple[Reduced, ...], Shares]] = field(default_factory=dict)

    @property
    def averaged(self) -> tuple[str, ...]:
        """Return the sires of too many possible genotypes to be followed one by one."""
        return tuple(sorted(sire for sire, states in self.states.items() if states.averaged))

    def keeps(self, pair: Pair) -> bool:
        """Say whether a pair known to ``like`` has the prices and wishes that it has there."""
        known = self.like._counting.get(pair) if self.like else None
        return known is not None and not known.reach & self.changed

    def candidates(
        self,
        clutches: Sequence[ClutchForecast],
        penalties: Mapping[str, float],
        made: Made | None = None,
    ) -> tuple[Candidate, ...]:
        """Price all pairs; ``penalties`` is money that soft rules take off, by animal.

        Those made before, for the season ``like`` which this one knows, are taken over where
        nothing of theirs differs.
        """
        pairs = [(clutch.dam, clutch.sire) for clutch in clutches]
        # Where bad seasons count, kin are drawn together and pairs have to be seen together.
        if made is not None and made.pricing is self.like and self._is_sure(made):
            self.follow(pairs)
            known = [self._known(clutch, penalties, made) for clutch in clutches]
            new = [clutch for clutch, was in zip(clutches, known, strict=True) if was is None]
            # Laws of counted young wait for those who ask, as they would for the whole season.
            later = len(clutches) > MOST_AT_ONCE
            priced = iter(self.again(new, penalties, later) if new else ())
            return tuple([was or next(priced) for was in known])
        tables = self.tables.of_many(pairs)
        layouts = layouts_of(self.sheets, tables)
        self._count(pairs, layouts)
        self.follow(pairs)
        later = len(clutches) > MOST_AT_ONCE
        return self._priced(clutches, tables, layouts, penalties, later)

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
            one.costs == two.costs
            and one.kin.penalty_per_F == two.kin.penalty_per_F
            and all(made.penalties[animal] == penalties[animal] for animal in pair)
            and kinship.phi(*pair) == was.F
            and (not was.kept or kinship is before.prepared.kinship)
            and _groups_of(before, clutch.sire) == _groups_of(self, clutch.sire)
        )
        return was if same else None

    def again(
        self,
        clutches: Sequence[ClutchForecast],
        penalties: Mapping[str, float],
        later: bool = False,
    ) -> tuple[Candidate, ...]:
        """Price some of the pairs anew with other clutches; sires are followed as they were.

        Laws of counted young are worked out ``later``, where they are asked for, or at once.
        """
        tables = self.tables.of_many([(clutch.dam, clutch.sire) for clutch in clutches])
        return self._priced(clutches, tables, layouts_of(self.sheets, tables), penalties, later)

    def follow(self, pairs: Sequence[Pair]) -> None:
        """Follow the genotypes of the pairs' sires where wishes can tell."""
        new = [pair for pair in pairs if pair not in self._counting and not self._taken_over(pair)]
        if new:
            self._count(new, layouts_of(self.sheets, self.tables.of_many(new)))
        seen: dict[str, set[str]] = defaultdict(set)
        for pair in pairs:
            seen[pair[1]] |= self._counting[pair].groups or frozenset()
        self.states = {
            sire: states
            for sire, groups in sorted(seen.items())
            if len((states := self.tables.states(sire, groups)).weights) > 1 or states.averaged
        }

    def _count(self, pairs: Sequence[Pair], layouts: Sequence[Layout]) -> None:
        for pair, layout, groups in zip(pairs, layouts, groups_that_count(layouts), strict=True):
            self._counting[pair] = _Counting(groups, layout.reach)

    def _taken_over(self, pair: Pair) -> bool:
        """Take over what is known of a pair where it has the same prices and wishes before."""
        if self.like is None or not self.keeps(pair):
            return False
        self._counting[pair] = self.like._counting[pair]
        return True

    def _priced(
        self,
        clutches: Sequence[ClutchForecast],
        tables: Sequence[tuple[Reduced, ...]],
        layouts: Sequence[Layout],
        penalties: Mapping[str, float],
        later: bool,
    ) -> tuple[Candidate, ...]:
        penalty = self._penalties(clutches, penalties)
        luck = self._luck(clutches, penalty)
        book = WishBook(len(clutches), self._server(clutches, tables, layouts))
        if not later:
            book.open(range(len(clutches)))
        expected = expected_all(self.sheets, layouts, tables)
        young = np.array([clutch.expected_young for clutch in clutches])
        means = young[:, None] * expected.taken
        watched = np.array([counted.term.cost > 0 for counted in self.terms], dtype=bool)
        counted = _rows_of(means * watched)
        extra = (means @ [each.full_extra for each in self.terms]).tolist()
        kept = (means @ [float(each.kept) for each in self.terms]).tolist()
        swings = _swings(clutches)
        costs = self.prepared.records.settings.costs
        found = []
        values = expected.values.tolist()
        for number, clutch in enumerate(clutches):
            hatched, laid = clutch.expected_young, clutch.goes * clutch.eggs
            money = hatched * (values[number] - costs.hatchling)
            money -= costs.pairing + costs.egg * laid
            counts, none = book.entries(number)
            found.append(
                Candidate(
                    dam=clutch.dam,
                    sire=clutch.sire,
                    value=round(money, _DECIMALS),
                    extra=round(extra[number], _DECIMALS),
                    penalty=penalty[clutch.dam, clutch.sire],
                    young=round(hatched, 9),
                    eggs=clutch.eggs,
                    box_eggs=clutch.eggs_p90,
                    F=self.prepared.kinship.phi(clutch.dam, clutch.sire),
                    spend=costs.pairing + costs.egg * laid + costs.hatchling * hatched,
                    kept=kept[number],
                    kin=self.kin(clutch.dam, clutch.sire) if kept[number] else 0.0,
                    counts=counts,
                    none=none,
                    means=counted[number],
                    swing=swings[clutch.dam],
                    luck=luck[number] if luck else None,
                )
            )
        return tuple(found)

    def _penalties(
        self, clutches: Sequence[ClutchForecast], penalties: Mapping[str, float]
    ) -> dict[Pair, float]:
        """Return the money that soft rules and kinship take off each pair."""
        per_kin = self.prepared.records.settings.kin.penalty_per_F
        phi = self.prepared.kinship.phi
        return {
            (each.dam, each.sire): round(
                penalties[each.dam] + penalties[each.sire] + per_kin * phi(each.dam, each.sire),
                _DECIMALS,
            )
            for each in clutches
        }

    def _luck(
        self, clutches: Sequence[ClutchForecast], penalties: Mapping[Pair, float]
    ) -> Sequence[Luck]:
        """Return what each pair brings in the sampled seasons, nothing where none count."""
        if risk_of(self.prepared.records.settings.risk) is None:
            return ()
        return draw_luck(self.prepared, clutches, self.terms, penalties)

    def _server(
        self,
        clutches: Sequence[ClutchForecast],
        tables: Sequence[tuple[Reduced, ...]],
        layouts: Sequence[Layout],
    ) -> Callable[[Sequence[int]], Served]:
        """Return what works out what some of the pairs bring, given each state of their sires."""
        follow = {sire: states.groups for sire, states in self.states.items()}
        counting = [groups is not None for groups in groups_that_count(layouts)]

        def served(numbers: Sequence[int]) -> Served:
            asked = [place for place, number in enumerate(numbers) if counting[number]]
            followed = [
                self.tables.followed(tables[number], follow.get(clutches[number].sire, ()))
                for number in (numbers[place] for place in asked)
            ]
            return serve(
                many_shares(self.sheets, followed),
                np.array(asked, dtype=np.intp),
                young_table([clutches[number] for number in numbers]),
                self.terms,
            )

        return served

    def kin(self, dam: str, sire: str) -> float:
        """Return the mean kinship of a pair's young with the collection.

        The kinship of a young with an animal is the mean of its parents' with that animal.
        """
        block = self.prepared.kinship
        if self._kin is None:
            self._kin = block.matrix.mean(axis=1)
        return float(self._kin[block.index[dam]] + self._kin[block.index[sire]]) / 2

    def groups_counted(self, dam: str, sire: str) -> frozenset[str]:
        """Return the linkage groups that decide whether a pair's young count for a wish."""
        layouts = layouts_of(self.sheets, [self.tables.of(dam, sire)])
        return groups_that_count(layouts)[0] or frozenset()

    def value(self, dam: str, sire: str) -> float:
        """Return the expected value of one hatchling of any pair, barred or not."""
        return expected_value(self.sheets, self.tables.of(dam, sire))

    def shares(self, dam: str, sire: str) -> Shares:
        """Return the shares of one hatchling of a pair, by state of the sire where he has any.

        Pairs alike in what prices see share them.
        """
        states = self.states.get(sire)
        tables = self.tables.of(dam, sire, states.groups if states else ())
        key = tuple(id(table) for table in tables)
        if key not in self._shares:
            self._shares[key] = (tables, hatchling_shares(self.sheets, tables))
        return self._shares[key][1]

    def weights(self, sire: str) -> Array:
        """Return the probabilities of a sire's possible genotypes, shape (states,)."""
        return self.states[sire].weights if sire in self.states else np.ones(1)


def none_chances(young: Array, shares: Shares, number: int) -> Array:
    """Return the chance of no young that satisfies fitting entry ``number``, shape (states,).

    ``young`` is the distribution of the hatchlings of the pair.
    """
    chances: Array = none_left(young[None], shares.weights[None], shares.fits[None, number])[0]
    return chances


def pricing_of(prepared: Prepared, like: Pricing | None = None) -> Pricing:
    """Make prices and wishes ready for the planner.

    What does not differ from a season before (``like``) is taken over.
    """
    values = prepared.records.settings.values
    terms, chances = counted_terms(values), chance_terms(values)
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
        pricing.sheets, pricing.tables, pricing._counting = like.sheets, like.tables, like._counting
    return pricing


def telling_prices(prepared: Prepared, pairs: Iterable[tuple[str, str]]) -> Pricing:
    """Make prices that track every wanted entry and whole values, to tell what ``pairs`` bring."""
    entries = range(1, len(prepared.records.settings.values.wanted) + 1)
    tracked = tuple(((entry,), _BOTH) for entry in entries)
    pricing = _pricing(prepared, (), (), tracked, tuple(entries), whole=True)
    pricing.follow(list(pairs))
    return pricing


def _pricing(
    prepared: Prepared,
    terms: tuple[Counted, ...],
    chances: tuple[ChanceCounted, ...],
    tracked: tuple[Tracked, ...],
    fitting: tuple[int, ...],
    whole: bool = False,
) -> Pricing:
    values = prepared.records.settings.values
    prices = price_list(values, prepared.wishes, prepared.catalogue, tracked, fitting, whole)
    return Pricing(
        prepared=prepared,
        sheets=Sheets(prices),
        tables=PairTables(prepared, prices, tuple(sorted(prices.groups))),
        terms=terms,
        chances=chances,
    )


def deviation(
    clutch: ClutchForecast, shares: Shares, weights: Array, per_egg: float, per_young: float
) -> float:
    """Return the standard deviation of a pair's money, uncertain parents included.

    ``weights`` are the chances of the sire's states, shape (states,).

    Income is a sum over a random number K of young that share their parents, less the cost of the
    eggs laid, of which a share hatches: Var = E[K] s2 + Var(K) m2 - 2 c m Cov(E, K) + c2 Var(E),
    averaged over what the parents may be, plus the variance of the means (law of total variance).
    """
    young = clutch.young_pmf
    counts = np.arange(young.size)
    mean = float(young @ counts)
    spread = float(young @ counts**2) - mean**2
    eggs = np.arange(clutch.eggs_pmf.size)
    laid = clutch.goes * clutch.eggs
    laid_spread = clutch.goes * float(clutch.eggs_pmf @ eggs**2) - laid**2
    hatch = clutch.fertile * clutch.hatched
    chances = (weights[:, None] * shares.weights).reshape(-1)
    each = shares.mean.reshape(-1) - per_young
    own = (shares.square - shares.mean**2).reshape(-1)
    within = mean * own + spread * each**2 - 2 * per_egg * each * hatch * laid_spread
    means = mean * each
    between = float(chances @ means**2) - float(chances @ means) ** 2
    total = float(chances @ within) + per_egg**2 * laid_spread + between
    return math.sqrt(max(total, 0.0))


def _groups_of(pricing: Pricing, sire: str) -> tuple[str, ...]:
    """Return the groups at which a sire's genotypes are followed."""
    return pricing.states[sire].groups if sire in pricing.states else ()


def _rows_of(means: Array) -> list[dict[int, float]]:
    """Return the mean counts of each pair by wish, those of nothing left out."""
    found: list[dict[int, float]] = [{} for _ in range(means.shape[0])]
    for number, term in zip(*np.nonzero(means), strict=True):
        found[number][int(term)] = float(means[number, term])
    return found


def _swings(clutches: Sequence[ClutchForecast]) -> dict[str, float]:
    """Return the swing of each dam's eggs."""
    dams = {clutch.dam: clutch for clutch in clutches}
    return {dam: swing(clutch.eggs_pmf, clutch.goes) for dam, clutch in dams.items()}
