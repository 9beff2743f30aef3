"""Animals as they stand in the book: rows of tables and cards, each with its cells by field."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from brumal.importing.columns import Meaning, meaning_of
from brumal.importing.grids import Cell, Grid
from brumal.importing.tables import Column, Kind, Table
from brumal.importing.words import counts_of, is_not_known, plain, words

SINGLE = ("sex", "hatched", "dam", "sire", "morph", "status")
"""Fields of which two tables must not say different things about one animal."""


@dataclass(slots=True, kw_only=True)
class Raw:
    """One animal as written: cells with their columns by field, and the heading over its row."""

    grid: Grid
    row: int
    fields: dict[str, list[tuple[Column, Cell]]]
    section: str = ""
    table: Table | None = None
    key: str = ""
    conflicts: dict[str, list[Cell]] = field(default_factory=dict)

    def cell(self, *fields: str) -> Cell | None:
        """Return the first filled cell of these fields."""
        found = (cell for name in fields for _, cell in self.fields.get(name, []) if cell)
        return next(found, None)

    def column(self, name: str) -> Column | None:
        """Return the column of the first filled cell of a field."""
        return next((column for column, cell in self.fields.get(name, []) if cell), None)

    def text(self, name: str) -> str:
        """Return the text of a field, empty where it is not known."""
        cell = self.cell(name)
        return "" if cell is None or (name != "notes" and is_not_known(cell.text)) else cell.text

    @property
    def cells(self) -> list[Cell]:
        """Return every filled cell, by column."""
        found = {c.place: c for pairs in self.fields.values() for _, c in pairs if c}
        return sorted(found.values(), key=lambda cell: (cell.row, cell.column))

    @property
    def label(self) -> str:
        """Return what the keeper calls the animal."""
        return self.text("name") or self.text("id") or f"row {self.row}"


def rows_of(table: Table) -> list[Raw]:
    """Return the animals of a table, one a row of data."""
    found = []
    for row in table.rows:
        fields: dict[str, list[tuple[Column, Cell]]] = {}
        for column in table.columns:
            cell = table.grid.at(row, column.number)
            if column.field and cell:
                fields.setdefault(column.field, []).append((column, cell))
        if fields:
            section = table.sections.get(row, "")
            found.append(Raw(grid=table.grid, row=row, fields=fields, section=section, table=table))
    return found


@dataclass(frozen=True, slots=True)
class Card:
    """An animal on a card of its own: labels at the left, what they name beside them."""

    raw: Raw
    rows: tuple[int, ...]


def find_cards(grid: Grid) -> tuple[Card, ...]:
    """Find the cards of a sheet, one below another where there are several."""
    cards: list[Card] = []
    labels: list[tuple[Meaning, Cell]] = []
    last = 0
    for row, cells in [*grid.rows(), (1 << 30, [])]:
        meaning = meaning_of(cells[0]) if cells else Meaning()
        labelled = bool(meaning.field) and len(cells) <= 2
        known = {each.field for each, _ in labels}
        if labels and (not labelled or row != last + 1 or meaning.field in known):
            cards.extend(_card(grid, labels))
            labels = []
        if labelled:
            labels.append((meaning, cells[0]))
        last = row
    return tuple(cards)


def _card(grid: Grid, labels: Sequence[tuple[Meaning, Cell]]) -> list[Card]:
    names = {meaning.field for meaning, _ in labels}
    if len(names) < 3 or not names & {"id", "name"} or not names & {"sex", "morph"}:
        return []
    if len({cell.column for _, cell in labels}) > 1:
        return []
    fields: dict[str, list[tuple[Column, Cell]]] = {}
    for meaning, label in labels:
        cell = grid.at(label.row, label.column + 1)
        column = Column(
            number=label.column + 1, heading=label.text.rstrip(":"), field=meaning.field
        )
        if cell:
            fields[meaning.field] = [(column, cell)]
    if not any(name in fields for name in ("id", "name")):
        return []
    rows = tuple(label.row for _, label in labels)
    return [Card(Raw(grid=grid, row=rows[0], fields=fields), rows)]


def merged(raws: Iterable[Raw]) -> list[Raw]:
    """Join rows of different tables that are about one animal.

    They are, where both give the same id, or one name stands in each and an id in at most one.
    What they say differently is noted in ``conflicts``.
    """
    found: list[Raw] = []
    for raw in raws:
        same = [other for other in found if _same(other, raw)]
        if len(same) == 1:
            _join(same[0], raw)
        else:
            found.append(raw)
    return found


def _same(first: Raw, second: Raw) -> bool:
    if first.table is second.table and first.table is not None:
        return False
    ids = plain(first.text("id")), plain(second.text("id"))
    names = plain(first.text("name")), plain(second.text("name"))
    if all(ids):
        return ids[0] == ids[1] and (not all(names) or names[0] == names[1])
    return bool(names[0]) and names[0] == names[1]


def _join(first: Raw, second: Raw) -> None:
    for name, pairs in second.fields.items():
        if name not in first.fields:
            first.fields[name] = list(pairs)
            continue
        if name in SINGLE and not _alike(first, second, name):
            first.conflicts.setdefault(name, []).extend(cell for _, cell in pairs)
        if name.startswith("weight") or name == "weighed":
            first.fields[name].extend(pairs)


def _alike(first: Raw, second: Raw, name: str) -> bool:
    texts = [sorted(plain(c.text) for _, c in raw.fields[name]) for raw in (first, second)]
    if name == "sex":
        texts = [[words().sexes.get(each, each) for each in side] for side in texts]
    return texts[0] == texts[1]


def young_counted(raw: Raw) -> int:
    """Return how many young a row stands for: ``0.0.3`` in its column of sexes is three."""
    cell = raw.cell("sex")
    counts = counts_of(cell.text) if cell is not None else None
    return sum(counts) if counts else 1


def is_slipped(raw: Raw, raws: Sequence[Raw]) -> bool:
    """Say whether a number in the column of ids looks like the tub that is missing beside it.

    The others of its table have ids of another form and a tub each.
    """
    table = raw.table
    own = raw.text("id")
    if table is None or "tub" not in table.fields or raw.cell("tub") or not own.isdigit():
        return False
    others = [each for each in raws if each.table is table and each is not raw and each.text("id")]
    return bool(others) and all(
        each.cell("tub") is not None and not each.text("id").isdigit() for each in others
    )


def by_kind(tables: Iterable[Table]) -> Mapping[Kind, list[Table]]:
    """Return the tables by what they hold."""
    found: dict[Kind, list[Table]] = {kind: [] for kind in Kind}
    for table in tables:
        found[table.kind].append(table)
    return found
