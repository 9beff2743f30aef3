"""The plan as a workbook: typed cells, real dates, texts that no program takes for a formula."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import TYPE_CHECKING

from brumal import __version__
from brumal.insight.why.outlook import Outlook
from brumal.planner.plan import Plan
from brumal.report.plan.season_words import season_told, task_note, task_title
from brumal.report.plan.words import (
    BY_WORDS,
    CAUTIONS,
    count_line,
    money_parts,
    offer_line,
    outcome_words,
    risk_line,
    room_line,
    spend_line,
    verdict_line,
)
from brumal.report.words import visible

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

Value = str | int | float | date | None
TEXT, WHOLE, TENTH, MONEY = "@", "0", "0.0", "#,##0.00"
SHARE, KIN, DAY = "0.0%", "0.0000", "yyyy-mm-dd"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "'")
WIDE = 40
FIXED_TIME = (1980, 1, 1, 0, 0, 0)
"""The time stamp of every part of the file: the earliest that the format knows."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, the number format of its cells, its width in characters."""

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


def plan_workbook(plan: Plan, outlook: Outlook) -> bytes:
    """Return ``plan.xlsx``, the same bytes for the same plan."""
    # Loading the writer takes longer than most commands; only this one needs it.
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in _sheets(plan, outlook):
        _write(book.create_sheet(sheet.title), sheet)
    book.properties.creator = f"brumal {__version__}"
    book.properties.title = visible(plan.season)
    book.properties.created = datetime.combine(plan.pair_from, time())
    out = io.BytesIO()
    book.save(out)
    return _without_clock(out.getvalue(), plan.pair_from)


def _sheets(plan: Plan, outlook: Outlook) -> Iterator[Sheet]:
    yield _summary(plan, outlook)
    yield _pairs(plan, outlook)
    yield _resting(plan)
    yield _males(plan)
    yield _targets(plan)
    yield _calendar(plan, outlook)
    yield _weeks(plan, outlook)
    yield _money(plan, outlook)


def _summary(plan: Plan, outlook: Outlook) -> Sheet:
    told = [
        ("season", plan.season),
        ("plan", verdict_line(plan)),
        *(("look first", caution.text) for caution in plan.cautions),
        ("when", season_told(plan, outlook)),
        ("females", count_line(plan)),
        ("room", room_line(plan.room)),
        ("money", spend_line(plan.room, plan.currency)),
        *([("bad seasons", risk_line(plan))] if plan.bad_seasons else []),
        *(("animals on offer", offer_line(plan, offer)) for offer in plan.offers),
        *(("caution", line) for line in (*plan.notes, *CAUTIONS)),
        *((f"SHA-256 of {name}", digest) for name, digest in plan.inputs.fingerprints.items()),
        *((name, number) for name, number in plan.inputs.versions.items()),
    ]
    return Sheet("Read first", (Column("what", width=22), Column("says", width=110)), tuple(told))


def _pairs(plan: Plan, outlook: Outlook) -> Sheet:
    columns = (
        Column("dam"),
        Column("dam's name", width=20),
        Column("sire"),
        Column("sire's name", width=20),
        Column(f"value ({plan.currency})", MONEY, 14),
        Column("standard deviation", MONEY),
        Column("chance she goes", SHARE),
        Column("eggs if she goes", TENTH),
        Column("young", TENTH),
        Column("F of the young", KIN),
        Column("first visit", DAY),
        Column("laying from", DAY),
        Column("laying to", DAY),
        Column("hatching from", DAY),
        Column("hatching to", DAY),
        Column("your word"),
        Column("young to expect: chance of each, worth of one", width=60),
        Column("cautions", width=60),
    )
    rows = tuple(
        (
            pair.dam,
            plan.names[pair.dam],
            pair.sire,
            plan.names[pair.sire],
            pair.value,
            pair.sd,
            pair.goes,
            pair.eggs,
            pair.young,
            pair.F,
            clutch.visits[0].start if clutch.visits else None,
            clutch.laying.early,
            clutch.laying.late,
            clutch.hatching.early,
            clutch.hatching.late,
            pair.lock,
            outcome_words(pair),
            " ".join(pair.cautions),
        )
        for pair, clutch in zip(plan.pairs, outlook.clutches, strict=True)
    )
    return Sheet("Pairs", columns, rows, frozen=2)


def _resting(plan: Plan) -> Sheet:
    columns = (
        Column("female"),
        Column("name", width=20),
        Column("rests", width=22),
        Column("rule", width=14),
        Column("reason", width=100),
    )
    rows = tuple(
        (rest.id, plan.names[rest.id], BY_WORDS[rest.by], reason.rule, reason.text)
        for rest in plan.resting
        for reason in rest.reasons
    )
    return Sheet("Resting", columns, rows, frozen=2)


def _males(plan: Plan) -> Sheet:
    columns = (
        Column("male"),
        Column("name", width=20),
        Column("pairings", WHOLE),
        Column("limit", WHOLE),
        Column("why that many", width=100),
    )
    rows = tuple(
        (
            male.id,
            plan.names[male.id],
            male.pairings,
            male.limit,
            " ".join(reason.text for reason in male.reasons) or male.limit_from,
        )
        for male in plan.males
    )
    return Sheet("Males", columns, rows, frozen=2)


def _targets(plan: Plan) -> Sheet:
    columns = (
        Column("morph", width=40),
        Column("needed", WHOLE),
        Column("expected", TENTH),
        Column("chance of one", SHARE),
        Column("chance asked", SHARE),
    )
    rows = tuple((t.morph, t.need, t.expected, t.chance, t.asked_chance) for t in plan.targets)
    return Sheet("Targets", columns, rows, frozen=1)


def _calendar(plan: Plan, outlook: Outlook) -> Sheet:
    columns = (
        Column("from", DAY),
        Column("to", DAY),
        Column("what", width=22),
        Column("animals", width=20),
        Column("entry", width=50),
        Column("look for", width=80),
    )
    rows = tuple(
        (
            task.start,
            task.end,
            str(task.kind),
            " ".join(task.animals),
            task_title(task, plan.names),
            task_note(task, plan.names),
        )
        for task in outlook.tasks
    )
    return Sheet("Calendar", columns, rows, frozen=2)


def _weeks(plan: Plan, outlook: Outlook) -> Sheet:
    parts = ("eggs", "boxes", "hatchlings")
    columns = [Column("week from", DAY)]
    for part in parts:
        columns.append(Column(f"{part} expected", TENTH))
        columns += [Column(f"{part}, {end} of 8 seasons in 10", WHOLE) for end in ("low", "high")]
    columns += [Column("boxes there are", WHOLE), Column("tubs there are", WHOLE)]
    rows = []
    for week in outlook.weeks:
        row: list[Value] = [week.monday]
        for load in (week.eggs, week.boxes, week.tubs):
            row += [load.mean, load.low, load.high]
        rows.append((*row, plan.room.boxes_limit, plan.room.tubs_limit))
    return Sheet("Eggs by week", tuple(columns), tuple(rows), frozen=1)


def _money(plan: Plan, outlook: Outlook) -> Sheet:
    columns = (Column("part", width=44), Column(f"expected ({plan.currency})", MONEY, 18))
    rows: list[tuple[Value, ...]] = list(money_parts(plan.money))
    luck = outlook.luck
    rows += [
        ("together", plan.objective),
        ("one simulated season in ten brings this or less", luck.money.p10),
        ("half of them bring this or less", luck.money.p50),
        ("nine in ten bring this or less", luck.money.p90),
        ("the worst tenth bring on average", luck.worst),
    ]
    return Sheet("Money", columns, tuple(rows))


def _write(page: Worksheet, sheet: Sheet) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.properties import PageSetupProperties

    page.freeze_panes = f"{get_column_letter(sheet.frozen + 1)}2"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.print_title_rows = "1:1"
    bold, top = Font(bold=True), Alignment(vertical="top")
    wrapped = Alignment(vertical="top", wrap_text=True)
    heading = [_cell(page, column.name, TEXT) for column in sheet.columns]
    for place, (cell, column) in enumerate(zip(heading, sheet.columns, strict=True), start=1):
        cell.font, cell.alignment = bold, wrapped
        page.column_dimensions[get_column_letter(place)].width = column.width
    page.append(heading)
    for row in sheet.rows:
        cells = []
        for column, value in zip(sheet.columns, row, strict=True):
            cell = _cell(page, value, column.form)
            cell.alignment = wrapped if column.width >= WIDE else top
            cells.append(cell)
        page.append(cells)


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
