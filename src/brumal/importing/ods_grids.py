"""ODS workbooks as grids, read from their XML; entities were refused before."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from xml.etree import ElementTree as Xml

from brumal.importing.grids import Cell, Grid, Value, check_size
from brumal.records.files import Source

_NS = "urn:oasis:names:tc:opendocument:xmlns:"
TABLE, OFFICE, TEXT = f"{{{_NS}table:1.0}}", f"{{{_NS}office:1.0}}", f"{{{_NS}text:1.0}}"
STYLE, FO = f"{{{_NS}style:1.0}}", f"{{{_NS}xsl-fo-compatible:1.0}}"
FARTHEST = 20_000
_STRUCK = (f"{STYLE}text-line-through-style", f"{STYLE}text-line-through-type")


@dataclass(frozen=True, slots=True)
class _Look:
    strike: bool = False
    fill: str = ""
    shown: bool = True


@dataclass(slots=True)
class _Sheet:
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    spans: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)


def grids_of_ods(source: Source) -> tuple[Grid, ...]:
    """Read every sheet; raises what the ZIP and XML readers raise on a broken workbook."""
    with zipfile.ZipFile(io.BytesIO(source.data)) as package:
        root = Xml.fromstring(package.read("content.xml"))  # noqa: S314
    looks = {each.get(f"{STYLE}name", ""): _look(each) for each in root.iter(f"{STYLE}style")}
    return tuple(_grid(source, table, looks) for table in root.iter(f"{TABLE}table"))


def _look(style: Xml.Element) -> _Look:
    strike, fill, shown = False, "", True
    for facts in style:
        strike = strike or any(facts.get(key, "none") != "none" for key in _STRUCK)
        colour = facts.get(f"{FO}background-color", "transparent")
        if facts.tag == f"{STYLE}table-cell-properties" and colour not in (
            "transparent",
            "#ffffff",
        ):
            fill = colour.lstrip("#").upper()
        shown = shown and facts.get(f"{TABLE}display", "true") != "false"
    return _Look(strike, fill, shown)


def _grid(source: Source, table: Xml.Element, looks: Mapping[str, _Look]) -> Grid:
    sheet = _Sheet()
    number = 1
    for row, times in _rows(table):
        holds = any(_is_filled(each) for each in row)
        for _ in range(min(times, FARTHEST) if holds else 1):
            _read_row(sheet, row, number, looks)
            number += 1 if holds else times
        check_size(source, len(sheet.cells))
    look = looks.get(table.get(f"{TABLE}style-name", ""), _Look())
    return Grid(
        file=source.file,
        sheet=table.get(f"{TABLE}name", ""),
        cells=sheet.cells,
        hidden=not look.shown,
        hidden_rows=frozenset(sheet.hidden_rows),
        spans=sheet.spans,
    )


def _rows(node: Xml.Element) -> Iterator[tuple[Xml.Element, int]]:
    """Yield the rows, those in groups and heading rows among them, with how often each stands."""
    for child in node:
        if child.tag == f"{TABLE}table-row":
            yield child, int(child.get(f"{TABLE}number-rows-repeated", "1"))
        elif child.tag in (
            f"{TABLE}table-rows",
            f"{TABLE}table-header-rows",
            f"{TABLE}table-row-group",
        ):
            yield from _rows(child)


def _is_filled(cell: Xml.Element) -> bool:
    return cell.get(f"{OFFICE}value-type") is not None or cell.get(f"{TABLE}formula") is not None


def _read_row(sheet: _Sheet, row: Xml.Element, number: int, looks: Mapping[str, _Look]) -> None:
    if row.get(f"{TABLE}visibility", "visible") != "visible":
        sheet.hidden_rows.add(number)
    column = 1
    for each in row:
        times = int(each.get(f"{TABLE}number-columns-repeated", "1"))
        look = looks.get(each.get(f"{TABLE}style-name", ""), _Look())
        filled = _is_filled(each)
        if filled or (look.fill and times < FARTHEST):
            for place in range(column, column + min(times, FARTHEST)):
                sheet.cells[number, place] = _cell(each, number, place, look)
        _note_span(sheet, each, number, column)
        column += times


def _note_span(sheet: _Sheet, cell: Xml.Element, row: int, column: int) -> None:
    down = min(int(cell.get(f"{TABLE}number-rows-spanned", "1")), FARTHEST)
    across = min(int(cell.get(f"{TABLE}number-columns-spanned", "1")), FARTHEST)
    if down * across > 1:
        for below in range(row, row + down):
            for beside in range(column, column + across):
                sheet.spans[below, beside] = (row, column)


def _cell(cell: Xml.Element, row: int, column: int, look: _Look) -> Cell:
    formula = cell.get(f"{TABLE}formula", "")
    value = _value(cell)
    return Cell(
        row=row,
        column=column,
        value=value,
        formula=formula,
        unsaved=bool(formula) and value is None,
        strike=look.strike,
        fill=look.fill,
    )


def _value(cell: Xml.Element) -> Value:
    kind = cell.get(f"{OFFICE}value-type", "")
    if kind == "date":
        return date.fromisoformat(cell.get(f"{OFFICE}date-value", "")[:10])
    if kind in ("float", "currency", "percentage"):
        number = float(cell.get(f"{OFFICE}value", "nan"))
        shown = _text(cell)
        if shown in ("1.0", "1,0", "0.1", "0,1"):
            return shown
        return int(number) if number == int(number) else number
    return _text(cell) or None


def _text(cell: Xml.Element) -> str:
    return "\n".join("".join(_parts(part)) for part in cell if part.tag in (f"{TEXT}p", f"{TEXT}h"))


def _parts(node: Xml.Element) -> Iterator[str]:
    """Yield the text of a paragraph; runs of spaces and line breaks have elements of their own."""
    yield node.text or ""
    for child in node:
        if child.tag == f"{TEXT}s":
            yield " " * int(child.get(f"{TEXT}c", "1"))
        elif child.tag in (f"{TEXT}tab", f"{TEXT}line-break"):
            yield " "
        elif child.tag != f"{OFFICE}annotation":
            yield from _parts(child)
        yield child.tail or ""
