"""CSV files as grids: the separator is the one that splits the rows alike."""

from __future__ import annotations

import csv
import io
from collections import Counter

from brumal.importing.grids import Cell, Grid, check_size
from brumal.records.faults import InputError
from brumal.records.files import Source, decode
from brumal.records.tables import SEPARATORS


def grid_of_text(source: Source) -> Grid:
    """Read a CSV file; raises :class:`InputError` where it is no text."""
    text, faults = decode(source)
    if text is None:
        raise InputError(faults)
    csv.field_size_limit(max(csv.field_size_limit(), len(text)))
    rows = list(csv.reader(io.StringIO(text), delimiter=_separator(text)))
    check_size(source, sum(map(len, rows)))
    cells = {
        (row, column): Cell(row=row, column=column, value=value)
        for row, line in enumerate(rows, start=1)
        for column, value in enumerate(line, start=1)
        if value.strip()
    }
    return Grid(file=source.file, sheet=source.file, cells=cells)


def _separator(text: str) -> str:
    """Return the separator that gives the most lines of one width of two cells or more."""

    def score(separator: str) -> tuple[int, int]:
        rows = list(csv.reader(io.StringIO(text), delimiter=separator))
        widths = Counter(len(row) for row in rows if len(row) > 1)
        width, lines = max(widths.items(), key=lambda each: each[1], default=(1, 0))
        return lines, width

    return max(SEPARATORS, key=score)
