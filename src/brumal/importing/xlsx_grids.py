"""XLSX and XLSM workbooks as grids; formulas are never worked out, macros never read."""

from __future__ import annotations

import io
import warnings
from typing import Any

from brumal.importing.grids import Cell, Grid, Value, check_size
from brumal.records.files import Source

NO_COLOUR = {"", "00000000", "FFFFFFFF", "00FFFFFF"}


def grids_of_xlsx(source: Source) -> tuple[Grid, ...]:
    """Read every sheet; raises what openpyxl raises on a workbook that is none."""
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", module="openpyxl")
        written = load_workbook(io.BytesIO(source.data))
        stored = load_workbook(io.BytesIO(source.data), data_only=True)
    return tuple(
        _grid(source, sheet, stored[sheet.title])
        for sheet in written.worksheets  # charts have sheets of their own, without cells
    )


def _grid(source: Source, sheet: Any, stored: Any) -> Grid:
    check_size(source, len(sheet._cells))
    cells = {}
    for (row, column), found in sheet._cells.items():
        cell = _cell(found, stored._cells.get((row, column)))
        if cell or cell.fill or cell.strike:
            cells[row, column] = cell
    spans = {}
    for span in sheet.merged_cells.ranges:
        check_size(source, span.size["rows"] * span.size["columns"])
        for row in range(span.min_row, span.max_row + 1):
            for column in range(span.min_col, span.max_col + 1):
                spans[row, column] = (span.min_row, span.min_col)
    return Grid(
        file=source.file,
        sheet=sheet.title,
        cells=cells,
        hidden=sheet.sheet_state != "visible",
        hidden_rows=frozenset(row for row, facts in sheet.row_dimensions.items() if facts.hidden),
        spans=spans,
    )


def _cell(found: Any, stored: Any) -> Cell:
    value: Value = found.value
    formula = ""
    if found.data_type == "f":
        formula = str(getattr(value, "text", value))
        value = stored.value if stored is not None else None
    return Cell(
        row=found.row,
        column=found.column,
        value=_plain(value, getattr(found, "number_format", "")),
        formula=formula,
        unsaved=bool(formula) and value is None,
        strike=bool(found.font is not None and found.font.strike),
        fill=_fill(found),
    )


def _plain(value: Any, form: str) -> Value:
    if hasattr(value, "date") and callable(value.date):
        return value.date()  # type: ignore[no-any-return]
    if isinstance(value, int) and not isinstance(value, bool) and form in ("0.0", "0,0"):
        return f"{value:.1f}"
    return value  # type: ignore[no-any-return]


def _fill(found: Any) -> str:
    pattern = found.fill
    if pattern is None or not pattern.fill_type:
        return ""
    colour = pattern.fgColor
    if colour.type == "rgb":
        return "" if str(colour.rgb) in NO_COLOUR else str(colour.rgb)[-6:]
    return f"{colour.type} {colour.value} {colour.tint:.2f}"
