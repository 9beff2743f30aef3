"""Tables: CSV and XLSX files as rows of text, numbered as the spreadsheet numbers them."""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import zip_longest
from pathlib import Path

from brumal.records.column_hints import likely_column
from brumal.records.csv_text import unguarded
from brumal.records.faults import Fault, Severity, Where
from brumal.records.files import Source, decode, matching_files, read_source

SEPARATORS = (",", ";", "\t", "|")
MOST_COLUMNS = 500
_END = "end of the table"
OTHER_SHEETS = (".xls", ".ods", ".numbers")
# What openpyxl and its XML reader raise on workbooks that are cut short or not workbooks at all.
BROKEN_WORKBOOK = (
    AttributeError,
    EOFError,
    IndexError,
    KeyError,
    OSError,
    RuntimeError,
    SyntaxError,
    TypeError,
    ValueError,
    zipfile.BadZipFile,
    zlib.error,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableShape:
    """What a table is called and holds: its file stem, all known columns, the required ones."""

    stem: str
    columns: tuple[str, ...]
    required: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its number in the spreadsheet and its cells by known column, as trimmed text."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table as read; blank rows are left out, dates stand in ISO form."""

    source: Source
    rows: tuple[Row, ...]

    @property
    def file(self) -> str:
        """Return the name of the file that the table was read from."""
        return self.source.file


def read_table(folder: Path, shape: TableShape) -> tuple[Table | None, list[Fault]]:
    """Read ``STEM.csv`` or ``STEM.xlsx``.

    Returns ``(None, [])`` where neither is there, and ``None`` with faults where the table cannot
    be used.
    """
    paths = matching_files(folder, shape.stem, (".csv", ".xlsx"))
    if len(paths) > 1:
        names = " and ".join(path.name for path in paths)
        return None, [
            Fault(
                where=Where(file=paths[0].name),
                found=f"both {names}",
                expected=f"one {shape.stem} table",
                repair="Keep the newer one and move the other out of the folder.",
            )
        ]
    if not paths:
        return None, _saved_in_another_form(folder, shape)
    source, faults = read_source(paths[0], paths[0].name)
    if source is None:
        return None, faults
    if paths[0].suffix.casefold() == ".csv":
        grid, faults = _csv_grid(source, shape)
    else:
        grid, faults = _xlsx_grid(source, shape)
    if grid is None:
        return None, faults
    rows, header_faults = _rows(grid, source, shape)
    faults.extend(header_faults)
    return (None if rows is None else Table(source=source, rows=rows)), faults


def _saved_in_another_form(folder: Path, shape: TableShape) -> list[Fault]:
    return [
        Fault(
            where=Where(file=path.name),
            found=f"a {path.suffix} file",
            expected=f"{shape.stem}.csv or {shape.stem}.xlsx",
            repair="Save it in one of these two forms.",
        )
        for path in matching_files(folder, shape.stem, OTHER_SHEETS)
    ]


# Rows by their number in the spreadsheet, each as long as the cells that were written in it.
Grid = dict[int, list[str]]


def _csv_grid(source: Source, shape: TableShape) -> tuple[Grid | None, list[Fault]]:
    text, faults = decode(source)
    if text is None:
        return None, faults
    text, separator = _prepare(text, shape)
    # A quotation mark that is never closed swallows whatever comes after it.
    text = f"{text}\n{_END}"
    # No cell is longer than its file; the reader's own limit is lower.
    csv.field_size_limit(max(csv.field_size_limit(), len(text)))
    rows = list(csv.reader(io.StringIO(text), delimiter=separator))
    if rows.pop() != [_END]:
        return None, [*faults, _open_quotation(source.file, len(rows) + 1)]
    for number, row in enumerate(rows, start=1):
        if len(row) > MOST_COLUMNS:
            return None, [*faults, _too_wide(source.file, number)]
    return {
        number: [unguarded(" ".join(cell.split())) for cell in row]
        for number, row in enumerate(rows, start=1)
    }, faults


def _prepare(text: str, shape: TableShape) -> tuple[str, str]:
    """Blank the comment lines above the header (numbers stay true); find the separator."""
    lines = text.split("\n")
    top, separator = separator_of(lines, shape)
    return "\n".join([*[""] * top, *lines[top:]]), separator


def separator_of(lines: Sequence[str], shape: TableShape) -> tuple[int, str]:
    """Return the place of the header, below blank lines and comments, and what divides cells."""
    for place, line in enumerate(lines):
        bare = line.strip().strip('"').lstrip()
        if bare and not bare.startswith("#") and not re.fullmatch(r"(?i)sep=.?", bare):
            return place, _separator(line, shape)
    return len(lines), ","


def _separator(header: str, shape: TableShape) -> str:
    def score(separator: str) -> tuple[int, int]:
        names = [column_name(cell.strip('"')) for cell in header.split(separator)]
        return sum(name in shape.columns for name in names), len(names)

    return max(SEPARATORS, key=score)


def _open_quotation(file: str, row: int) -> Fault:
    return Fault(
        where=Where(file=file, row=row),
        found="a quotation mark that is never closed",
        expected="quotation marks in pairs",
        repair="Close it, or remove it.",
    )


def _too_wide(file: str, row: int) -> Fault:
    return Fault(
        where=Where(file=file, row=row),
        found="a row that cannot be split into cells",
        expected=f"at most {MOST_COLUMNS} cells",
    )


def _xlsx_grid(source: Source, shape: TableShape) -> tuple[Grid | None, list[Fault]]:
    try:
        with warnings.catch_warnings():
            # openpyxl warns of drop-downs and the like that it will not write back; we only read.
            warnings.filterwarnings("ignore", module="openpyxl")
            values = _sheet(source.data, shape, data_only=True)
            written = _sheet(source.data, shape, data_only=False)
    except BROKEN_WORKBOOK:
        return None, [
            Fault(
                where=Where(file=source.file),
                found="a workbook that cannot be opened",
                expected="an .xlsx workbook without a password",
                repair="Save it again as .xlsx or as .csv; it may be cut short or protected.",
            )
        ]
    faults = [
        Fault(
            where=Where(file=source.file, row=row, column=column),
            found="a formula without a result",
            expected="a formula that was worked out, or a plain value",
            repair="Open the workbook in the spreadsheet program and save it again.",
        )
        for row, column in _formulas_without_value(values, written)
    ]
    return {number: [*map(_cell_text, row)] for number, row in values.items()}, faults


def _sheet(data: bytes, shape: TableShape, *, data_only: bool) -> dict[int, list[object]]:
    """Return the sheet called like the table, else the first: values, or formulas as written.

    Only rows that hold something are kept, by their number, each up to its last value. What the
    reader raises on a broken workbook is for the caller to tell.
    """
    # Loaded here, because a folder of CSV files has no need of it and it takes a while.
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data), read_only=True, data_only=data_only)
    sheets = book.worksheets
    names = [sheet.title.strip().casefold() for sheet in sheets]
    sheet = sheets[names.index(shape.stem) if shape.stem in names else 0]
    # What a workbook says of its own size is often wrong.
    sheet.reset_dimensions()
    rows: dict[int, list[object]] = {}
    for number, row in enumerate(sheet.iter_rows(), start=1):
        # A formula that failed (#N/A) or gave an empty text was worked out: not None, but empty.
        cells: list[object] = ["" if cell.data_type in ("e", "str") else cell.value for cell in row]
        while cells and cells[-1] is None:
            cells.pop()
        if cells:
            rows[number] = cells
    book.close()
    return rows


def _formulas_without_value(
    values: Mapping[int, Sequence[object]], written: Mapping[int, Sequence[object]]
) -> Iterator[tuple[int, str]]:
    """Find formulas that no spreadsheet program has worked out: they would read as empty."""
    from openpyxl.utils import get_column_letter

    for number, formulas in written.items():
        both = zip_longest(values.get(number, ()), formulas)
        for place, (value, formula) in enumerate(both, start=1):
            if value is None and formula is not None:
                yield number, f"column {get_column_letter(place)}"


def _cell_text(value: object) -> str:
    """Return a cell as text; dates in ISO form, numbers plainly, nothing for one left empty."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        text = str(int(value)) if value.is_integer() else f"{value:.10g}"
        # A number cell is no thousands mark: 1.125 must not be taken for 1125.
        return f"{text}0" if re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", text) else text
    return " ".join(str(value).split())


def column_name(header: str) -> str:
    """Return a header in the form of the known columns: ``Weight (g)`` is ``weight_g``."""
    return re.sub(r"[^0-9a-z%]+", "_", header.casefold()).strip("_")


def _rows(
    grid: Grid, source: Source, shape: TableShape
) -> tuple[tuple[Row, ...] | None, list[Fault]]:
    numbered = [(number, cells) for number, cells in grid.items() if any(cells)]
    if not numbered:
        return None, [
            Fault(
                where=Where(file=source.file),
                found="no rows",
                expected=f"a first row with the columns {', '.join(shape.required)}",
            )
        ]
    header_row, header = numbered[0]
    names = [column_name(cell) for cell in header]
    faults = _header_faults(names, header, Where(file=source.file, row=header_row), shape)
    if any(fault.severity is Severity.ERROR for fault in faults):
        return None, faults
    used = [name for name in names if name in shape.columns]
    rows = []
    for number, cells in numbered[1:]:
        named = zip_longest(names[: len(cells)], cells, fillvalue="")
        beyond = [cell for name, cell in named if cell and not name]
        if beyond:
            faults.append(_spilled_row(Where(file=source.file, row=number), beyond[0]))
        there = dict(zip(names, cells, strict=False))
        known = {name: there.get(name, "") for name in used}
        if any(known.values()):
            rows.append(Row(number, known))
    return tuple(rows), faults


def _spilled_row(where: Where, first: str) -> Fault:
    return Fault(
        where=where,
        found=f"{first!r} in a cell beyond the last named column",
        expected="one cell for each column",
        repair='A comma inside a text? Put the text in quotation marks: "Pastel, proven".',
    )


def _header_faults(
    names: list[str], header: list[str], where: Where, shape: TableShape
) -> list[Fault]:
    absent = [name for name in shape.columns if name not in names]
    unknown = [
        text for name, text in zip(names, header, strict=True) if name and name not in shape.columns
    ]
    faults = [
        Fault(
            where=where,
            found=f"two columns called {name}",
            expected="each column once",
            repair="Rename or remove one of them.",
        )
        for name, count in sorted(Counter(names).items())
        if count > 1 and name in shape.columns
    ]
    for name in shape.required:
        if name in absent:
            close = [text for text in unknown if likely_column(column_name(text), absent) == name]
            faults.append(
                Fault(
                    where=where,
                    found=f"no column {name}",
                    expected=f"the columns {', '.join(shape.required)}",
                    repair=f"Rename {close[0]!r} to {name!r}?" if close else "Add it.",
                )
            )
    if len(absent) == len(shape.columns):
        faults = [_no_header(where, shape)]
    if unknown:
        faults.append(_unknown_columns(unknown, absent, where))
    return faults


def _no_header(where: Where, shape: TableShape) -> Fault:
    return Fault(
        where=where,
        found="no header: none of the known columns",
        expected=f"the columns {', '.join(shape.required)}",
        repair="Is it your own workbook as it is? `brumal import BOOK --into FOLDER` reads it.",
    )


def _unknown_columns(unknown: list[str], absent: list[str], where: Where) -> Fault:
    """Tell once a file which columns are kept but not used; loudly where one looks misspelt."""
    hints = [likely_column(column_name(text), absent) for text in unknown]
    return Fault(
        where=where,
        found=f"columns that are not used: {', '.join(unknown)}",
        expected="the columns in the reference of files",
        repair=" ".join(
            f"{text!r}: did you mean {hint!r}?"
            for text, hint in zip(unknown, hints, strict=True)
            if hint
        ),
        severity=Severity.WARNING if any(hints) else Severity.NOTICE,
    )
