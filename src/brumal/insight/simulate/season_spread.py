"""The spread of a plan's money in simulated seasons."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field

import numpy as np

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.distributions import p10_p50_p90
from brumal.forecast.value import PriceList
from brumal.insight.simulate.seasons import SEASONS, SEED, Quantiles, draw_parents_of
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Luck, Pair
from brumal.planner.pairs.mixed import with_parts
from brumal.planner.risk.pair_draws import draw_pair
from brumal.planner.risk.parent_draws import Floats, ParentDraws
from brumal.planner.risk.young_draws import takings, whole_prices
from brumal.planner.season import SolvedSeason
from brumal.planner.wishes.terms import counted_terms


@dataclass(frozen=True, slots=True, eq=False)
class _Takings:
    """What one pair brings in each season, and the clutch that it was drawn from."""

    forecast: ClutchForecast
    luck: Luck


@dataclass(slots=True, eq=False)
class PairDraws:
    """What pairs bring in simulated seasons, for seasons of the same genotypes, prices and costs.

    A pair's luck hangs on its clutch and on what its parents are in each season, so that it can be
    taken over wherever both are the same.
    """

    known: dict[tuple[Pair, Hashable], _Takings] = field(default_factory=dict)

    def only(self, keep: Callable[[Pair], bool]) -> PairDraws:
        """Return the draws of some pairs, for a season that differs in others alone."""
        return PairDraws({key: known for key, known in self.known.items() if keep(key[0])})


def simulated_spread(season: SolvedSeason, draws: PairDraws) -> Quantiles:
    """Return what one simulated season in ten stays at or under, half of them do, nine in ten do.

    Every scenario of a comparison is drawn with the same seed. Soft rules take no money here, so a
    plan that bends them lies lower in its objective than in its spread. ``draws`` are taken
    over and added to.
    """
    prepared, problem = season.prepared, season.problem
    pairs = [pair.pair for pair in season.pairs]
    parents, prices = draw_parents_of(prepared, pairs, SEED, SEASONS), whole_prices(prepared)
    marks = {name: hashlib.blake2b(each.tobytes()).digest() for name, each in parents.drawn.items()}
    found = []
    for pair in pairs:
        every = with_parts(prepared, [pair])
        groups = sorted({odds.group for each in every for odds in prepared.cross(*each).groups})
        animals = dict.fromkeys(animal for each in every for animal in each)
        drawn = tuple(marks.get((animal, group)) for animal in animals for group in groups)
        sires = tuple(prepared.mixed.get(pair, {}).items())
        forecast, key = season.found.clutches[pair], (pair, (drawn, sires))
        known = draws.known.get(key)
        if known is None or known.forecast is not forecast:
            known = _takings(prepared, prices, parents, forecast, SEED)
            draws.known[key] = known
        found.append(known)
    once = problem.income - problem.use_cost(season.solution.chosen or ())
    p10, p50, p90 = p10_p50_p90(_money(prepared, found, SEASONS) + once)
    return Quantiles(p10=p10, p50=p50, p90=p90)


def _takings(
    prepared: Prepared,
    prices: PriceList,
    parents: ParentDraws,
    forecast: ClutchForecast,
    seed: int,
) -> _Takings:
    clutch, young = draw_pair(prepared, prices, parents, forecast, seed)
    terms = counted_terms(prepared.values)
    return _Takings(forecast, takings(prepared.costs, terms, clutch, young))


def _money(prepared: Prepared, pairs: Sequence[_Takings], seasons: int) -> Floats:
    """Return what each season brings, wishes that are filled counted over all pairs."""
    money = np.zeros(seasons)
    for pair in pairs:
        money += pair.luck.money
    for number, counted in enumerate(counted_terms(prepared.values)):
        count = np.zeros(seasons, dtype=np.intp)
        for pair in pairs:
            if number in pair.luck.counts:
                count += pair.luck.counts[number]
        surplus = np.maximum(count - counted.term.threshold, 0)
        money += counted.full_extra * count - counted.term.cost * surplus
    return money
