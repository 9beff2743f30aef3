"""What every step of an import shares: the day, the questions, and how a column is settled."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from brumal.genetics.catalogue.genes import Catalogue
from brumal.importing.dates import (
    DateColumn,
    Doubt,
    Order,
    date_in,
    read_date,
    settle_column,
)
from brumal.importing.grids import Cell, Grid
from brumal.importing.questions import Asker
from brumal.importing.tables import Column, Table
from brumal.importing.weights import (
    GRAMS,
    LEAST_G,
    MOST_G,
    WeightColumn,
    WeightDoubt,
    grams_in,
    settle_unit,
    unit_of,
)

ORDERS = {"day first": Order.DAY, "month first": Order.MONTH}
_DOUBTS = {
    Doubt.CONTRARY: "A date of the other order than the rest of its column. Which day is meant?",
    Doubt.UNCLEAR: "Not to be read as one date. Which is it?",
    Doubt.FUTURE: "A date still to come. Which is it?",
    Doubt.SUSPECT: "Dates that a spreadsheet may have read with day and month changed over: those "
    "beside them that it could not read stand as text. Which days are meant?",
}
_WEIGHT_DOUBTS = {
    WeightDoubt.UNCLEAR: "Not to be read as one weight. How many grams?",
    WeightDoubt.RANGE: "No weight of a ball python, or not in this unit. How many grams?",
    WeightDoubt.UNSAVED: "A formula without a stored result; formulas are not worked out here. "
    "How many grams? Or open the book in the spreadsheet program and save it.",
    WeightDoubt.UNIT: "Weights without a unit, that may be grams or another. Which unit?",
}


@dataclass(slots=True, kw_only=True)
class Study:
    """The state of one import: ``notes`` are told to the keeper and need no answer."""

    on: date
    asker: Asker
    catalogue: Catalogue
    tables: Sequence[Table] = ()
    other_units: bool = False
    told: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    cards: dict[str, list[Cell]] = field(default_factory=dict)
    orders: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    _dates: dict[tuple[str, str, int, str], DateColumn] = field(default_factory=dict)
    _units: dict[tuple[str, str, int, str], WeightColumn] = field(default_factory=dict)

    def beside(self, grid: Grid, column: Column) -> list[Cell]:
        """Return the cells of a column in every table of its sheet that has it under one field."""
        return [
            cell
            for table in self.tables
            if table.grid is grid
            for other in table.columns
            if other.number == column.number and other.field == column.field
            for cell in table.down(other)
        ]

    def beside_cards(self, name: str) -> list[Cell]:
        """Return the cells of a field on every card of the book."""
        return self.cards.get(name, [])

    def is_of_dates(self, grid: Grid, column: Column) -> bool:
        """Say whether half of a column's cells or more are dates."""
        cells = self.beside(grid, column)
        readings = [read_date(cell) for cell in cells]
        return 2 * sum(not each.unclear for each in readings) >= len(readings)

    def date_column(
        self, grid: Grid, column: Column, about: str, cells: Iterable[Cell] | None = None
    ) -> DateColumn:
        """Settle the order of a column of dates once, from all its cells."""
        place = (grid.file, grid.sheet, column.number, column.field)
        if place not in self._dates:
            found = list(cells) if cells is not None else self.beside(grid, column)
            told = self.told.get(f"{grid.sheet}/{column.heading}", {}).get("dates", "")
            settled = settle_column(found, ORDERS.get(told))
            open_cells = [c for c in found if date_in(c, settled, self.on)[1] is Doubt.ORDER]
            if open_cells:
                settled = self._ask_order(grid, column, about, open_cells, settled)
            if settled.order is not None:
                self.orders[f"{grid.sheet}/{column.heading}"] = settled.order.value
            self._dates[place] = settled
        return self._dates[place]

    def _ask_order(
        self, grid: Grid, column: Column, about: str, cells: list[Cell], settled: DateColumn
    ) -> DateColumn:
        answer = ""
        for cell in cells:
            answer = self.asker.ask(
                "order",
                about,
                grid,
                [cell],
                item=cell.place,
                column=column.heading,
                text=f"Is the day or the month first in the column {column.heading!r}? "
                + (
                    "Its cells are of both kinds."
                    if settled.mixed
                    else "No cell of it has a number above 12 that would tell."
                ),
                until="left out" if about == "weight" else "left blank",
                choices=tuple(ORDERS),
            )
        return DateColumn(order=ORDERS[answer]) if answer in ORDERS else settled

    def date(
        self,
        grid: Grid,
        column: Column,
        cell: Cell,
        *,
        item: str,
        about: str,
        cells: Iterable[Cell] | None = None,
    ) -> str:
        """Return the date of a cell, empty where it is blank or asked about."""
        settled = self.date_column(grid, column, about, cells)
        found, doubt = date_in(cell, settled, self.on)
        if doubt is None or doubt is Doubt.ORDER:
            return found
        if cell.unsaved:
            doubt = Doubt.UNCLEAR
        answer = self.asker.ask(
            f"date {doubt}",
            about,
            grid,
            [cell],
            item=item,
            column=column.heading,
            text=_DOUBTS[doubt],
            until="left out" if about == "weight" else "left blank",
            choices=_readings(cell),
        )
        return self.use(about, item, answer, _as_date)

    def use(self, about: str, item: str, answer: str, read: Callable[[str], str]) -> str:
        """Return an answer as read, and note one that cannot be used."""
        if not answer:
            return ""
        found = read(answer)
        if not found:
            self.asker.reject(about, item, answer)
        return found

    def weight_column(self, grid: Grid, column: Column, title: str = "") -> WeightColumn:
        """Settle the unit of a column of weights once."""
        place = (grid.file, grid.sheet, column.number, column.field)
        if place not in self._units:
            told = self.told.get(f"{grid.sheet}/{column.heading}", {}).get("unit", "")
            stated = told if told in GRAMS else column.unit or unit_of(title)
            settled = settle_unit(self.beside(grid, column), stated, self.other_units)
            if settled.unit:
                self.units[f"{grid.sheet}/{column.heading}"] = settled.unit
            self._units[place] = settled
        return self._units[place]

    def grams(
        self,
        grid: Grid,
        column: Column,
        cell: Cell,
        *,
        item: str,
        about: str,
        title: str = "",
    ) -> tuple[float | None, str]:
        """Return the grams of a cell and the remark in it; ``None`` where blank or asked about."""
        settled = self.weight_column(grid, column, title)
        grams, remark, doubt = grams_in(cell, settled)
        if doubt is None:
            return grams, remark
        answer = self.asker.ask(
            f"weight {doubt}",
            about,
            grid,
            [cell],
            item=item,
            column=column.heading,
            text=_WEIGHT_DOUBTS[doubt],
            until="left out" if about == "weight" else "left blank",
            choices=tuple(GRAMS) if doubt is WeightDoubt.UNIT else (),
        )
        if answer in GRAMS and doubt is WeightDoubt.UNIT:
            return grams_in(cell, WeightColumn(unit=answer))[0], remark
        read = self.use(about, item, answer, as_grams)
        return (float(read) if read else None), remark


def as_grams(answer: str) -> str:
    """Read an answer in grams; empty where it is none."""
    try:
        grams = float(answer.removesuffix("g").strip().replace(",", "."))
    except ValueError:
        return ""
    return f"{grams:.10g}" if LEAST_G <= grams <= MOST_G else ""


def _as_date(answer: str) -> str:
    return read_date(Cell(row=1, column=1, value=answer)).sure


def full_day(answer: str) -> str:
    """Read an answer as a full day; empty where it is none."""
    found = _as_date(answer)
    return found if len(found) == 10 else ""


def _readings(cell: Cell) -> tuple[str, ...]:
    reading = read_date(cell)
    found = (reading.sure, reading.day_first, reading.month_first)
    return tuple(each for each in found if each)
