"""Books as grids of cells: XLSX, XLSM, ODS and CSV, with what the eye sees beside the value.

A book is read and never written. A packed book is bounded before it is unpacked, and one that
declares XML entities is refused: neither belongs in a keeper's workbook.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

from brumal.records.faults import Fault, InputError, Where
from brumal.records.files import Source, read_source
from brumal.records.plain_values import letters
from brumal.records.tables import BROKEN_WORKBOOK

MOST_BYTES = 40_000_000
MOST_UNPACKED = 300_000_000
MOST_CELLS = 1_000_000
SUFFIXES = (".xlsx", ".xlsm", ".ods", ".csv", ".tsv", ".txt")

Value = str | int | float | bool | date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell: its place (from 1), its value, and what the eye sees.

    ``formula`` is the formula as text, ``unsaved`` says that it has no stored result; ``fill`` is
    a colour, empty without one; ``strike`` says that it is struck through.
    """

    row: int
    column: int
    value: Value = None
    formula: str = ""
    unsaved: bool = False
    strike: bool = False
    fill: str = ""

    @property
    def text(self) -> str:
        """Return the value as text, trimmed; numbers plainly, days in ISO form."""
        return text_of(self.value)

    @property
    def place(self) -> str:
        """Return the place as a spreadsheet names it (``E12``)."""
        return f"{letters(self.column)}{self.row}"

    def __bool__(self) -> bool:
        return bool(self.text) or self.unsaved


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """One sheet: its cells by (row, column); only cells that hold or show something are there.

    ``spans`` maps a cell covered by a merged one to that one's place; ``hidden_rows`` are rows
    that the keeper hid. The sheet of a CSV file is called like the file.
    """

    file: str
    sheet: str
    cells: Mapping[tuple[int, int], Cell]
    hidden: bool = False
    hidden_rows: frozenset[int] = frozenset()
    spans: Mapping[tuple[int, int], tuple[int, int]] = field(default_factory=dict)

    def at(self, row: int, column: int) -> Cell:
        """Return a cell; one merged downwards has the value of the topmost."""
        found = self.cells.get((row, column))
        if found is not None and found:
            return found
        top = self.spans.get((row, column))
        if top is not None and top[1] == column and top in self.cells:
            above = self.cells[top]
            return Cell(row=row, column=column, value=above.value, fill=above.fill)
        return found or Cell(row=row, column=column)

    def heading_over(self, row: int, column: int) -> str:
        """Return the text over a column in a row of group headings, merged cells spread out."""
        place = self.spans.get((row, column), (row, column))
        return self.cells[place].text if place in self.cells else ""

    def rows(self) -> Iterator[tuple[int, list[Cell]]]:
        """Yield each row that holds something: its number and its filled cells by column."""
        by_row: dict[int, list[Cell]] = {}
        for (row, _), cell in sorted(self.cells.items()):
            if cell:
                by_row.setdefault(row, []).append(cell)
        yield from by_row.items()


def text_of(value: Value) -> str:
    """Return a value as text: trimmed, inner white space as single spaces."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.10g}"
    return " ".join(str(value).replace("\u200b", "").split())


def read_book(path: Path, most_unpacked: int = MOST_UNPACKED) -> tuple[Source, tuple[Grid, ...]]:
    """Read a book into its sheets.

    A file that cannot be used raises :class:`InputError`, and so does one of more bytes than
    ``most_unpacked`` when unpacked.
    """
    source, faults = read_source(path, path.name)
    if source is None:
        raise InputError(faults)
    suffix = path.suffix.casefold()
    if suffix not in SUFFIXES:
        raise _refused(
            source, f"a {suffix or 'nameless'} file", "a book as .xlsx, .xlsm, .ods or .csv"
        )
    if len(source.data) > MOST_BYTES:
        raise _refused(source, f"{len(source.data) // 1_000_000} MB", "a book of at most 40 MB")
    if suffix in (".csv", ".tsv", ".txt"):
        from brumal.importing.text_grids import grid_of_text

        return source, (grid_of_text(source),)
    try:
        _check_package(source, most_unpacked)
        return source, _packed(source, suffix)
    except BROKEN_WORKBOOK as problem:
        raise _refused(
            source,
            "a workbook that cannot be opened",
            "a workbook without a password",
            "Save it again; it may be cut short or protected.",
        ) from problem


def _packed(source: Source, suffix: str) -> tuple[Grid, ...]:
    if suffix == ".ods":
        from brumal.importing.ods_grids import grids_of_ods

        return grids_of_ods(source)
    from brumal.importing.xlsx_grids import grids_of_xlsx

    return grids_of_xlsx(source)


def _check_package(source: Source, most_unpacked: int) -> None:
    """Refuse a package that unpacks beyond all measure or whose XML declares entities."""
    with zipfile.ZipFile(io.BytesIO(source.data)) as package:
        total = 0
        for entry in package.infolist():
            total += entry.file_size
            if total > most_unpacked:
                found = f"more than {most_unpacked // 1_000_000} MB when unpacked"
                raise _refused(source, found, "a workbook that a keeper wrote")
        for entry in package.infolist():
            if entry.filename.endswith((".xml", ".rels")):
                # A declaration must stand before the first element; its letters may be UTF-16.
                head = package.read(entry).replace(b"\x00", b"")
                if b"<!DOCTYPE" in head or b"<!ENTITY" in head:
                    raise _refused(
                        source, "XML entities in the workbook", "a workbook that a keeper wrote"
                    )


def check_size(source: Source, cells: int) -> None:
    """Raise :class:`InputError` where a sheet holds more cells than any collection needs."""
    if cells > MOST_CELLS:
        raise _refused(
            source, f"more than {MOST_CELLS:,} cells", "a workbook of one keeper's collection"
        )


def _refused(source: Source, found: str, expected: str, repair: str = "") -> InputError:
    return InputError(
        [Fault(where=Where(file=source.file), found=found, expected=expected, repair=repair)]
    )
