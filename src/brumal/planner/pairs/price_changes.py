"""Which entries of a price list differ from those of another, so that other pairs keep their price.

A hatchling that can satisfy none of the entries that differ is worth the same, and is sold under
the same entry, whatever those now pay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from brumal.forecast.value import PriceList
from brumal.planner.wishes.terms import Counted


def entries_changed(
    before: PriceList,
    after: PriceList,
    terms_before: Sequence[Counted] = (),
    terms_after: Sequence[Counted] = (),
) -> int | None:
    """Return the entries whose prices or wishes differ, as bits.

    ``None``: entries, extras or what is counted differ in kind, and no pair can be compared.
    """
    if _kind(before) != _kind(after) or len(terms_before) != len(terms_after):
        return None
    changed = 0
    for number, (one, two) in enumerate(zip(before.entries, after.entries, strict=True)):
        if replace(one, value=two.value) != two:
            return None
        changed |= (one.value != two.value) << number
    for number, (was, now) in enumerate(zip(terms_before, terms_after, strict=True)):
        if (was.entries, was.sexes, was.kept) != (now.entries, now.sexes, now.kept):
            return None
        if (was.term, was.full_extra) != (now.term, now.full_extra):
            lines, _ = before.tracked[number]
            changed |= sum(1 << line for line in lines)
    return changed


def _kind(prices: PriceList) -> tuple[object, ...]:
    """Return all that a price list holds beside its entries."""
    return (
        prices.catalogue,
        len(prices.entries),
        prices.labels,
        prices.needing,
        prices.tracked,
        prices.fitting,
        prices.whole,
        prices.order,
    )
