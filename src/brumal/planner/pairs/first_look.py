"""A first look at pairs: what their young are worth on average, and what wishes see in them.

This is asked of every pair of a season, and is worked out for all of them at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from brumal.forecast.layouts import Laid, Sheets, Sight, layouts_of
from brumal.forecast.sheets import Expected, expected_all
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.columns import Numbers
from brumal.planner.pairs.many_odds import odds_of_many
from brumal.planner.pairs.tables import PairTables


@dataclass(frozen=True, slots=True, eq=False)
class FirstLook:
    """What one hatchling of each pair is expected to be, and the place of its sight in ``sights``.

    ``sight`` has the shape (pairs,).
    """

    expected: Expected
    sights: Sequence[Sight]
    sight: Numbers

    def of_each(self) -> list[Sight]:
        """Return the sight of each pair."""
        return [self.sights[at] for at in self.sight.tolist()]


def first_look(tables: PairTables, sheets: Sheets, pairs: Sequence[Pair]) -> FirstLook:
    """Look at many pairs."""
    many = odds_of_many(tables, pairs)
    laid = Laid(layouts_of(sheets, many.alike), many.place)
    sights, sight = laid.sights()
    return FirstLook(expected_all(sheets, laid, many.odds), sights, sight)
