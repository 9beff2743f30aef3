"""What to expect of a pair's young: every look with its odds and what such a hatchling is worth."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.parents import narrowed
from brumal.forecast.sheets import Sheets, expected_values
from brumal.forecast.value import Reduced, reduced
from brumal.genetics.crosses.clutch_odds import VisualClass, given_look, visual_classes
from brumal.genetics.genotypes import GroupOdds
from brumal.genetics.lethal import living_young
from brumal.genetics.notation.class_names import class_name
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.mixed import parts_of
from brumal.planner.pairs.pricing import Pricing, telling_prices
from brumal.planner.plan import Outcome


class Looks:
    """What to expect of pairs' young, told once: for seasons of the same genotypes and prices."""

    def __init__(self) -> None:
        self._told: dict[tuple[Pair, bool], tuple[Outcome, ...]] = {}
        self._pricing: Pricing | None = None

    def only(self, keep: Callable[[Pair], bool]) -> Looks:
        """Return what is told of some pairs, for a season that differs in others alone."""
        looks = Looks()
        looks._told = {key: told for key, told in self._told.items() if keep(key[0])}
        return looks

    def telling(self, prepared: Prepared) -> Pricing:
        """Return prices to tell what pairs bring (see ``telling_prices``)."""
        if self._pricing is None:
            self._pricing = telling_prices(prepared)
        return self._pricing

    def of_many(
        self, prepared: Prepared, sheets: Sheets, clutches: Sequence[ClutchForecast]
    ) -> list[tuple[Outcome, ...]]:
        """Return the looks of each clutch's young, as ``outcomes_of_many`` has them of pairs.

        Where the sire is not certain, each counts by his chance of a young.
        """
        parts = [parts_of(prepared, clutch) for clutch in clutches]
        pairs = [(each.dam, each.sire) for own in parts for _, each in own]
        told = iter(self._of_pairs(prepared, sheets, pairs))
        return [
            mixed_outcomes([(p * each.expected_young, next(told)) for p, each in own])
            for own in parts
        ]

    def _of_pairs(
        self, prepared: Prepared, sheets: Sheets, pairs: Sequence[Pair]
    ) -> list[tuple[Outcome, ...]]:
        # Seasons may differ in whether looks bear the names of the trade.
        trade = prepared.records.settings.notation.combination_names
        new = [pair for pair in dict.fromkeys(pairs) if (pair, trade) not in self._told]
        told = outcomes_of_many(prepared, sheets, new)
        self._told |= {(pair, trade): each for pair, each in zip(new, told, strict=True)}
        return [self._told[pair, trade] for pair in pairs]


def outcomes_of_many(
    prepared: Prepared, sheets: Sheets, pairs: Sequence[Pair]
) -> list[tuple[Outcome, ...]]:
    """Return every look of each pair's young, those worth most first, then the likeliest.

    ``sheets`` hold the keeper's whole prices. The value of a look is the expectation over what a
    hatchling of that look may carry unseen and over its sex.
    """
    looks: list[tuple[int, VisualClass]] = []
    tables: list[list[Reduced]] = []
    priced, given = sheets.prices.groups, dict[int, Reduced]()
    for number, (dam, sire) in enumerate(pairs):
        offspring = living_young(prepared.cross(dam, sire), prepared.catalogue)
        for look in visual_classes(offspring, prepared.catalogue):
            looks.append((number, look))
            own = []
            for odds, part in zip(offspring.groups, look.parts, strict=True):
                if odds.group not in priced:
                    continue
                # Pairs that share odds share the looks there.
                if id(part) not in given:
                    given[id(part)] = _given(prepared, sheets, odds, part)
                own.append(given[id(part)])
            tables.append(own)
    found: list[list[Outcome]] = [[] for _ in pairs]
    values = expected_values(sheets, tables).tolist()
    trade = prepared.records.settings.notation.combination_names
    for (number, look), value in zip(looks, values, strict=True):
        name = class_name(look, prepared.catalogue, trade)
        found[number].append(Outcome(morph=name, chance=look.chance, value=value))
    return [tuple(sorted(outcomes, key=_by_worth)) for outcomes in found]


def mixed_outcomes(parts: Sequence[tuple[float, tuple[Outcome, ...]]]) -> tuple[Outcome, ...]:
    """Return the looks of young that may be of several pairs, each with its weight."""
    if len(parts) == 1:
        return parts[0][1]
    total = sum(weight for weight, _ in parts)
    chances: dict[str, float] = defaultdict(float)
    values: dict[str, float] = defaultdict(float)
    for weight, outcomes in parts:
        for each in outcomes:
            share = each.chance * (weight / total if total else 1 / len(parts))
            chances[each.morph] += share
            values[each.morph] += share * each.value
    found = [
        Outcome(morph=morph, chance=chance, value=values[morph] / chance)
        for morph, chance in chances.items()
        if chance > 0
    ]
    return tuple(sorted(found, key=_by_worth))


def _by_worth(outcome: Outcome) -> tuple[float, float, str]:
    return (-round(outcome.value, 6), -round(outcome.chance, 9), outcome.morph)


def _given(prepared: Prepared, sheets: Sheets, odds: GroupOdds, look: VisualClass) -> Reduced:
    """Return the odds of a group among the young of a pair that look so."""
    alike = given_look(odds, look, prepared.catalogue)
    return narrowed(sheets.prices, reduced(sheets.prices, odds), alike)
