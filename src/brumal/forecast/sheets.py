"""Young as joint outcomes over all linkage groups: best entry, expected value, wishes.

The best entry of a hatchling is a maximum over the totals of one small table, a *sheet*, that all
pairs with the same outcomes share; a pair's own odds are multiplied in one group at a time. Nothing
is truncated: outcomes are merged where all entries still in reach of the pair see them alike. Many
pairs are worked out together: pairs whose sheets and odds have the same shape in one go.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.layouts import Laid, Layout, Tables, in_parts, layouts_of
from brumal.forecast.layouts import Sheets as Sheets
from brumal.forecast.odds import YoungOdds, odds_of
from brumal.forecast.value import Array


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Chances of one hatchling given what its parents may be, the groups joined.

    All arrays end in the axes (states, cases): what the parents that are followed are, and what
    else the parents may be, with ``weights`` summing to one over the cases of each state.
    ``taken[t]`` is the chance that the hatchling is sold under the entry of ``tracked[t]`` and is
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
class ManyShares:
    """The shares of several pairs, by their ``places`` in the list that was asked about.

    All arrays of ``shares`` begin with the axis (pairs,).
    """

    places: NDArray[np.intp]
    shares: Shares


def expected_value(sheets: Sheets, tables: Tables) -> float:
    """Return the expected value of one hatchling; ``tables`` hold each group once, sex included."""
    return float(expected_values(sheets, [tables])[0])


def expected_values(sheets: Sheets, pairs: Sequence[Tables]) -> Array:
    """Return the expected value of one hatchling of each pair, shape (pairs,)."""
    return _averaged(Laid.one_each(layouts_of(sheets, pairs)), odds_of(pairs), [0])[:, 0]


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expectations of one hatchling of each pair, over what its parents may be.

    ``values`` has the shape (pairs,), ``taken``, the chances as in ``Shares``, (pairs, tracked).
    """

    values: Array
    taken: Array


def expected_all(sheets: Sheets, laid: Laid, odds: YoungOdds) -> Expected:
    """Return the expected value and the chances that wishes count, of pairs laid out already."""
    found = _averaged(laid, odds, [0, *range(2, 2 + len(sheets.prices.tracked))])
    return Expected(found[:, 0], found[:, 1:])


def _averaged(laid: Laid, odds: YoungOdds, rows: Sequence[int]) -> Array:
    """Return rows of the sheets, the value first, averaged over each pair's odds: (pairs, rows)."""
    found = np.zeros((laid.place.size, len(rows)))
    shapes: dict[tuple[tuple[int, ...], ...], int] = {}
    shape_of = [
        shapes.setdefault(tuple([axis.onto.shape for axis in layout.axes]), len(shapes))
        for layout in laid.layouts
    ]
    alike = np.array(shape_of, dtype=np.intp)[laid.place]
    order = np.argsort(alike, kind="stable")
    ends = np.searchsorted(alike[order], np.arange(len(shapes) + 1)).tolist()
    for shape, (first, last) in zip(shapes, pairwise(ends), strict=True):
        for part in in_parts(last - first, _cells(shape)):
            own = order[first:last][part]
            some, at = np.unique(laid.place[own], return_inverse=True)
            layouts = [laid.layouts[number] for number in some.tolist()]
            found[own] = _average_alike(layouts, at.reshape(-1), odds, own, rows)
    found[:, 0] += odds.common
    return found


def _average_alike(
    layouts: Sequence[Layout],
    at: NDArray[np.intp],
    odds: YoungOdds,
    pairs: NDArray[np.intp],
    rows: Sequence[int],
) -> Array:
    """Average for pairs whose layouts have the same shapes; ``at`` is the layout of each.

    The first groups are averaged over in one product for all pairs of a sheet, then the others.
    """
    own = []
    for axis in range(len(layouts[0].axes)):
        axes = [layout.axes[axis] for layout in layouts]
        onto = np.array([each.onto for each in axes])
        groups = np.array([odds.groups[each.columns.group] for each in axes])
        own.append((odds.at(groups[at], pairs, onto.shape[1])[:, None] @ onto[at])[:, 0])
    half = len(own) // 2
    first, second = (_joined_odds(part, pairs.size) for part in (own[:half], own[half:]))
    place: dict[int, int] = {}
    sheet = np.array([place.setdefault(id(layout.sheet), len(place)) for layout in layouts])[at]
    tables = {place[id(layout.sheet)]: layout.rows for layout in layouts}
    order = np.argsort(sheet, kind="stable")
    ends = np.searchsorted(sheet[order], np.arange(len(place) + 1)).tolist()
    found = np.empty((pairs.size, len(rows)))
    for number, (start, end) in enumerate(pairwise(ends)):
        some = order[start:end]
        table = tables[number][rows].reshape(len(rows), first.shape[1], -1).transpose(1, 0, 2)
        left = first[some] @ table.reshape(first.shape[1], -1)
        left = left.reshape(some.size, len(rows), -1)
        found[some] = np.einsum("prc,pc->pr", left, second[some])
    return found


def _joined_odds(odds: Sequence[Array], pairs: int) -> Array:
    """Return the odds of joint outcomes of some groups, shape (pairs, cells), the first slowest."""
    joined = np.ones((pairs, 1))
    for own in reversed(odds):
        joined = (own[:, :, None] * joined[:, None, :]).reshape(pairs, -1)
    return joined


def hatchling_shares(sheets: Sheets, tables: Tables) -> Shares:
    """Return what is tracked of one hatchling, given what its parents may be.

    States are ordered as the product of the groups' own, the sex group first, then by name.
    """
    (found,) = many_shares(sheets, [tables])
    return share_of(found, 0)


def share_of(many: ManyShares, number: int) -> Shares:
    """Return the shares of one of several pairs."""
    all_ = many.shares
    return Shares(
        weights=all_.weights[number],
        taken=all_.taken[number],
        fits=all_.fits[number],
        mean=all_.mean[number],
        square=all_.square[number],
    )


def many_shares(sheets: Sheets, pairs: Sequence[Tables]) -> Iterator[ManyShares]:
    """Yield the shares of all pairs, those of as many states and cases together."""
    layouts = layouts_of(sheets, pairs)
    alike: dict[tuple[tuple[int, ...], ...], list[int]] = defaultdict(list)
    for number, layout in enumerate(layouts):
        tables = pairs[number]
        alike[
            tuple(
                (*tables[place].weights.shape, *axis.onto.shape)
                for place, axis in zip(layout.places, layout.axes, strict=True)
            )
        ].append(number)
    joined: dict[tuple[int, ...], list[ManyShares]] = defaultdict(list)
    for shape, numbers in alike.items():
        rows = 2 + len(sheets.prices.tracked) + len(sheets.prices.fitting)
        for places in in_parts(len(numbers), rows * _widest(shape)):
            found = _shares_alike(sheets, pairs, layouts, numbers[places])
            joined[found.shares.weights.shape[1:]].append(found)
    for found_alike in joined.values():
        yield _joined(found_alike)


def _shares_alike(
    sheets: Sheets, pairs: Sequence[Tables], layouts: Sequence[Layout], part: Sequence[int]
) -> ManyShares:
    """Return the shares of pairs whose sheets and odds have the same shapes."""
    some = [layouts[number] for number in part]
    count = len(part)
    weights = np.ones((count, 1, 1))
    odds, axes = [], []
    for axis in range(len(some[0].axes)):
        tables = [pairs[n][layouts[n].places[axis]] for n in part]
        own = np.array([table.weights for table in tables])
        states, cases = own.shape[1:]
        odds.append(np.array([table.odds for table in tables]).reshape(count, states * cases, -1))
        axes += [states, cases]
        weights = np.einsum("nab,ncd->nacbd", weights, own)
        weights = weights.reshape(count, weights.shape[1] * states, -1)
    sheet = np.array([layout.rows for layout in some])
    rows = sheet.shape[1]
    used = sheet.any(axis=(0, 2))
    found = np.zeros((count, rows, weights[0].size))
    if used.any():
        found[:, used] = _contracted(sheet[:, used], _merged(odds, some))
    order = [0, 1, *range(2, len(axes) + 2, 2), *range(3, len(axes) + 2, 2)]
    found = found.reshape(count, rows, *axes).transpose(order)
    found = found.reshape(count, rows, *weights.shape[1:])
    tracked = 2 + len(sheets.prices.tracked)
    return ManyShares(
        places=np.array(part, dtype=np.intp),
        shares=Shares(
            weights=weights,
            mean=found[:, 0],
            square=found[:, 1],
            taken=found[:, 2:tracked],
            fits=found[:, tracked:],
        ),
    )


def _joined(parts: Sequence[ManyShares]) -> ManyShares:
    shares = [part.shares for part in parts]
    return ManyShares(
        places=np.concatenate([part.places for part in parts]),
        shares=Shares(
            weights=np.concatenate([each.weights for each in shares]),
            taken=np.concatenate([each.taken for each in shares]),
            fits=np.concatenate([each.fits for each in shares]),
            mean=np.concatenate([each.mean for each in shares]),
            square=np.concatenate([each.square for each in shares]),
        ),
    )


def _merged(odds: Sequence[Array], layouts: Sequence[Layout]) -> list[Array]:
    """Return the odds of columns: those of the outcomes each adds up."""
    return [
        own @ np.array([layout.axes[axis].onto for layout in layouts])
        for axis, own in enumerate(odds)
    ]


def _contracted(rows: Array, odds: Iterable[Array]) -> Array:
    """Average the rows, shape (pairs, rows, cells), over odds of shape (pairs, cases, columns).

    One axis a group; the result has the shape (pairs, rows, cases of all groups).
    """
    pairs, count = rows.shape[:2]
    left = rows
    done = 1
    for own in odds:
        cases, columns = own.shape[1:]
        left = own[:, None] @ left.reshape(pairs, count * done, columns, -1)
        done *= cases
    return left.reshape(pairs, count, done)


def _cells(shape: Iterable[tuple[int, ...]]) -> int:
    cells = 1
    for sizes in shape:
        cells *= sizes[-1]
    return cells


def _widest(shape: Sequence[tuple[int, ...]]) -> int:
    """Return how many numbers a row may grow to while the odds of each group are multiplied in."""
    width = most = _cells(shape)
    for states, cases, _, columns in shape:
        width = width // columns * states * cases
        most = max(most, width)
    return most
