"""The lines of a price list: the base price, the keeper's wishes, and young worth nothing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from brumal.genetics.wishes import Wish
from brumal.records.settings import BySex, Values

UNMET = -math.inf
"""What an entry is worth to a hatchling that does not satisfy it."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the price list: by-sex value (female, male) and the wish it asks for.

    ``harmed`` is the linkage group of an entry that young harmed there take, and no others: they
    are worth nothing, whatever else they show.
    """

    wish: Wish | None
    value: tuple[float, float]
    harmed: str = ""


def taking_order(values: Values) -> tuple[int, ...]:
    """Put entries with holdbacks first and those that fill up last, the base price before them."""
    wanted = list(enumerate(values.wanted, start=1))
    ranked = [
        (2, 0),
        *((0 if w.keep else 1 if w.need is None else 3, entry) for entry, w in wanted),
    ]
    return tuple(entry for _, entry in sorted(ranked))


def by_sex(value: float | BySex) -> tuple[float, float]:
    """Return a value as (female, male); a sex the keeper leaves out cannot be sold so."""
    if isinstance(value, BySex):
        return (
            UNMET if value.female is None else value.female,
            UNMET if value.male is None else value.male,
        )
    return (value, value)
