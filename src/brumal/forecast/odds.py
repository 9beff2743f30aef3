"""Odds of one hatchling of many pairs, linkage group by linkage group, in columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.layouts import Tables
from brumal.forecast.value import Array


@dataclass(frozen=True, slots=True, eq=False)
class YoungOdds:
    """Odds of one hatchling of each pair, over all that its parents may be.

    ``odds`` have the shape (rows, outcomes), zero after the last outcome that there is; ``rows``,
    shape (groups, pairs), says which of them are a pair's at the linkage group of a place in
    ``groups``. ``common``, shape (pairs,), is the expected worth of a hatchling that is common to
    all entries.
    """

    groups: Mapping[str, int]
    rows: NDArray[np.intp]
    odds: Array
    common: Array

    @staticmethod
    def of_groups(groups: Mapping[str, tuple[NDArray[np.intp], Array]], common: Array) -> YoungOdds:
        """Join linkage groups: for each the rows of the pairs, and odds by row."""
        tables = [odds for _, odds in groups.values()]
        starts = np.cumsum([0, *(len(table) for table in tables)])
        joined = np.zeros((starts[-1], max((table.shape[1] for table in tables), default=0)))
        for table, start in zip(tables, starts, strict=False):
            joined[start : start + len(table), : table.shape[1]] = table
        rows = [row + start for (row, _), start in zip(groups.values(), starts, strict=False)]
        return YoungOdds(
            groups={group: place for place, group in enumerate(groups)},
            rows=np.array(rows, dtype=np.intp).reshape(len(rows), common.size),
            odds=joined,
            common=common,
        )

    def at(self, groups: NDArray[np.intp], pairs: NDArray[np.intp], outcomes: int) -> Array:
        """Return the odds of pairs, each at a group of its own, shape (pairs, outcomes)."""
        return self.odds[self.rows[groups, pairs], :outcomes]


def odds_of(pairs: Sequence[Tables]) -> YoungOdds:
    """Return the odds of pairs of which the tables are at hand."""
    rows: dict[str, NDArray[np.intp]] = {}
    odds: dict[str, list[Array]] = {}
    place: dict[int, int] = {}
    for number, tables in enumerate(pairs):
        for table in tables:
            group = table.group
            if group not in rows:
                rows[group], odds[group] = np.zeros(len(pairs), dtype=np.intp), []
            row = place.setdefault(id(table), len(odds[group]))
            if row == len(odds[group]):
                odds[group].append((table.weights[:1] @ table.odds[0])[0])
            rows[group][number] = row
    common = np.array([sum([table.common for table in tables]) for tables in pairs])
    return YoungOdds.of_groups({g: (rows[g], _padded(odds[g])) for g in rows}, common)


def _padded(rows: Sequence[Array]) -> Array:
    """Return rows of different lengths as one table, zero where they have ended."""
    lengths = np.array([row.size for row in rows])
    found = np.zeros((lengths.size, lengths.max(initial=0)))
    found[np.arange(found.shape[1]) < lengths[:, None]] = np.concatenate(rows)
    return found
