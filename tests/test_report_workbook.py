"""``plan.xlsx``: typed cells, real dates, nothing that runs, rows as high as their text."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from datetime import date, datetime

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import Cell

from brumal.report.plan.workbook import plan_workbook
from brumal.report.sheets import HIGHEST, LINE, Column, Sheet, workbook
from brumal.report.words import visible
from season_outputs import HOSTILE, LINK, demo, demo_files, hostile_files

SHEETS = [
    "Read first",
    "Pairs",
    "Young",
    "Resting",
    "Males",
    "Targets",
    "Calendar",
    "Eggs by week",
    "Money",
]


def book(content: bytes) -> Workbook:
    return load_workbook(io.BytesIO(content))


def cells(content: bytes) -> Iterator[Cell]:
    for sheet in book(content).worksheets:
        for row in sheet.iter_rows():
            yield from (cell for cell in row if cell.value is not None)


def rows(sheet: str) -> list[dict[str, object]]:
    page = book(demo_files()["plan.xlsx"])[sheet]
    heading, *lines = page.iter_rows(values_only=True)
    return [dict(zip(map(str, heading), line, strict=True)) for line in lines]


def test_sheets_are_titled_and_their_headings_frozen() -> None:
    made = book(demo_files()["plan.xlsx"])
    assert made.sheetnames == SHEETS
    for page in made.worksheets:
        assert page.freeze_panes is not None and page.freeze_panes.endswith("2")
        assert page.print_title_rows == "$1:$1"


def test_pairs_are_numbers_and_dates() -> None:
    _, plan, outlook = demo()
    table = rows("Pairs")
    assert [line["dam"] for line in table] == [pair.dam for pair in plan.pairs]
    for line, pair, clutch in zip(table, plan.pairs, outlook.clutches, strict=True):
        assert line["value (EUR)"] == pytest.approx(pair.value)
        assert line["chance she goes"] == pytest.approx(pair.goes)
        first = line["laying from"]
        assert isinstance(first, datetime) and first.date() == clutch.laying.early


def test_the_other_sheets_hold_the_plan() -> None:
    _, plan, outlook = demo()
    reasons = [(rest.id, reason.text) for rest in plan.resting for reason in rest.reasons]
    assert [(line["female"], line["reason"]) for line in rows("Resting")] == reasons
    assert [(m["male"], m["pairings"]) for m in rows("Males")] == [
        (male.id, male.pairings) for male in plan.males
    ]
    days = [line["from"] for line in rows("Calendar")]
    assert all(isinstance(day, datetime) for day in days)
    assert [day.date() for day in days] == [task.start for task in outlook.tasks]  # type: ignore[attr-defined]
    weeks = rows("Eggs by week")
    assert [line["eggs expected"] for line in weeks] == pytest.approx(
        [week.eggs.mean for week in outlook.weeks]
    )
    money = {str(line["part"]): float(str(line["expected (EUR)"])) for line in rows("Money")}
    assert money["together"] == pytest.approx(plan.objective)
    parts = list(money.values())[: list(money).index("together")]
    assert sum(parts) == pytest.approx(plan.objective, abs=0.01)
    assert money["half of them bring this or less"] == outlook.luck.money.p50


def test_no_text_is_a_formula() -> None:
    found = list(cells(hostile_files()["plan.xlsx"]))
    assert all(cell.data_type in ("s", "n", "d") for cell in found)
    texts = [str(cell.value) for cell in found if cell.data_type == "s"]
    for name in HOSTILE:
        assert any(visible(name) in text for text in texts)
    risky = [cell for cell in found if str(cell.value).startswith(("=", "@", "+"))]
    assert any(str(cell.value).startswith(LINK) for cell in risky)
    assert all(cell.quotePrefix for cell in risky)


def test_the_parts_of_the_file_hold_no_formula_and_no_link_outside() -> None:
    with zipfile.ZipFile(io.BytesIO(hostile_files()["plan.xlsx"])) as made:
        for name in made.namelist():
            part = made.read(name)
            assert b"<f>" not in part and b"<f " not in part
            assert b'TargetMode="External"' not in part


def test_the_same_plan_gives_the_same_bytes_at_any_hour(monkeypatch: pytest.MonkeyPatch) -> None:
    _, plan, outlook = demo()

    class Later(datetime):
        @classmethod
        def now(cls, tz: object = None) -> Later:
            return cls(2031, 5, 4, 3, 2, 1)

    monkeypatch.setattr("openpyxl.writer.excel.datetime.datetime", Later)
    monkeypatch.setattr("time.time", lambda: 1.9e9)
    assert plan_workbook(plan, outlook) == demo_files()["plan.xlsx"]


def made(*columns: Column, row: tuple[str | float, ...]) -> Workbook:
    return book(workbook([Sheet("Sheet", columns, (row,))], "Season & co", date(2026, 12, 1)))


def test_a_row_is_as_high_as_its_text() -> None:
    page = made(Column("a", width=20), Column("b", width=40), row=("x " * 50, "y"))["Sheet"]
    assert page.row_dimensions[1].height == LINE
    assert page.row_dimensions[2].height == 5 * LINE
    wide = made(Column("a", width=20), row=("\u86c7" * 30,))["Sheet"]
    assert wide.row_dimensions[2].height == 3 * LINE
    endless = made(Column("a", width=20), row=("word " * 5000,))["Sheet"]
    assert endless.row_dimensions[2].height == HIGHEST


def test_no_number_and_no_word_of_a_heading_is_cut() -> None:
    page = made(Column("much", "#,##0.00", 5), Column("hatchlings", "0", 3), row=(1234567.5, 1))
    assert page["Sheet"].column_dimensions["A"].width >= len("1,234,567.50")
    assert page["Sheet"].column_dimensions["B"].width >= len("hatchlings")


def test_a_wide_sheet_lies_on_its_side_and_a_name_is_no_order_to_the_printer() -> None:
    narrow = made(Column("a", width=60), row=("x",))["Sheet"]
    wide = made(Column("a", width=60), Column("b", width=60), row=("x", "y"))["Sheet"]
    assert (narrow.page_setup.orientation, wide.page_setup.orientation) == ("portrait", "landscape")
    assert wide.page_setup.fitToWidth == 1 and wide.page_setup.fitToHeight == 0
    assert "Season && co" in wide.oddFooter.left.text
