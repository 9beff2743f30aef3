"""Where the outcomes of pairs are laid out: groups that matter, columns, and sheets of totals.

Pairs whose young may turn out alike at every linkage group share a layout, and layouts whose
columns agree share a sheet: the best price of every joint outcome, and whom the wishes count.
Sheets of the same shape are worked out together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.value import Array, Outcomes, PriceList, Reduced, content_key
from brumal.genetics.genotypes import SEX_GROUP
from brumal.genetics.masks import Veil, scene_of_marks

Tables = Sequence[Reduced]
"""The odds of a pair's young: each linkage group once, the sex group among them."""

_MOST_NUMBERS = 2_000_000
"""Things are worked out together until a table would hold more numbers than this."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Outcomes of one group merged as the entries in reach see them.

    ``worth`` has the shape (entries, columns); entries that see what none in reach does are shut.
    ``marks`` and ``under`` are those of the outcomes, where pairs may look so that loci are hidden.
    """

    group: str
    worth: Array
    sex: NDArray[np.intp]
    marks: NDArray[np.intp]
    under: Mapping[Veil, Array]


@dataclass(frozen=True, slots=True, eq=False)
class Axis:
    """One group of a layout: its columns, and which outcomes (rows) each of them adds up."""

    columns: Columns
    onto: Array


Seen = tuple[tuple[int, frozenset[str]], ...]
"""(mark, the linkage groups whose outcome makes a difference to it); marks without any left out."""


@dataclass(frozen=True, slots=True, eq=False)
class OutcomeTable:
    """One table of joint outcomes: value, value squared, then the tracked and fitting marks.

    ``marked`` says whether there is any mark, ``seen`` what makes a difference to which.
    """

    rows: Array
    marked: bool
    seen: Seen


@dataclass(frozen=True, slots=True)
class Sight:
    """What wishes see of the young of some pairs: entries in reach (bits), marks as on a sheet."""

    reach: int
    marked: bool
    seen: Seen

    @property
    def groups(self) -> frozenset[str] | None:
        """Return the groups that decide whether a young is counted; ``None``: none ever is.

        An empty set says that every young counts alike.
        """
        return frozenset().union(*[groups for _, groups in self.seen]) if self.marked else None


@dataclass(slots=True, eq=False)
class Layout:
    """How pairs of the same outcomes are laid out: the places of the groups that matter, a sheet.

    The sex group comes first, then the others by name. ``masked`` says that some young hide loci.
    """

    reach: int
    places: tuple[int, ...]
    axes: tuple[Axis, ...]
    masked: bool
    sheet: OutcomeTable | None = None

    @property
    def rows(self) -> Array:
        """Return the rows of the sheet, shape (rows, cells)."""
        assert self.sheet is not None
        return self.sheet.rows

    @property
    def sight(self) -> Sight:
        """Return what wishes see."""
        assert self.sheet is not None
        return Sight(self.reach, self.sheet.marked, self.sheet.seen)

    @property
    def shape(self) -> tuple[int, ...]:
        """Return the number of columns of each group."""
        return tuple(axis.columns.sex.size for axis in self.axes)


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Pairs laid out: layouts, and the place of each pair's among them."""

    layouts: Sequence[Layout]
    place: NDArray[np.intp]

    @staticmethod
    def one_each(layouts: Sequence[Layout]) -> Laid:
        """Take one layout for each pair; some may be the same."""
        place: dict[int, int] = {}
        found: list[Layout] = []
        for layout in layouts:
            if place.setdefault(id(layout), len(found)) == len(found):
                found.append(layout)
        return Laid(found, np.array([place[id(layout)] for layout in layouts], dtype=np.intp))

    def sights(self) -> tuple[list[Sight], NDArray[np.intp]]:
        """Return what wishes see of the pairs: every sight once, and the place of each pair's."""
        places: dict[Sight, int] = {}
        place = [places.setdefault(layout.sight, len(places)) for layout in self.layouts]
        return list(places), np.array(place, dtype=np.intp)[self.place]


@dataclass(slots=True, eq=False)
class Sheets:
    """The sheets of one price list, each laid out once."""

    prices: PriceList
    _columns: dict[bytes, Columns] = field(default_factory=dict)
    _entries: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _axes: dict[tuple[int, int, bool], Axis | None] = field(default_factory=dict)
    _merged: dict[tuple[int, tuple[int, ...], bool], Axis | None] = field(default_factory=dict)
    _layouts: dict[tuple[int, ...], Layout] = field(default_factory=dict)
    _laid: dict[tuple[int, ...], OutcomeTable] = field(default_factory=dict)


def in_parts(count: int, each: int) -> Iterator[slice]:
    """Cut so many things so that tables of ``each`` numbers a thing stay within memory."""
    step = max(1, _MOST_NUMBERS // each)
    return (slice(start, start + step) for start in range(0, count, step))


def layouts_of(sheets: Sheets, pairs: Sequence[Tables]) -> list[Layout]:
    """Return the layout of each pair, with its sheet."""
    known = sheets._layouts
    keys = [tuple([table.code for table in tables]) for tables in pairs]
    new: dict[tuple[int, ...], Layout] = {}
    for key, tables in zip(keys, pairs, strict=True):
        if key not in known and key not in new:
            new[key] = _new_layout(sheets, tables)
    _lay_out(sheets, new.values())
    known.update(new)
    return [known[key] for key in keys]


def _new_layout(sheets: Sheets, tables: Tables) -> Layout:
    reach = (1 << len(sheets.prices.entries)) - 1
    present = {table.group for table in tables}
    for group, entries in sheets.prices.needing.items():
        if group not in present:
            reach &= ~entries
    for table in tables:
        reach &= table.outcomes.reach
    order = sorted(
        range(len(tables)),
        key=lambda place: (tables[place].group != SEX_GROUP, tables[place].group),
    )
    masked = any([table.outcomes.masks for table in tables])
    found = [
        (place, axis)
        for place in order
        if (axis := _axis_of(sheets, tables[place], reach, masked)) is not None
    ]
    return Layout(reach, tuple(p for p, _ in found), tuple(axis for _, axis in found), masked)


def _axis_of(sheets: Sheets, table: Reduced, reach: int, masked: bool) -> Axis | None:
    """Merge the outcomes of a group that the entries in reach see alike.

    Returns ``None`` where they are all alike and add nothing. A group taken apart by state of the
    sire keeps its place, so that states stay in order.
    """
    key = (table.code, reach, masked)
    if key not in sheets._axes:
        kinds = _kinds(sheets, table.outcomes)
        telling = tuple([number for number, kind in enumerate(kinds) if kind & reach])
        merged = (table.code, telling, masked)
        if merged not in sheets._merged:
            told = [kinds[number] for number in telling]
            sheets._merged[merged] = _merge(sheets, table, told, masked)
        sheets._axes[key] = sheets._merged[merged]
    return sheets._axes[key]


def _merge(sheets: Sheets, table: Reduced, kinds: Sequence[int], masked: bool) -> Axis | None:
    """Merge the outcomes that entries of these kinds see alike, in the open and where hidden."""
    outcomes = table.outcomes
    firsts = [_bits(kind)[0] for kind in kinds]
    under = outcomes.under if masked else {}
    worth = np.vstack([each[firsts] for each in (outcomes.worth, *under.values())])
    marks = outcomes.marks if masked else np.zeros_like(outcomes.marks)
    first, merged = _columns_alike(np.vstack([worth, outcomes.sex, marks]))
    kept = table.group == SEX_GROUP or table.weights.shape[0] > 1 or (masked and outcomes.masks)
    if not kept and first.size == 1 and not worth.any():
        return None
    seen = np.full((1 + len(under), outcomes.worth.shape[0], first.size), -np.inf)
    parts = np.split(worth[:, first], 1 + len(under))
    for part, rows in zip(seen, parts, strict=True):
        for kind, row in zip(kinds, rows, strict=True):
            part[_bits(kind)] = row
    sex, marked = outcomes.sex[first], marks[first]
    content = content_key(table.group, seen, sex, marked)
    hidden = dict(zip(under, seen[1:], strict=True))
    columns = Columns(table.group, seen[0], sex, marked, hidden)
    return Axis(sheets._columns.setdefault(content, columns), np.eye(first.size)[merged])


def _columns_alike(table: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the first of each sort of columns, in order, and the sort of each column.

    So does ``numpy.unique`` along axis 1, which takes several times as long for a small table.
    """
    order = np.lexsort(table[::-1])
    along = table[:, order]
    new = np.append(True, (along[:, 1:] != along[:, :-1]).any(axis=0))
    sort = np.empty(order.size, dtype=np.intp)
    sort[order] = np.cumsum(new) - 1
    return order[new], sort


def _kinds(sheets: Sheets, outcomes: Outcomes) -> tuple[int, ...]:
    """Return the entries, as bits, in sets that see every outcome alike."""
    found = sheets._entries.get(id(outcomes))
    if found is None:
        alike: dict[bytes, int] = defaultdict(int)
        for entry in range(len(outcomes.worth)):
            rows = (outcomes.worth, *outcomes.under.values())
            alike[b"".join([row[entry].tobytes() for row in rows])] |= 1 << entry
        found = sheets._entries[id(outcomes)] = tuple(alike.values())
    return found


def _lay_out(sheets: Sheets, layouts: Iterable[Layout]) -> None:
    """Give each layout its sheet, laying out those that are new, alike ones together."""
    asked = [
        (layout, (layout.reach, *(id(axis.columns) for axis in layout.axes))) for layout in layouts
    ]
    alike: dict[tuple[int, ...], dict[tuple[int, ...], Layout]] = defaultdict(dict)
    for layout, key in asked:
        if key not in sheets._laid:
            alike[layout.shape][key] = layout
    for shape, new in alike.items():
        each = int(np.prod(shape)) * len(sheets.prices.entries)
        names = list(new)
        for part in in_parts(len(names), each):
            keys = names[part]
            made = _make_sheets(sheets.prices, [new[key] for key in keys])
            sheets._laid.update(zip(keys, made, strict=True))
    for layout, key in asked:
        layout.sheet = sheets._laid[key]


def _make_sheets(prices: PriceList, layouts: Sequence[Layout]) -> list[OutcomeTable]:
    """Lay out every joint outcome: its value under the best entry, and the marks of the wishes."""
    count, totals = len(layouts), _totals(prices, layouts)
    value = totals[prices.order[0]].copy()
    sold = np.full(value.shape, prices.order[0], dtype=np.intp)
    for entry in prices.order[1:]:
        better = totals[entry] > value
        np.copyto(value, totals[entry], where=better)
        sold[better] = entry
    first = np.array([layout.axes[0].columns.sex for layout in layouts])
    sex = np.repeat(first, value.shape[1] // first.shape[1], axis=1)
    taken = [_among(wanted, sold) & _among(sexes, sex) for wanted, sexes in prices.tracked]
    fits = [np.isfinite(totals[entry]) for entry in prices.fitting]
    laid = np.stack([value, value**2, *taken, *fits], axis=1)
    shape = layouts[0].shape
    marks = (laid[:, 2:] > 0).reshape(count, -1, *shape)
    marked = marks.reshape(count, -1).any(axis=1).tolist()
    differs = np.zeros((count, marks.shape[1], len(shape)), dtype=bool)
    for axis, size in enumerate(shape):
        if size > 1:
            apart = marks != marks.take([0], axis=axis + 2)
            differs[:, :, axis] = apart.any(axis=tuple(range(2, apart.ndim)))
    seen: list[dict[int, set[str]]] = [{} for _ in layouts]
    for number, mark, axis in zip(*(each.tolist() for each in np.nonzero(differs)), strict=True):
        group = layouts[number].axes[axis].columns.group
        seen[number].setdefault(mark, set()).add(group)
    return [
        OutcomeTable(
            rows=laid[number],
            marked=marked[number],
            seen=tuple([(mark, frozenset(groups)) for mark, groups in seen[number].items()]),
        )
        for number in range(count)
    ]


def _totals(prices: PriceList, layouts: Sequence[Layout]) -> Array:
    """Return the total of every joint outcome under each entry, shape (entries, layouts, cells).

    A pass over all outcomes for each entry is much faster than one over all entries for each.
    """
    totals = np.full((len(prices.entries), len(layouts), 1), -np.inf)
    for number, layout in enumerate(layouts):
        totals[_bits(layout.reach), number, 0] = 0.0
    for axis in range(len(layouts[0].axes)):
        worth = np.stack([layout.axes[axis].columns.worth for layout in layouts], axis=1)
        joined = np.empty((*totals.shape, worth.shape[2]))
        for column in range(worth.shape[2]):
            np.add(totals, worth[:, :, column, None], out=joined[..., column])
        totals = joined.reshape(*totals.shape[:2], -1)
    for number, layout in enumerate(layouts):
        if layout.masked:
            _hide(prices, layout, totals[:, number])
    return totals


def _hide(prices: PriceList, layout: Layout, totals: Array) -> None:
    """Put right the totals, shape (entries, cells), of joint outcomes that hide something."""
    catalogue = prices.catalogue
    marks = np.zeros(1, dtype=np.intp)
    for axis in layout.axes:
        marks = (marks[:, None] | axis.columns.marks).reshape(-1)
    for pattern in np.unique(marks).tolist():
        scene = scene_of_marks(pattern, catalogue)
        if not scene.hidden:
            continue
        found = np.full((len(prices.entries), 1), -np.inf)
        found[_bits(layout.reach)] = 0.0
        for axis in layout.axes:
            columns = axis.columns
            veil = scene.veil(catalogue.groups[columns.group].loci)
            worth = columns.under[veil] if veil else columns.worth
            found = (found[:, :, None] + worth[:, None, :]).reshape(len(prices.entries), -1)
        np.copyto(totals, found, where=marks == pattern)


def _among(wanted: Sequence[int], found: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Say where small whole numbers are among those wanted."""
    marks = np.zeros(max(int(found.max()), *wanted) + 1, dtype=bool)
    marks[list(wanted)] = True
    return marks[found]


@cache
def _bits(mask: int) -> NDArray[np.intp]:
    """Return the positions of the bits that are set, the lowest first."""
    return np.array([at for at in range(mask.bit_length()) if mask >> at & 1], dtype=np.intp)
