"""Sheets of a workbook as a spreadsheet program shows and prints them."""

from __future__ import annotations

import io
import math
import re
import zipfile
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date, datetime, time
from textwrap import wrap
from typing import TYPE_CHECKING
from unicodedata import east_asian_width

from brumal import __version__
from brumal.report.words import visible

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

Value = str | int | float | date | None
TEXT, WHOLE, TENTH, MONEY = "@", "0", "0.0", "#,##0.00"
SHARE, KIN, DAY = "0.0%", "0.0000", "yyyy-mm-dd"
SIDES = {TEXT: "left", DAY: "center"}
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "'")
FIXED_TIME = (1980, 1, 1, 0, 0, 0)
"""The time stamp of every part of the file: the earliest that the format knows."""

FONT, POINTS = "Arial", 10
LINE = 13.5
"""Height in points of a line of that font, with the air that programs leave."""
HIGHEST = 409.0
"""The greatest height of a row, in points, that the format knows."""
PORTRAIT = 98
"""Characters of that font across an upright A4 page: a wider sheet lies on its side."""
A4 = 9
MARGIN = 0.4
FOOT = 0.6
"""Margins of a page, in inches."""
CAUTION = "Figures are estimates. A licensed vet decides on health."


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, the number format of its cells, its least width in characters."""

    name: str
    form: str = TEXT
    width: float = 12


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet; the first ``frozen`` columns stay in view, as the heading does."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    frozen: int = 0


def workbook(sheets: Iterable[Sheet], title: str, day: date) -> bytes:
    """Return an ``.xlsx`` of the ``sheets``, dated ``day``: the same bytes for the same sheets."""
    # Loading the writer takes longer than most commands; only this one needs it.
    from openpyxl import Workbook
    from openpyxl.styles import Font

    book = Workbook()
    book.remove(book.worksheets[0])
    # Widths of columns are measured in this style's font; the writer has no other way to set it.
    book._named_styles["Normal"].font = Font(FONT, POINTS)  # type: ignore[attr-defined]
    for sheet in sheets:
        _write(book.create_sheet(sheet.title), sheet, visible(title))
    book.properties.creator = f"brumal {__version__}"
    book.properties.title = visible(title)
    book.properties.created = datetime.combine(day, time())
    out = io.BytesIO()
    book.save(out)
    return _without_clock(out.getvalue(), day)


def _write(page: Worksheet, sheet: Sheet, title: str) -> None:
    from openpyxl.utils import get_column_letter

    page.freeze_panes = f"{get_column_letter(sheet.frozen + 1)}2"
    widths = [_width(column, place, sheet) for place, column in enumerate(sheet.columns)]
    for place, width in enumerate(widths, start=1):
        page.column_dimensions[get_column_letter(place)].width = width
    rows = [[_cell(page, column.name, TEXT) for column in sheet.columns]]
    for row in sheet.rows:
        rows.append([_cell(page, v, c.form) for c, v in zip(sheet.columns, row, strict=True)])
    _style(rows, sheet.columns)
    for number, cells in enumerate(rows, start=1):
        page.append(cells)
        texts = [str(cell.value) if cell.data_type == "s" else "" for cell in cells]
        lines = max(_lines(text, width) for text, width in zip(texts, widths, strict=True))
        page.row_dimensions[number].height = min(HIGHEST, LINE * lines)
    _set_page(page, title, lying=sum(widths) > PORTRAIT)


def _style(rows: Sequence[Sequence[Cell]], columns: Sequence[Column]) -> None:
    """Wrap every cell and line the rows; the first one is the heading.

    Cells of one look share its style: looking each up anew takes longer than all the rest.
    """
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    plain, bold = Font(FONT, POINTS), Font(FONT, POINTS, bold=True)
    shade, line = PatternFill("solid", "EEEEEE"), Border(bottom=Side("thin", "CCCCCC"))
    sides = [SIDES.get(column.form, "right") for column in columns]
    looks: dict[tuple[str, str, bool], Cell] = {}
    for row in rows:
        for cell, side in zip(row, sides, strict=True):
            like = looks.setdefault((side, cell.number_format, cell.quotePrefix), cell)
            if like is not cell:
                cell._style = copy(like._style)  # type: ignore[attr-defined]
                continue
            cell.font, cell.border = plain, line
            cell.alignment = Alignment(side, "top", wrap_text=True)
    for cell in rows[0]:
        cell.font, cell.fill = bold, shade


def _set_page(page: Worksheet, title: str, lying: bool) -> None:
    """Fit a sheet to the width of A4 paper, its heading on each page."""
    from openpyxl.worksheet.header_footer import HeaderFooterItem, _HeaderFooterPart
    from openpyxl.worksheet.page import PageMargins
    from openpyxl.worksheet.properties import PageSetupProperties

    page.set_printer_settings(A4, "landscape" if lying else "portrait")
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.page_margins = PageMargins(MARGIN, MARGIN, MARGIN, FOOT, FOOT / 2, FOOT / 2)
    page.print_title_rows = "1:1"
    names = f"{title[:80]}: {page.title}. {CAUTION}".replace("&", "&&")
    left, right = (_HeaderFooterPart(text, size=10) for text in (names, "&P of &N"))
    page.HeaderFooter.oddFooter = HeaderFooterItem(left, right)


def _width(column: Column, place: int, sheet: Sheet) -> float:
    """Return a column's width in characters: no number and no word of its heading is cut."""
    numbers = [len(_shown(row[place], column.form)) + 1 for row in sheet.rows]
    return max(column.width, *(1.1 * len(word) + 1 for word in column.name.split()), *numbers)


def _shown(value: Value, form: str) -> str:
    """Return a number as its cell shows it; texts are wrapped and need no room."""
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, str):
        return ""
    if form == SHARE:
        return f"{value:.1%}"
    decimals = len(form.partition(".")[2])
    return f"{value:,.{decimals}f}"


def _lines(text: str, width: float) -> int:
    """Return how many lines a text takes in a column, rather one too many than one too few."""
    room = max(1, math.floor(width))
    return sum(
        len(wrap(_by_room(part), room, break_on_hyphens=False)) or 1
        for part in text.split("\n") or [""]
    )


def _by_room(text: str) -> str:
    """Return a text as many characters long as it is wide: some scripts take twice the room."""
    return "".join(c * 2 if east_asian_width(c) in "WF" else c for c in text)


def _cell(page: Worksheet, value: Value, form: str) -> Cell:
    """Return a cell; a text is stored as text, whatever it begins with."""
    from openpyxl.cell.cell import WriteOnlyCell

    cell: Cell = WriteOnlyCell(page)
    if value is None or value == "":
        return cell
    cell.number_format = form
    if not isinstance(value, str):
        cell.value = value
        return cell
    text = visible(value)
    cell.value = text
    cell.data_type = "s"
    if text.lstrip().startswith(FORMULA_STARTS):
        # The mark that a typed apostrophe leaves: the cell stays text when it is edited.
        cell.quotePrefix = True
    return cell


def _without_clock(content: bytes, day: date) -> bytes:
    """Return the file with fixed time stamps: the writer puts the present time into it."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(out, "w") as target:
        for name in sorted(source.namelist(), key=_part_order):
            part = source.read(name)
            if name == "docProps/core.xml":
                part = re.sub(
                    rb"(<dcterms:modified[^>]*>)[^<]*", rf"\g<1>{day}T00:00:00Z".encode(), part
                )
            info = zipfile.ZipInfo(name, FIXED_TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(info, part)
    return out.getvalue()


def _part_order(name: str) -> tuple[bool, str]:
    """Put the list of content types first, where programs look for it."""
    return name != "[Content_Types].xml", name
