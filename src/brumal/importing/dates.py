"""Dates as keepers write them; the order of day and month is settled once a column.

A day is written ``2022-03-14``, a month ``2022-03``, a year ``2022``: never more exactly than the
keeper wrote it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from brumal.importing.grids import Cell
from brumal.importing.words import is_not_known, plain, words

DAY_ZERO = date(1899, 12, 30)
EARLIEST, LATEST = 1980, 2100
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})(?:[-/.](\d{1,2})(?:[T ]\d.*)?)?")
_MIXED = re.compile(r"(\d{1,2})\s*([-/.])\s*(\d{1,2})\s*[-/.]\s*(\d{4}|\d{2})\.?")
_MONTH_YEAR = re.compile(r"(\d{1,2})\s*[-/.]\s*(\d{4}|\d{2})")
_LOST_NOUGHT = re.compile(r"(\d{1,2})[.,](20\d)")
_NAMED_DAY = re.compile(r"(\d{1,2})\s+([a-z]+)\s+(\d{4}|\d{2})")
_DAY_NAMED = re.compile(r"([a-z]+)\s+(\d{1,2})\s+(\d{4})")
_NAMED_MONTH = re.compile(r"([a-z]+)\s+(\d{4})")


class Order(StrEnum):
    """Which of day and month comes first."""

    DAY = "day first"
    MONTH = "month first"


@dataclass(frozen=True, slots=True, kw_only=True)
class DateReading:
    """What one cell may mean.

    ``sure`` is the date whatever the order; ``day_first`` and ``month_first`` are the readings in
    either order, empty where there is no such day. With none of the three the cell is unclear, or
    ``blank``: it says nothing. ``stored`` is a true date of the workbook.
    """

    sure: str = ""
    day_first: str = ""
    month_first: str = ""
    blank: bool = False
    stored: bool = False

    @property
    def order(self) -> Order | None:
        """Return the one order that this cell allows, ``None`` where both or neither."""
        if bool(self.day_first) == bool(self.month_first):
            return None
        return Order.DAY if self.day_first else Order.MONTH

    @property
    def unclear(self) -> bool:
        """Say whether the cell holds something that is no date."""
        return not (self.sure or self.day_first or self.month_first or self.blank)


def read_date(cell: Cell) -> DateReading:
    """Read one cell by itself."""
    value = cell.value
    if isinstance(value, date):
        return DateReading(sure=value.isoformat(), stored=True)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _number(value)
    text = cell.text
    if is_not_known(text):
        return DateReading(blank=True)
    if re.fullmatch(r"\d{4,5}", text):
        return _number(int(text))
    if match := _ISO.fullmatch(text):
        return DateReading(sure=_iso(int(match[1]), int(match[2]), match[3] and int(match[3])))
    return _slashed(text) or _named(text)


def _number(value: float) -> DateReading:
    if value == int(value) and EARLIEST <= value <= LATEST:
        return DateReading(sure=str(int(value)))
    if value == int(value) and 29_000 <= value <= 73_000:
        return DateReading(sure=(DAY_ZERO + timedelta(days=int(value))).isoformat())
    if match := _LOST_NOUGHT.fullmatch(f"{value:.10g}"):
        return DateReading(sure=_iso(int(match[2]) * 10, int(match[1])))
    return DateReading()


def _slashed(text: str) -> DateReading | None:
    if match := _MIXED.fullmatch(text):
        first, second, year = int(match[1]), int(match[3]), _year(match[4])
        by_day, by_month = _iso(year, second, first), _iso(year, first, second)
        # Written with points (14.7.2018), the day comes first everywhere.
        if match[2] == "." or (by_day and by_day == by_month):
            return DateReading(sure=by_day)
        return DateReading(day_first=by_day, month_first=by_month)
    if match := _LOST_NOUGHT.fullmatch(text):
        return DateReading(sure=_iso(int(match[2]) * 10, int(match[1])))
    if match := _MONTH_YEAR.fullmatch(text):
        return _month_year(int(match[1]), match[2])
    return None


def _month_year(month: int, year: str) -> DateReading:
    """Read ``05/22`` as May 2022; ``05/06`` might be a day of a year that is left out."""
    short = len(year) == 2 and int(year) <= 12
    return DateReading() if short else DateReading(sure=_iso(_year(year), month))


def _named(text: str) -> DateReading:
    bare = re.sub(r"(\d)(st|nd|rd|th)\b", r"\1", plain(text))
    months, seasons = words().months, words().lists["seasons"]
    if (match := _NAMED_DAY.fullmatch(bare)) and match[2] in months:
        return DateReading(sure=_iso(_year(match[3]), months[match[2]], int(match[1])))
    if (match := _DAY_NAMED.fullmatch(bare)) and match[1] in months:
        return DateReading(sure=_iso(int(match[3]), months[match[1]], int(match[2])))
    if match := _NAMED_MONTH.fullmatch(bare):
        if match[1] in months:
            return DateReading(sure=_iso(int(match[2]), months[match[1]]))
        if match[1] in seasons and "~" not in text:
            # A winter may have begun in the year before.
            winter = match[1].startswith(("win", "inv", "hiv", "zim"))
            return DateReading(sure="" if winter else match[2])
    return DateReading()


def _year(text: str) -> int:
    year = int(text)
    return year if len(text) == 4 else 2000 + year if year < 70 else 1900 + year


def _iso(year: int, month: int, day: int | str | None = None) -> str:
    try:
        found = date(year, month, int(day) if day else 1)
    except ValueError:
        return ""
    if not EARLIEST <= year <= LATEST:
        return ""
    return found.isoformat() if day else found.isoformat()[:7]


@dataclass(frozen=True, slots=True, kw_only=True)
class DateColumn:
    """How a column's dates are read.

    ``order`` is the order told by its own cells or by the keeper; ``mixed`` says that cells of the
    other order stand among them, so that a cell that allows both is for the keeper to say;
    ``suspect`` that stored dates stand beside texts that a program could not take as dates in the
    order that it read the stored ones by: those may have day and month changed over.
    """

    order: Order | None = None
    mixed: bool = False
    suspect: bool = False


def settle_column(cells: Iterable[Cell], told: Order | None = None) -> DateColumn:
    """Settle the order of a column from all its cells; what the keeper told goes before."""
    readings = [read_date(cell) for cell in cells]
    if told is not None:
        return DateColumn(order=told)
    orders = [order for reading in readings if (order := reading.order) is not None]
    by_day, by_month = orders.count(Order.DAY), orders.count(Order.MONTH)
    stored = [date.fromisoformat(each.sure) for each in readings if each.stored]
    suspect = (
        bool(orders)
        and not any(each.day_first and each.month_first for each in readings)
        and bool(stored)
        and all(day.day <= 12 for day in stored)
        and any(day.day != day.month for day in stored)
    )
    order = None
    if by_day != by_month:
        order = Order.DAY if by_day > by_month else Order.MONTH
    return DateColumn(order=order, mixed=bool(by_day and by_month), suspect=suspect)


class Doubt(StrEnum):
    """Why a date is for the keeper to say."""

    ORDER = "order"
    CONTRARY = "contrary"
    UNCLEAR = "unclear"
    FUTURE = "future"
    SUSPECT = "suspect"


def date_in(cell: Cell, column: DateColumn, on: date) -> tuple[str, Doubt | None]:
    """Return the date of a cell in its column, or why it is not known; both empty where blank."""
    reading = read_date(cell)
    if reading.blank:
        return "", None
    if reading.unclear:
        return "", Doubt.UNCLEAR
    found, doubt = reading.sure, None
    if not found:
        found, doubt = _ordered(reading, column)
    elif reading.stored and column.suspect and found[8:] != found[5:7]:
        doubt = Doubt.SUSPECT
    if doubt is None and found > on.isoformat()[: len(found)]:
        doubt = Doubt.FUTURE
    return ("", doubt) if doubt else (found, None)


def _ordered(reading: DateReading, column: DateColumn) -> tuple[str, Doubt | None]:
    both = reading.day_first and reading.month_first
    if column.order is None or (both and column.mixed):
        return "", Doubt.ORDER
    found = reading.day_first if column.order is Order.DAY else reading.month_first
    return (found, None) if found else ("", Doubt.CONTRARY)
