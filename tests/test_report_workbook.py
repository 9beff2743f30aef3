"""``plan.xlsx``: typed cells, real dates, nothing that runs, and that other programs open it."""

from __future__ import annotations

import csv
import io
import os
import shutil
import subprocess
import zipfile
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import Cell

from brumal.report.plan.workbook import plan_workbook
from brumal.report.words import visible
from season_outputs import HOSTILE, LINK, demo, demo_files, hostile_files

SHEETS = [
    "Read first",
    "Pairs",
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


@pytest.mark.parametrize("source", [demo_files, hostile_files], ids=["demo", "hostile"])
def test_a_spreadsheet_program_opens_it(
    source: Callable[[], Mapping[str, bytes]], tmp_path: Path
) -> None:
    """LibreOffice, headless, reads every sheet and writes it out as text."""
    program = shutil.which("soffice")
    if program is None:
        pytest.skip("NOT CHECKED: LibreOffice is missing, so plan.xlsx was not opened with it")
    content = source()["plan.xlsx"]
    (tmp_path / "plan.xlsx").write_bytes(content)
    every_sheet = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
    subprocess.run(
        [
            program,
            f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
            "--headless",
            "--convert-to",
            every_sheet,
            "--outdir",
            str(tmp_path),
            str(tmp_path / "plan.xlsx"),
        ],
        check=True,
        capture_output=True,
        timeout=120,
        env={**os.environ, "HOME": str(tmp_path)},
    )
    for page in book(content).worksheets:
        text = (tmp_path / f"plan-{page.title}.csv").read_text("utf-8")
        read = list(csv.reader(io.StringIO(text)))
        assert len(read) == page.max_row
        for cells_read, row in zip(read, page.iter_rows(), strict=True):
            for shown, cell in zip(cells_read, row, strict=False):
                if cell.data_type == "s":
                    assert shown == str(cell.value)
                elif cell.data_type == "d":
                    assert shown == f"{cell.value:%Y-%m-%d}"
