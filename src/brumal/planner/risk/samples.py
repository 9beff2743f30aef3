"""Seasons sampled for every candidate pair, the same ones for all: what each would bring in them.

Uncertain parents are drawn once a season for all their clutches, kin together where they can be.
Each female then has the luck of her own clutch and young, whatever else is planned.
"""

from __future__ import annotations

from collections.abc import Sequence

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.value import PriceList
from brumal.genetics.genotypes import SEX_GROUP
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Luck, Pair
from brumal.planner.problem import RiskWeight
from brumal.planner.risk.pair_draws import draw_pair
from brumal.planner.risk.parent_draws import ParentDraws, draw_parents
from brumal.planner.risk.young_draws import takings, whole_prices
from brumal.planner.wishes.terms import Counted
from brumal.records import settings
from brumal.records.animals import Sex


def risk_of(taste: settings.Risk) -> RiskWeight | None:
    """Return how much bad seasons count, ``None`` where they do not."""
    if not taste.weight:
        return None
    bad = max(1, round(taste.worst * taste.seasons))
    return RiskWeight(weight=taste.weight, bad=bad, seasons=taste.seasons)


def draw_luck(
    prepared: Prepared,
    clutches: Sequence[ClutchForecast],
    terms: Sequence[Counted],
    penalties: Sequence[float],
) -> list[Luck]:
    """Return what each pair brings in every sampled season, less its ``penalties``."""
    prices = whole_prices(prepared)
    groups = sorted({*prices.groups, SEX_GROUP})
    taste = prepared.records.settings.risk
    pairs = _everyone(prepared, [(clutch.dam, clutch.sire) for clutch in clutches])
    parents = draw_parents(prepared, pairs, groups, taste.seed, taste.seasons)
    return [
        _of_pair(prepared, prices, parents, clutch, terms, penalty)
        for clutch, penalty in zip(clutches, penalties, strict=True)
    ]


def _everyone(prepared: Prepared, pairs: Sequence[Pair]) -> list[Pair]:
    """Return the pairs and more, so that every animal of the collection stands in one.

    What an uncertain animal is in a season must not depend on which pairs are asked for.
    """
    own = prepared.records.collection
    dams = sorted(animal.id for animal in own if animal.sex is Sex.FEMALE)
    sires = sorted(animal.id for animal in own if animal.sex is Sex.MALE)
    rounds = max(len(dams), len(sires)) if dams and sires else 0
    others = {(dams[at % len(dams)], sires[at % len(sires)]) for at in range(rounds)}
    return sorted({*pairs, *others})


def _of_pair(
    prepared: Prepared,
    prices: PriceList,
    parents: ParentDraws,
    clutch: ClutchForecast,
    terms: Sequence[Counted],
    penalty: float,
) -> Luck:
    costs, taste = prepared.costs, prepared.records.settings.risk
    # Her luck is hers whoever the sire is: half a clutch by each of two males is no safer than one.
    luck = takings(
        costs,
        terms,
        *draw_pair(prepared, prices, parents, clutch, taste.seed, of_dam=True, looks=False),
    )
    money = luck.money - penalty
    for number, count in luck.counts.items():
        money += terms[number].full_extra * count
    # A wish that loses nothing past its threshold needs no counting.
    counts = {n: count for n, count in luck.counts.items() if terms[n].term.cost}
    return Luck(money, counts)
