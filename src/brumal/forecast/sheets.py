"""Young as joint outcomes over all linkage groups: best entry, expected value, wishes.

The best entry of a hatchling is a maximum over the totals of one small table, a *sheet*, that all
pairs with the same outcomes share; a pair's own odds are multiplied in one group at a time. Nothing
is truncated: outcomes are merged where all entries still in reach of the pair see them alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.value import Array, PriceList, Reduced, content_key
from brumal.genetics.genotypes import SEX_GROUP


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Chances of one hatchling given what its parents may be, the groups joined.

    All arrays end in the axes (states, cases): the states of the sire that are followed, and what
    else the parents may be, with ``weights`` summing to one over the cases of each state.
    ``taken[t]`` is the chance that the hatchling is sold under an entry of ``tracked[t]`` and is
    of one of its sexes, ``fits[c]`` the chance that it satisfies entry ``fitting[c]``, whether or
    not that is its best one. ``mean`` and ``square`` are the first two moments of its value (less
    what is common to all entries, unless the price list is kept whole).
    """

    weights: Array
    taken: Array
    fits: Array
    mean: Array
    square: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """Outcomes of one group merged as the entries in reach see them."""

    worth: Array
    sex: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class _Narrow:
    """One group of a pair on a sheet: columns, and odds of shape (states, cases, columns)."""

    group: str
    columns: _Columns
    weights: Array
    odds: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """One table of joint outcomes: value, value squared, then the tracked and fitting marks.

    ``seen`` are the linkage groups whose outcome makes a difference to a mark.
    """

    shape: tuple[int, ...]
    rows: Array
    seen: frozenset[str]


@dataclass(slots=True, eq=False)
class Sheets:
    """The sheets of one price list, each laid out once."""

    prices: PriceList
    _merged: dict[bytes, _Columns] = field(default_factory=dict)
    _narrow: dict[tuple[int, int], tuple[Reduced, _Narrow | None]] = field(default_factory=dict)
    _laid: dict[tuple[int, ...], _Sheet] = field(default_factory=dict)


def expected_value(sheets: Sheets, tables: Sequence[Reduced]) -> float:
    """Return the expected value of one hatchling; ``tables`` hold each group once, sex included."""
    narrow, sheet = _laid_out(sheets, tables)
    left = sheet.rows[0]
    for table, columns in zip(narrow, sheet.shape, strict=True):
        marginal = table.weights[0] @ table.odds[0]
        left = marginal @ left.reshape(columns, -1)
    return float(left.reshape(-1)[0]) + sum(table.common for table in tables)


def hatchling_shares(sheets: Sheets, tables: Sequence[Reduced]) -> Shares:
    """Return what is tracked of one hatchling, given what its parents may be.

    States are ordered as the product of the groups' own, the sex group first, then by name.
    """
    narrow, sheet = _laid_out(sheets, tables)
    left = sheet.rows
    count = left.shape[0]
    weights = np.ones((1, 1))
    axes: list[int] = []
    for table, columns in zip(narrow, sheet.shape, strict=True):
        states, cases = table.weights.shape
        odds = table.odds.reshape(states * cases, columns)
        left = odds @ left.reshape(count, columns, -1)
        count *= states * cases
        axes += [states, cases]
        weights = np.einsum("ab,cd->acbd", weights, table.weights)
        weights = weights.reshape(weights.shape[0] * states, -1)
    rows = sheet.rows.shape[0]
    order = [0, *range(1, len(axes) + 1, 2), *range(2, len(axes) + 1, 2)]
    found = left.reshape(rows, *axes).transpose(order).reshape(rows, *weights.shape)
    tracked = 2 + len(sheets.prices.tracked)
    return Shares(
        weights=weights,
        mean=found[0],
        square=found[1],
        taken=found[2:tracked],
        fits=found[tracked:],
    )


def groups_that_count(sheets: Sheets, tables: Sequence[Reduced]) -> frozenset[str] | None:
    """Return the groups whose outcome decides whether a young is counted; ``None``: none ever is.

    An empty set says that every young counts alike.
    """
    _, sheet = _laid_out(sheets, tables)
    return sheet.seen if sheet.rows[2:].any() else None


def _laid_out(sheets: Sheets, tables: Sequence[Reduced]) -> tuple[list[_Narrow], _Sheet]:
    """Return the groups that make a difference, the sex group first, and their sheet."""
    reach = (1 << len(sheets.prices.entries)) - 1
    present = {table.group for table in tables}
    for group, entries in sheets.prices.needing.items():
        if group not in present:
            reach &= ~entries
    for table in tables:
        reach &= table.outcomes.reach
    narrow = [found for table in tables if (found := _narrowed(sheets, table, reach)) is not None]
    narrow.sort(key=lambda table: (table.group != SEX_GROUP, table.group))
    key = (reach, *(id(table.columns) for table in narrow))
    sheet = sheets._laid.get(key)
    if sheet is None:
        sheet = _make_sheet(sheets.prices, narrow, reach)
        sheets._laid[key] = sheet
    return narrow, sheet


def _narrowed(sheets: Sheets, table: Reduced, reach: int) -> _Narrow | None:
    """Merge the outcomes of a group that the entries in reach see alike.

    Returns ``None`` where they are all alike and add nothing.

    A group taken apart by state of the sire keeps its place, so that states stay in order.
    """
    key = (id(table), reach)
    if key in sheets._narrow:
        return sheets._narrow[key][1]
    worth = table.outcomes.worth[_bits(reach)]
    _, first, merged = np.unique(
        np.vstack([worth, table.outcomes.sex]), axis=1, return_index=True, return_inverse=True
    )
    found = None
    matters = first.size > 1 or worth.any()
    if matters or table.group == SEX_GROUP or table.weights.shape[0] > 1:
        columns = _Columns(worth[:, first].copy(), table.outcomes.sex[first])
        content = content_key(f"{table.group} {reach}", columns.worth, columns.sex)
        columns = sheets._merged.setdefault(content, columns)
        onto = np.eye(first.size)[merged.reshape(-1)]
        found = _Narrow(table.group, columns, table.weights, table.odds @ onto)
    sheets._narrow[key] = (table, found)
    return found


def _make_sheet(prices: PriceList, tables: Sequence[_Narrow], reach: int) -> _Sheet:
    """Lay out every joint outcome: its value under the best entry, and the marks of the wishes."""
    entries = _bits(reach)
    totals = np.zeros((1, entries.size))
    for table in tables:
        worth = table.columns.worth.T
        totals = (totals[:, None, :] + worth[None, :, :]).reshape(-1, entries.size)
    best = np.argmax(totals, axis=1)
    value = totals[np.arange(best.size), best]
    sold = entries[best]
    sex = np.repeat(tables[0].columns.sex, value.size // tables[0].columns.sex.size)
    met = np.isfinite(totals)
    place = {entry: column for column, entry in enumerate(entries.tolist())}
    nothing = np.zeros(value.size)
    rows = [value, value**2]
    for wanted, sexes in prices.tracked:
        rows.append(np.isin(sold, wanted) & np.isin(sex, sexes))
    rows += [met[:, place[entry]] if entry in place else nothing for entry in prices.fitting]
    shape = tuple(table.columns.sex.size for table in tables)
    laid = np.array(rows, dtype=np.float64)
    marks = laid[2:].reshape(-1, *shape)
    seen = [
        tables[axis].group
        for axis in range(len(shape))
        if shape[axis] > 1 and (marks != marks.take([0], axis=axis + 1)).any()
    ]
    return _Sheet(shape, laid, frozenset(seen))


@cache
def _bits(mask: int) -> NDArray[np.intp]:
    """Return the positions of the bits that are set, the lowest first."""
    return np.array([at for at in range(mask.bit_length()) if mask >> at & 1], dtype=np.intp)
