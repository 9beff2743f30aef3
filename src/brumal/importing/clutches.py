"""Clutches of earlier seasons, as far as they stand in a table."""

from __future__ import annotations

from brumal.importing.grids import Cell
from brumal.importing.parents import is_pair, one_parent, pair_in
from brumal.importing.register import Register
from brumal.importing.study import Study
from brumal.importing.tables import Column, Table
from brumal.importing.words import counts_of, is_not_known, is_total

COUNTS = ("eggs", "slugs", "hatched")


def of_table(
    study: Study, table: Table, register: Register, sexes: dict[str, str]
) -> list[dict[str, str]]:
    """Return the clutches of a table as they are written, text by column."""
    found = []
    for row in table.rows:
        cells = table.cells(row)
        clutch = _clutch(study, table, row, register, sexes)
        if clutch["dam"]:
            found.append(clutch)
        elif not is_total(cells[0].text):
            answer = study.asker.ask(
                "no dam",
                "clutch",
                table.grid,
                cells,
                item=f"row {row}",
                text="Clutches without a dam that is sure. Whose are they?",
                until="left out",
            )
            raw = register.exactly(answer) if answer else None
            if raw is not None:
                found.append(clutch | {"dam": raw.key})
    return found


def _clutch(
    study: Study, table: Table, row: int, register: Register, sexes: dict[str, str]
) -> dict[str, str]:
    grid = table.grid
    clutch = dict.fromkeys(("dam", "sire", "laid", "eggs", "slugs", "hatched", "note"), "")
    item = f"row {row}"
    laid_column, laid_cell = _pair_of(table, row, "laid")
    if laid_column is not None and laid_cell is not None:
        item = laid_cell.text
        day = study.date(grid, laid_column, laid_cell, item=f"row {row}", about="laid")
        clutch["laid"] = day if len(day) == 10 else ""
        if day and len(day) < 10:
            clutch["note"] = f"laid {day}"
    _parents(study, table, row, register, sexes, clutch)
    _counts(study, table, row, clutch, f"{clutch['dam']} {item}")
    notes = [cell.text for column in table.of("notes") if (cell := grid.at(row, column.number))]
    clutch["note"] = "; ".join([*filter(None, [clutch["note"]]), *notes])
    return clutch


def _pair_of(table: Table, row: int, name: str) -> tuple[Column | None, Cell | None]:
    for column in table.of(name):
        cell = table.grid.at(row, column.number)
        if cell:
            return column, cell
    return None, None


def _parents(
    study: Study,
    table: Table,
    row: int,
    register: Register,
    sexes: dict[str, str],
    clutch: dict[str, str],
) -> None:
    for role in ("dam", "sire"):
        column, cell = _pair_of(table, row, role)
        if column is not None and cell is not None:
            clutch[role] = one_parent(
                study, register, register.find(cell.text), role=role, grid=table.grid,
                cells=[cell], item=f"row {row}", column=column.heading, sexes=sexes,
            )  # fmt: skip
    column, cell = _pair_of(table, row, "parents")
    if column is None or cell is None or clutch["dam"] or not is_pair(cell.text):
        return
    pair = pair_in(cell.text, register, sexes)
    for role, who in zip(("dam", "sire"), pair or (), strict=False):
        clutch[role] = one_parent(
            study, register, who, role=role, grid=table.grid, cells=[cell],
            item=f"row {row}", column=column.heading, sexes=sexes,
        )  # fmt: skip


def _counts(study: Study, table: Table, row: int, clutch: dict[str, str], item: str) -> None:
    for name in COUNTS:
        fields = ("young", "hatched") if name == "hatched" else (name,)
        for field_ in fields:
            column, cell = _pair_of(table, row, field_)
            if column is None or cell is None or clutch[name]:
                continue
            if not study.is_of_dates(table.grid, column):  # else the day it hatched
                clutch[name] = _count(study, table, column, cell, name, item)
    figures = {name: int(clutch[name]) for name in COUNTS if clutch[name]}
    eggs, slugs = figures.get("eggs"), figures.get("slugs", 0)
    if eggs is not None and slugs + figures.get("hatched", 0) > eggs:
        study.asker.ask(
            "more than laid",
            "clutch",
            table.grid,
            table.cells(row),
            item=item,
            text="More slugs and young than eggs. Correct the figures in the book.",
            until="slugs and hatched left blank",
        )
        clutch["slugs"] = clutch["hatched"] = ""


def _count(study: Study, table: Table, column: Column, cell: Cell, name: str, item: str) -> str:
    text = cell.text
    if is_not_known(text):
        return ""
    value = cell.value
    if text.isdigit() and len(text) <= 2:
        return str(int(text))
    counts = counts_of(text) if name == "hatched" else None
    rounded = isinstance(value, float) and counts is not None and counts[1] == 1
    if counts is not None and not rounded:
        return str(sum(counts))
    answer = study.asker.ask(
        "count",
        "clutch",
        table.grid,
        [cell],
        item=item,
        column=column.heading,
        text="Not read as a count. How many?",
        until="left blank",
    )
    return study.use("clutch", item, answer, lambda told: told if told.isdigit() else "")
