"""Prices: lists by morph for the coming season, and what is asked for single animals."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from brumal.importing.columns import currency_in
from brumal.importing.grids import Cell, Grid
from brumal.importing.morphs import morph_text
from brumal.importing.study import Study
from brumal.importing.tables import Column, Table
from brumal.importing.words import is_not_known, words

_FIGURE = re.compile(r"\d[\d.,' \u00a0\u202f]*")
SIDES = {"price": "", "value female": "female", "value male": "male"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What a hatchling of a morph is worth: one ``value`` for both sexes, or one for each."""

    morph: str
    value: str = ""
    female: str = ""
    male: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookPrices:
    """The prices for the season, and the currency they name (empty where none)."""

    prices: tuple[Price, ...] = ()
    currency: str = ""


def amount_in(cell: Cell) -> str:
    """Return the one figure of a cell of prices; empty where there is none or more than one."""
    if isinstance(cell.value, (int, float)) and not isinstance(cell.value, bool):
        return f"{cell.value:.10g}" if cell.value >= 0 else ""
    figures = _FIGURE.findall(cell.text)
    if len(figures) != 1:
        return ""
    bare = re.sub(r"[' \u00a0\u202f]", "", figures[0]).rstrip(".,")
    if re.fullmatch(r"\d{1,3}([.,]\d{3})+", bare):
        bare = re.sub(r"[.,]", "", bare)
    return bare.replace(",", ".") if re.fullmatch(r"\d+([.,]\d{1,2})?", bare) else ""


def price_lists(study: Study, tables: Sequence[Table]) -> BookPrices:
    """Read the newest of the lists by morph; older ones beside it are told and left aside."""
    newest = max((_year(table) for table in tables), default=0)
    found: dict[str, Price] = {}
    clashes: set[str] = set()
    currency = ""
    for table in tables:
        if _year(table) < newest:
            study.notes.append(f"{table.title or table.grid.sheet}: an older price list, not used.")
            continue
        around = f"{table.title} {table.grid.sheet} {' '.join(c.heading for c in table.columns)}"
        currency = currency or currency_in(around)
        for price, row in _prices(study, table):
            other = found.setdefault(price.morph, price)
            if other != price:
                clashes.add(price.morph)
                _ask(study, table.grid, table.cells(row), price.morph, "Two prices of one morph.")
    return BookPrices(
        prices=tuple(price for morph, price in found.items() if morph not in clashes),
        currency=currency,
    )


def _year(table: Table) -> int:
    years = re.findall(r"\b20\d\d\b", f"{table.title} {table.grid.sheet}")
    return max(map(int, years), default=0)


def _prices(study: Study, table: Table) -> list[tuple[Price, int]]:
    found = []
    for row in table.rows:
        name = table.cell(row, "morph")
        if name is None:
            continue
        morph = morph_text(name.text, study.catalogue)
        if not morph:
            answer = _ask(
                study, table.grid, [name], name.text, "Morphs of the price list not understood."
            )
            morph = morph_text(answer, study.catalogue) if answer else ""
        values = {
            side: _value(study, table, column, row, name.text)
            for field_, side in SIDES.items()
            for column in table.of(field_)[:1]
        }
        if morph and any(values.values()):
            found.append((_price(morph, values), row))
    return found


def _price(morph: str, values: dict[str, str]) -> Price:
    female, male = values.get("female", ""), values.get("male", "")
    if female and male:
        return Price(morph=morph, female=female, male=male)
    return Price(morph=morph, value=values.get("", "") or female or male)


def _value(study: Study, table: Table, column: Column, row: int, morph: str) -> str:
    cell = table.grid.at(row, column.number)
    if not cell or is_not_known(cell.text):
        return ""
    return amount_in(cell) or _ask(
        study, table.grid, [cell], morph, "Not read as one price. What is it worth?"
    )


def _ask(study: Study, grid: Grid, cells: list[Cell], item: str, text: str) -> str:
    answer = study.asker.ask(
        text.split(".")[0], "price", grid, cells, item=item, text=text, until="left out"
    )
    return study.use("price", item, answer, str)


def asked_for(study: Study, grid: Grid, cell: Cell, item: str, column: str) -> str:
    """Return the asking price of one animal; a word in its place is no price."""
    if is_not_known(cell.text) or not re.search(r"\d", cell.text):
        return ""
    found = amount_in(cell)
    if found:
        return found
    return study.asker.ask(
        "two figures",
        "price",
        grid,
        [cell],
        item=item,
        column=column,
        text="More than one figure in the price. Which is asked?",
        until="left out",
        choices=tuple(figure.strip() for figure in _FIGURE.findall(cell.text)),
    )


def limits_in(grids: Sequence[Grid]) -> dict[str, str]:
    """Return the room that a sheet of settings states: boxes and tubs, as whole numbers."""
    found: dict[str, str] = {}
    for grid in grids:
        if grid.hidden:
            continue
        for row, cells in grid.rows():
            for cell in cells:
                limit = words().limits.get(" ".join(cell.text.casefold().strip(":").split()), "")
                beside = grid.at(row, cell.column + 1)
                if limit and isinstance(beside.value, int) and beside.value > 0:
                    found.setdefault(limit, str(beside.value))
                elif limit and beside.text.isdigit() and int(beside.text) > 0:
                    found.setdefault(limit, beside.text)
    return found
