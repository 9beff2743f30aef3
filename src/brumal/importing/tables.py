"""Tables in a sheet: header rows wherever they stand, and what each row below them is."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from brumal.importing.columns import Meaning, looks_like_sexes, meaning_of
from brumal.importing.dates import DateReading
from brumal.importing.grids import Cell, Grid
from brumal.importing.words import is_total, plain, sex_of_heading, words

KEYS = ("id", "name")
FACTS = ("morph", "het", "poss_het", "hatched", "dam", "sire", "parents")
_CODE = re.compile(r"[A-Za-z]{0,3}[-#. ]?\d+([-./ ]?[A-Za-z0-9]+)*")
_AGGREGATE = re.compile(
    r"(?i)\W*(of:=|=)?\s*\(?(SUM|COUNT|COUNTA|COUNTIF|AVERAGE|MAX|MIN|MEDIAN|SUBTOTAL)\("
)


class Kind(StrEnum):
    """What a table is read as."""

    ANIMALS = "animals"
    WEIGHTS = "weights"
    CLUTCHES = "clutches"
    PRICES = "prices"
    NOTHING = "nothing"


USED = {
    Kind.ANIMALS: frozenset(
        ("id", "name", "sex", "hatched", *FACTS, "weight", "weight on", "weighed", "date")
    )
    | {"arrived", "condition", "last_laid", "status", "notes", "price", "tub"},
    Kind.WEIGHTS: frozenset(
        ("id", "name", "tub", "weight", "weight on", "weighed", "date", "notes")
    ),
    Kind.CLUTCHES: frozenset(
        ("dam", "sire", "parents", "laid", "eggs", "slugs", "young", "hatched", "notes")
    ),
    Kind.PRICES: frozenset(("morph", "price", "value female", "value male")),
    Kind.NOTHING: frozenset[str](),
}
"""The fields that each kind of table is read for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its number, heading, the field it is read as, and what the heading adds."""

    number: int
    heading: str
    field: str = ""
    beside: str = ""
    unit: str = ""
    day: DateReading | None = None
    by_content: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: ``rows`` hold data, ``sections`` gives the heading over each of them.

    ``totals`` are rows of sums, ``loose`` rows that hold one text and no more, ``legends`` maps
    rows below or beside that explain a colour to their text.
    """

    grid: Grid
    kind: Kind
    header_row: int
    columns: tuple[Column, ...]
    rows: tuple[int, ...] = ()
    sections: Mapping[int, str] = field(default_factory=dict)
    totals: tuple[int, ...] = ()
    loose: tuple[int, ...] = ()
    title: str = ""

    @property
    def key(self) -> str:
        """Return the name of the table in ``import.yaml``."""
        last = self.columns[-1].number if self.columns else 1
        first = Cell(row=self.header_row, column=self.columns[0].number).place
        return f"{self.grid.sheet}!{first}:{Cell(row=self.header_row, column=last).place}"

    @property
    def fields(self) -> frozenset[str]:
        """Return the fields that the columns are read as."""
        return frozenset(column.field for column in self.columns if column.field)

    def of(self, *fields: str) -> tuple[Column, ...]:
        """Return the columns that are read as one of the fields."""
        return tuple(column for column in self.columns if column.field in fields)

    def cell(self, row: int, *fields: str) -> Cell | None:
        """Return the first filled cell of a row among columns of these fields."""
        cells = (self.grid.at(row, column.number) for column in self.of(*fields))
        return next((cell for cell in cells if cell), None)

    def cells(self, row: int) -> list[Cell]:
        """Return the cells of a row within the table, empty ones left out."""
        found = (self.grid.at(row, column.number) for column in self.columns)
        return [cell for cell in found if cell]

    def down(self, column: Column) -> list[Cell]:
        """Return the filled cells of a column in the rows of data."""
        cells = (self.grid.at(row, column.number) for row in self.rows)
        return [cell for cell in cells if cell]


def find_tables(grid: Grid, taken: Iterable[int] = ()) -> tuple[Table, ...]:
    """Find every table of a sheet; rows ``taken`` (by cards) hold no header."""
    used = frozenset(taken)
    rows = list(grid.rows())
    headers: list[tuple[int, list[list[Column]]]] = []
    for number, cells in rows:
        if number not in used and (segments := _segments(grid, number, cells)):
            headers.append((number, segments))
    tables = []
    for place, (number, segments) in enumerate(headers):
        if place + 1 < len(headers) and headers[place + 1][0] == number + 1:
            continue  # group headings over the header
        for segment in segments:
            below = headers[place + 1 :]
            end = next((n for n, others in below if _overlaps(segment, others)), 1 << 30)
            above = [n for n, others in headers[:place] if _overlaps(segment, others)]
            inside = [n for n, _ in rows if number < n < end and n not in used]
            title = _title(grid, segment, above[-1] if above else 0, number)
            table = _table(grid, number, segment, inside, title)
            over = [row for row in table.loose if row + 2 < end]
            tables.append(replace(table, loose=tuple(over)))
    return tuple(tables)


def _overlaps(segment: Sequence[Column], others: Sequence[Sequence[Column]]) -> bool:
    first, last = segment[0].number, segment[-1].number
    return any(o[0].number <= last and first <= o[-1].number for o in others)


def _segments(grid: Grid, row: int, cells: list[Cell]) -> list[list[Column]]:
    """Return the tables that a row heads, side by side; none where it is no header."""
    if len(cells) < 2:
        return []
    meanings = [(cell, meaning_of(cell, _group(grid, row, cell))) for cell in cells]
    has_morph = any(meaning.field == "morph" for _, meaning in meanings)
    has_eggs = any(meaning.field == "eggs" for _, meaning in meanings)
    columns = [_column(cell, meaning, has_morph, has_eggs) for cell, meaning in meanings]
    parts: list[list[Column]] = []
    seen: set[str] = set()
    for column in columns:
        gap = bool(parts) and column.number > parts[-1][-1].number + 1
        again = column.field in (*KEYS, "morph", "dam", "tub") and column.field in seen
        if again and column.field == "name" and len(seen) < 3 and "id" not in seen:
            # Two names side by side: the first is what the keeper calls them by in lists.
            parts[-1] = [replace(c, field="id") if c.field == "name" else c for c in parts[-1]]
        elif not parts or (again and (gap or column.field == "name")):
            parts.append([])
            seen = set()
        seen.add(column.field)
        parts[-1].append(column)
    return [_trimmed(part) for part in parts if _is_header(_trimmed(part))]


def _trimmed(part: list[Column]) -> list[Column]:
    """Leave out what stands beyond a blank column and has headings that say nothing."""
    known = [place for place, column in enumerate(part) if column.field]
    for place in range(known[-1] + 1 if known else 1, len(part)):
        if part[place].number > part[place - 1].number + 1:
            return part[:place]
    return part


def _group(grid: Grid, row: int, cell: Cell) -> str:
    """Return the group heading over a cell where the row above is one of merged headings."""
    merged = any(top[0] == row - 1 and spot[1] != top[1] for spot, top in grid.spans.items())
    above = [grid.at(row - 1, c) for _, c in grid.cells if _ == row - 1]
    if not merged or sum(map(bool, above)) < 2:
        return ""
    return grid.heading_over(row - 1, cell.column)


def _column(cell: Cell, meaning: Meaning, has_morph: bool, has_eggs: bool) -> Column:
    """Return a column; a sex as a heading is a price beside morphs, a parent beside eggs."""
    field_ = meaning.field
    sex = words().sexes.get(plain(cell.text), "") if len(cell.text) > 1 else ""
    if not field_ and sex in ("female", "male"):
        if has_eggs:
            field_ = "dam" if sex == "female" else "sire"
        elif has_morph:
            field_ = f"value {sex}"
    return Column(
        number=cell.column,
        heading=meaning.text or cell.text,
        field=field_,
        beside=meaning.beside,
        unit=meaning.unit,
        day=meaning.day,
    )


def _is_header(columns: Sequence[Column]) -> bool:
    known = [column.field for column in columns if column.field]
    named = {name for name in known if name != "weight on"}
    if len(named) >= 2:
        return len(named) > 3 or 3 * len(known) >= len(columns)
    return bool(named & {"id", "name", "tub"}) and "weight on" in known


def _title(grid: Grid, segment: Sequence[Column], after: int, row: int) -> str:
    """Return the texts right over a table, nearest last, down from the table above it."""
    first, last = segment[0].number, segment[-1].number
    texts = [
        cells[0].text
        for number, found in grid.rows()
        if after < number < row
        for cells in [[cell for cell in found if first <= cell.column <= last]]
        if len(cells) == 1
    ]
    return " | ".join(texts[-3:])


def _table(grid: Grid, row: int, columns: list[Column], inside: list[int], title: str) -> Table:
    draft = Table(
        grid=grid,
        kind=Kind.NOTHING,
        header_row=row,
        columns=tuple(columns),
        rows=tuple(inside),
        title=title,
    )
    draft = _by_content(draft)
    if "year" in draft.fields and not draft.fields & {"hatched", "laid"}:
        years = tuple(
            replace(column, field="hatched") if column.field == "year" else column
            for column in draft.columns
        )
        draft = replace(draft, columns=years)
    return sorted_rows(replace(draft, kind=kind_of(draft)))


def _by_content(table: Table) -> Table:
    """Find codes that serve as ids, and the sexes in a column whose heading says nothing."""
    names = table.of("name")
    if names and "id" not in table.fields and _are_codes(table.down(names[0])):
        coded = [replace(c, field="id") if c.field == "name" else c for c in table.columns]
        table = replace(table, columns=tuple(coded))
    if not table.fields & {"sex", "morph", "hatched", "dam", "sire"}:
        return table
    if "sex" not in table.fields:
        table = found_by_content(table, "sex", looks_like_sexes)
    if not table.fields & {*KEYS, "tub", "eggs", "laid"}:
        table = found_by_content(table, "name", _are_names)
    return table


def found_by_content(table: Table, field_: str, fits: Callable[[Sequence[Cell]], bool]) -> Table:
    """Read the first column whose heading says nothing and whose cells fit as a field."""
    for place, column in enumerate(table.columns):
        if not column.field and fits(table.down(column)):
            found = replace(column, field=field_, by_content=True)
            columns = (*table.columns[:place], found, *table.columns[place + 1 :])
            return replace(table, columns=columns)
    return table


def _are_names(cells: Sequence[Cell]) -> bool:
    """Say whether cells are short texts, each of them once."""
    texts = [cell.text for cell in cells if isinstance(cell.value, str)]
    short = all(len(text.split()) < 4 and re.search(r"[^\W\d]", text) for text in texts)
    return 1 < len(texts) == len(cells) == len({plain(text) for text in texts}) and short


def _are_codes(cells: Sequence[Cell]) -> bool:
    texts = [cell.text for cell in cells if not is_total(cell.text)]
    return bool(texts) and all(_CODE.fullmatch(text) for text in texts)


def kind_of(table: Table) -> Kind:
    """Return what a table holds, by its columns and the words around it."""
    fields = table.fields
    keyed = bool(fields & {"id", "name"})
    of_animals = keyed and {"sex", "morph"} <= fields
    if "eggs" in fields and fields & {"dam", "laid", "parents"} and not of_animals:
        return Kind.CLUTCHES
    if keyed and _holds_animals(table):
        return Kind.ANIMALS
    if fields & {"weight", "weight on"} and (keyed or fields & {"tub", "date", "weighed"}):
        return Kind.WEIGHTS
    around = f"{table.grid.sheet} {table.title} " + " ".join(c.heading for c in table.columns)
    if "morph" in fields and fields & {"price", "value female", "value male"}:
        priced = "price" in fields or words().any_of("price_titles", around)
        return Kind.PRICES if priced and not keyed else Kind.NOTHING
    return Kind.NOTHING


def _holds_animals(table: Table) -> bool:
    """Say whether a keyed table is of snakes: its cells, not its headings alone, must say so."""
    if table.fields & {"morph", "het"}:
        return any(table.down(column) for column in table.of("morph", "het"))
    if not table.fields & {"hatched", "dam", "sire", "parents", "weight", "weight on", "status"}:
        return False
    sexes = words().sexes
    told = [cell for column in table.of("sex") for cell in table.down(column)]
    return any(cell.text.casefold() in sexes or plain(cell.text) in sexes for cell in told)


def sorted_rows(table: Table) -> Table:
    """Tell rows of data from headings, totals, comments and single texts."""
    rows: list[int] = []
    totals: list[int] = []
    loose: list[int] = []
    sections: dict[int, str] = {}
    section = table.title.split(" | ")[-1]
    for row in table.rows:
        cells = table.cells(row)
        if not cells:
            continue
        first = cells[0]
        if _is_sum(table, row, cells):
            totals.append(row)
        elif first.text.startswith("#") and len(cells) == 1:
            section = first.text if sex_of_heading(first.text) else section
        elif len(cells) == 1 and len(table.columns) > 2:
            if is_heading(first.text):
                section = first.text
            else:
                loose.append(row)
        else:
            rows.append(row)
            sections[row] = section
    return replace(
        table,
        rows=tuple(rows),
        totals=tuple(totals),
        loose=tuple(loose),
        sections=sections,
    )


def is_heading(text: str) -> bool:
    """Say whether a text that stands alone in a row heads a section."""
    bare = plain(text)
    known = words()
    named = bool(sex_of_heading(text)) or bare in known.statuses
    listed = any(known.among(kind, text) for kind in ("gone", "holdbacks", "for_sale"))
    loud = text.isupper() and len(bare) > 3
    dated = bool(re.search(r"\b(19|20)\d\d\b", text)) and len(bare.split()) > 1
    price = known.any_of("price_titles", text)
    return named or listed or loud or dated or price


def _is_sum(table: Table, row: int, cells: list[Cell]) -> bool:
    first = cells[0]
    facts = any(_is_fact(table, row, name, first) for name in FACTS)
    if any(cell.formula and _AGGREGATE.match(cell.formula) for cell in cells):
        return not facts
    if not is_total(first.text):
        return False
    sex = table.cell(row, "sex")
    sexed = sex is not None and plain(sex.text) in words().sexes
    return not (facts or sexed)


def _is_fact(table: Table, row: int, name: str, first: Cell) -> bool:
    cell = table.cell(row, name)
    if cell is None or cell.formula or cell.column == first.column:
        return False
    return isinstance(cell.value, str)
