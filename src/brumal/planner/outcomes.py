"""What to expect of a pair's young: every look with its odds and what such a hatchling is worth."""

from __future__ import annotations

from brumal.forecast.sheets import Sheets, expected_value
from brumal.forecast.value import reduced
from brumal.genetics.class_names import class_name
from brumal.genetics.clutch_odds import VisualClass, given_look, visual_classes
from brumal.genetics.genotypes import Case, GroupOdds, Offspring
from brumal.pipeline import Prepared
from brumal.planner.plan import Outcome


class Looks:
    """What to expect of pairs' young, told once: for seasons of the same genotypes and prices."""

    def __init__(self) -> None:
        self._told: dict[tuple[str, str], tuple[Outcome, ...]] = {}

    def of(self, prepared: Prepared, sheets: Sheets, dam: str, sire: str) -> tuple[Outcome, ...]:
        """Return ``outcomes_of`` a pair."""
        pair = (dam, sire)
        if pair not in self._told:
            self._told[pair] = outcomes_of(prepared, sheets, dam, sire)
        return self._told[pair]


def outcomes_of(prepared: Prepared, sheets: Sheets, dam: str, sire: str) -> tuple[Outcome, ...]:
    """Return every look of a pair's young, the dearest first, then the likeliest.

    ``sheets`` hold the keeper's whole prices. The value of a look is the expectation over what a
    hatchling of that look may carry unseen and over its sex.
    """
    offspring = prepared.cross(dam, sire)
    found = (
        Outcome(
            morph=class_name(look, prepared.catalogue),
            chance=look.chance,
            value=_value(prepared, sheets, offspring, look),
        )
        for look in visual_classes(offspring, prepared.catalogue)
    )
    return tuple(
        sorted(found, key=lambda each: (-round(each.value, 6), -round(each.chance, 9), each.morph))
    )


def _value(prepared: Prepared, sheets: Sheets, offspring: Offspring, look: VisualClass) -> float:
    seen = sheets.prices.groups
    tables = [
        reduced(sheets.prices, _alike(prepared, odds, look))
        for odds in offspring.groups
        if odds.group in seen
    ]
    return expected_value(sheets, tables)


def _alike(prepared: Prepared, odds: GroupOdds, look: VisualClass) -> GroupOdds:
    return GroupOdds(odds.group, (Case(1.0, given_look(odds, look, prepared.catalogue)),))
