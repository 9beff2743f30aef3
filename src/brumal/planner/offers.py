"""Money that hangs on which animals there are: offers, and the keep of adults for a year.

An animal on offer to borrow or to buy is kept where it is used, one on offer to sell where it is
not sold; all others are kept whatever the plan.
"""

from __future__ import annotations

from collections.abc import Collection

from brumal.pipeline import Prepared


def use_costs(prepared: Prepared) -> dict[str, float]:
    """Return what each animal on offer costs if used: fee, price or sale forgone, and keep."""
    offers, adult = prepared.records.settings.offers, prepared.costs.adult
    listed = {**offers.borrow, **offers.buy, **offers.sell}
    return {animal: money + adult for animal, money in listed.items()}


def idle_income(prepared: Prepared) -> float:
    """Return the money of a season in which nobody is paired: all sales made, the others kept."""
    sold = prepared.records.settings.offers.sell
    return sum(sold.values()) - keeping(prepared, ())


def keeping(prepared: Prepared, used: Collection[str]) -> float:
    """Return what the keep of adults costs a year, where these animals are paired."""
    offers, own = prepared.records.settings.offers, prepared.records.collection
    gone = {*offers.borrow, *offers.buy, *offers.sell} - set(used)
    return prepared.costs.adult * sum(animal.id not in gone for animal in own)
