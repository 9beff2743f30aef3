"""Weighings of every form: in rows, dates across, animals across, on cards, beside an animal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from brumal.importing.animals import Settled
from brumal.importing.collect import Raw
from brumal.importing.columns import date_part
from brumal.importing.dates import DateColumn, Doubt, date_in
from brumal.importing.grids import Cell, Grid
from brumal.importing.register import Register
from brumal.importing.study import Study, as_grams, full_day
from brumal.importing.tables import Column, Table
from brumal.importing.weights import unit_of
from brumal.importing.words import is_not_known, is_total, plain, words

NEAR_IN_TIME = timedelta(days=120)
SLIP = 6.0
"""No python gains or loses sixfold between two weighings of one season (as in ``check``)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """One weighing as it is written; ``day`` empty where it is not told."""

    animal: str
    day: str
    grams: float
    note: str
    grid: Grid
    cell: Cell


def of_animal(study: Study, settled: Settled) -> list[Weighing]:
    """Return the weighings that stand in an animal's own row or card."""
    raw = settled.raw
    found = []
    table = raw.table
    for column, cell in raw.fields.get("weight", []):
        dated = _dated_beside(raw, column)
        if dated is None and table is not None and _of_one_month(table, column):
            found.extend(_across(study, table, column, cell, raw.key))
            continue
        about = "weight" if dated else "weight_g"
        grams, remark = study.grams(
            raw.grid, column, cell, item=raw.key, about=about, title=_title(raw.table)
        )
        day = ""
        if dated is not None and grams is not None:
            day = study.date(raw.grid, dated[0], dated[1], item=raw.key, about="weight")
            if not day and not is_not_known(dated[1].text):
                continue
        if grams is not None:
            found.append(_weighing(raw.key, day, grams, remark, raw.grid, cell))
    if table is not None:
        for column, cell in raw.fields.get("weight on", []):
            found.extend(_across(study, table, column, cell, raw.key))
    return found


def _title(table: Table | None) -> str:
    return f"{table.title} {table.grid.sheet}" if table is not None else ""


def _of_one_month(table: Table, column: Column) -> bool:
    """Say whether a weight is one of several beside each other, told apart by month or season."""
    named = {*words().months, *words().lists["seasons"]}
    return len(table.of("weight")) > 1 and not named.isdisjoint(column.beside.split())


def _dated_beside(raw: Raw, column: Column) -> tuple[Column, Cell] | None:
    """Return the day that belongs to a weight: of the same words beside, else the nearest."""
    plain_dates = raw.fields.get("date", [])
    days = raw.fields.get("weighed", []) + [
        each for each in plain_dates if abs(each[0].number - column.number) <= 2
    ]
    same = [each for each in days if each[0].beside == column.beside]
    several = len(raw.fields.get("weight", [])) > 1
    if same and (several or len(days) == 1):
        return same[0]
    near = [each for each in days if 0 < each[0].number - column.number <= 2]
    return (
        near[0] if near and not (several and same) else (days[0] if not several and days else None)
    )


def _across(study: Study, table: Table, column: Column, cell: Cell, animal: str) -> list[Weighing]:
    """Read a cell under a date of the heading."""
    day = heading_day(study, table, column)
    item = f"{animal} {column.heading}"
    grams, remark = study.grams(
        table.grid, column, cell, item=item, about="weight", title=_title(table)
    )
    if grams is None or not day:
        return []
    return [_weighing(animal, day, grams, remark, table.grid, cell)]


def heading_day(study: Study, table: Table, column: Column) -> str:
    """Return the day that a heading names; empty where it is asked about."""
    if column.field == "weight":
        return _asked_day(study, table, table.grid.at(table.header_row, column.number))
    heads = [replace_text(table, each) for each in table.columns if each.field == "weight on"]
    over = Column(number=0, heading="dates of the headings", field="weight on")
    cell = replace_text(table, column)
    found = study.date(table.grid, over, cell, item=cell.place, about="weight", cells=heads)
    return _asked_day(study, table, cell) if found and len(found) < 10 else found


def _asked_day(study: Study, table: Table, cell: Cell) -> str:
    answer = study.asker.ask(
        "month only",
        "weight",
        table.grid,
        [cell],
        item=cell.place,
        text="Weighings of a month or year without a day. On which day?",
        until="left out",
    )
    return study.use("weight", cell.place, answer, full_day)


def replace_text(table: Table, column: Column) -> Cell:
    """Return the heading's cell with the date in it as its value."""
    cell = table.grid.at(table.header_row, column.number)
    day = column.day
    if day is None or isinstance(cell.value, date):
        return cell
    return replace(cell, value=date_part(cell.text))


def _weighing(animal: str, day: str, grams: float, remark: str, grid: Grid, cell: Cell) -> Weighing:
    return Weighing(animal=animal, day=day, grams=grams, note=remark, grid=grid, cell=cell)


def of_table(
    study: Study, table: Table, register: Register, animals: Sequence[Settled], card: str = ""
) -> list[Weighing]:
    """Return the weighings of a table of weights; ``card`` is the animal it stands under."""
    meant = {} if card else _who(study, table, register, animals)
    found: list[Weighing] = []
    strangers: list[str] = []
    for row in [*table.rows, *table.totals]:
        key = table.cell(row, "id") or table.cell(row, "name") or table.cell(row, "tub")
        animal = card or (meant.get(row, "") if key is not None else "")
        if not animal:
            if key is not None and row in table.rows and not is_total(key.text):
                strangers.append(key.text)
            continue
        if row in table.totals and any(cell.formula for cell in table.cells(row)):
            continue
        found.extend(_of_row(study, table, row, animal))
    if strangers:
        study.notes.append(
            f"{table.grid.sheet}: weighings of {', '.join(dict.fromkeys(strangers))} are left out: "
            "no one animal of the book, or asked about."
        )
    return found


def _of_row(study: Study, table: Table, row: int, animal: str) -> list[Weighing]:
    found: list[Weighing] = []
    note = " ".join(
        cell.text for column in table.of("notes") if (cell := table.grid.at(row, column.number))
    )
    days = table.of("date", "weighed")
    for column in table.of("weight"):
        cell = table.grid.at(row, column.number)
        day_cell = table.grid.at(row, days[0].number) if days else None
        if not cell or day_cell is None or not day_cell:
            continue
        item = f"{animal} {day_cell.text}"
        grams, remark = study.grams(
            table.grid, column, cell, item=item, about="weight", title=_title(table)
        )
        if grams is None:
            continue
        day = study.date(table.grid, days[0], day_cell, item=item, about="weight")
        if len(day) == 10:
            told = "; ".join(part for part in (remark, note) if part)
            found.append(_weighing(animal, day, grams, told, table.grid, cell))
    for column in table.of("weight on"):
        cell = table.grid.at(row, column.number)
        if cell:
            found.extend(_across(study, table, column, cell, animal))
    return found


def _who(
    study: Study, table: Table, register: Register, animals: Sequence[Settled]
) -> dict[int, str]:
    """Return the animal of each row, by id or name, or by tub where the sheet says tub."""
    tubs: dict[str, list[str]] = {}
    for each in animals:
        if tub := each.raw.text("tub"):
            tubs.setdefault(plain(tub), []).append(each.key)
    if table.of("tub") and not table.of("id", "name"):
        found = {}
        for row in table.rows:
            cell = table.cell(row, "tub")
            keys = tubs.get(plain(cell.text), []) if cell is not None else []
            if len(keys) == 1:
                found[row] = keys[0]
        return found
    cells = {row: table.cell(row, "id") or table.cell(row, "name") for row in table.rows}
    if _may_be_tubs(table, cells.values(), tubs, animals):
        return _asked_table(study, table, register, cells, tubs)
    return {
        row: key
        for row, cell in cells.items()
        if cell is not None and (key := _meant(study, table, register, cell, row))
    }


def _meant(study: Study, table: Table, register: Register, cell: Cell, row: int) -> str:
    found = register.find(cell.text)
    if found.raw is not None:
        return found.raw.key
    if (
        found.blank
        or is_total(cell.text)
        or not any(register.exactly(c.text) for c in _keys(table))
    ):
        return ""
    if found.outside and not found.choices:
        return ""
    answer = study.asker.ask(
        "whose", "weight", table.grid, [cell], item=f"{cell.text} row {row}",
        text="Whose weighings are these?", until="left out", choices=found.choices,
    )  # fmt: skip
    raw = register.exactly(answer) if answer else None
    return raw.key if raw else ""


def _keys(table: Table) -> list[Cell]:
    return [cell for column in table.of("id", "name") for cell in table.down(column)]


def _may_be_tubs(
    table: Table,
    cells: Iterable[Cell | None],
    tubs: dict[str, list[str]],
    animals: Sequence[Settled],
) -> bool:
    """Say whether bare numbers under a heading that only says "no" fit animals and tubs alike."""
    headings = {plain(column.heading) for column in table.of("id")}
    texts = [cell.text for cell in cells if cell is not None]
    if table.of("name") or not headings & {"no", "nr", "number", "#", "num", "n"}:
        return False
    ids = {each.raw.text("id") for each in animals}
    same = any(
        plain(c.heading) in headings for each in animals for c, _ in each.raw.fields.get("id", [])
    )
    both = [text for text in texts if text in ids and plain(text) in tubs]
    return bool(both) and not same


def _asked_table(
    study: Study,
    table: Table,
    register: Register,
    cells: dict[int, Cell | None],
    tubs: dict[str, list[str]],
) -> dict[int, str]:
    listed = [cell for cell in cells.values() if cell is not None]
    answer = study.asker.ask(
        "animal or tub", "weight", table.grid, listed, item=table.grid.sheet,
        text="Are these the numbers of animals or of tubs?", until="left out",
        choices=("animal", "tub"),
    )  # fmt: skip
    found: dict[int, str] = {}
    for row, cell in cells.items():
        if cell is None or not answer:
            continue
        raw = register.exactly(cell.text) if answer == "animal" else None
        keys = [raw.key] if raw else tubs.get(plain(cell.text), []) if answer == "tub" else []
        if len(keys) == 1:
            found[row] = keys[0]
    return found


def animals_across(
    study: Study, grid: Grid, header: int, columns: Sequence[tuple[int, Raw]]
) -> list[Weighing]:
    """Read a sheet whose dates go down in the first column and whose animals go across."""
    head = grid.at(header, 1)
    over = Column(number=1, heading=head.text or "dates", field="date")
    days = [
        cell
        for row, cells in grid.rows()
        if row > header
        for cell in cells[:1]
        if cell.column == 1 and date_in(cell, DateColumn(), study.on)[1] is not Doubt.UNCLEAR
    ]
    found = []
    for number, raw in columns:
        column = Column(number=number, heading=raw.key, field="weight", unit=unit_of(head.text))
        for day_cell in days:
            cell = grid.at(day_cell.row, number)
            if not cell:
                continue
            item = f"{raw.key} {day_cell.text}"
            grams, remark = study.grams(grid, column, cell, item=item, about="weight")
            if grams is None:
                continue
            day = study.date(grid, over, day_cell, item=item, about="weight", cells=days)
            if len(day) == 10:
                found.append(_weighing(raw.key, day, grams, remark, grid, cell))
    return found


def checked(study: Study, weighings: Iterable[Weighing]) -> list[Weighing]:
    """Leave out what cannot stand beside the animal's other weighings, and ask about it."""
    by_animal: dict[str, list[Weighing]] = {}
    for weighing in weighings:
        by_animal.setdefault(weighing.animal, []).append(weighing)
    kept = []
    for series in by_animal.values():
        for weighing in _one_a_day(study, series):
            near = _neighbours(weighing, series)
            if near and _is_slip(weighing.grams, near):
                answer = _ask(study, weighing, "slip", "Six times its other weights, or a sixth.")
                if answer is None:
                    continue
                weighing = replace(weighing, grams=answer)
            kept.append(weighing)
    return kept


def _one_a_day(study: Study, series: list[Weighing]) -> list[Weighing]:
    by_day: dict[str, list[Weighing]] = {}
    for weighing in series:
        by_day.setdefault(weighing.day, []).append(weighing)
    kept = []
    for day, same in by_day.items():
        figures = {round(each.grams) for each in same}
        if len(figures) == 1:
            kept.append(same[0])
            continue
        answers = [
            _ask(
                study, each, "two a day", f"Two weights {'on one day' if day else 'without a day'}."
            )
            for each in same
        ]
        told = next((answer for answer in answers if answer is not None), None)
        if told is not None:
            kept.append(replace(same[0], grams=told))
    return kept


def _neighbours(weighing: Weighing, series: Sequence[Weighing]) -> list[float]:
    if len(weighing.day) != 10:
        return []
    day = date.fromisoformat(weighing.day)
    dated = [each for each in series if len(each.day) == 10 and each.day != weighing.day]
    dated.sort(key=lambda each: abs(date.fromisoformat(each.day) - day))
    return [
        each.grams for each in dated[:2] if abs(date.fromisoformat(each.day) - day) <= NEAR_IN_TIME
    ]


def _is_slip(grams: float, near: Sequence[float]) -> bool:
    return all(grams >= SLIP * each for each in near) or all(grams * SLIP <= each for each in near)


def _ask(study: Study, weighing: Weighing, cause: str, text: str) -> float | None:
    item = f"{weighing.animal} {weighing.day}".strip()
    answer = study.asker.ask(
        cause, "weight", weighing.grid, [weighing.cell], item=item,
        text=f"{text} How many grams is right?", until="left out",
    )  # fmt: skip
    read = study.use("weight", item, answer, as_grams)
    return float(read) if read else None
