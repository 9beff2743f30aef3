"""The workbook in a spreadsheet program: every sheet read, and printed as a keeper would print it.

``.ci/programs`` installs what this needs.
"""

from __future__ import annotations

import csv
import html
import io
import os
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet
from pypdf import PdfReader

from season_outputs import ROOT, demo_files, hostile_files, written

pytestmark = pytest.mark.slow

EVERY_SHEET = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
LEAST_POINTS = 8.0
TOUCH = 0.25
"""How far boxes of words may reach into each other, in their height: letters do not fill them."""
WORD = re.compile(r'<word xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)">(.*?)</word>')


def small_files() -> Mapping[str, bytes]:
    return written(ROOT / "scenarios" / "small")


SOURCES = pytest.mark.parametrize(
    "source", [demo_files, small_files, hostile_files], ids=["demo", "small", "hostile"]
)


@dataclass(frozen=True)
class Word:
    left: float
    top: float
    right: float
    bottom: float
    text: str

    def covers(self, other: Word) -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return min(across, down) > TOUCH * (self.bottom - self.top)


def program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"NOT CHECKED: {name} is missing (.ci/programs installs it)")
    return found


def converted(content: bytes, form: str, folder: Path) -> None:
    """Have the program write ``plan.xlsx`` out in another form."""
    office = program("soffice")
    (folder / "plan.xlsx").write_bytes(content)
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    order = [office, profile, "--headless", "--convert-to", form, "--outdir", str(folder)]
    subprocess.run(
        [*order, str(folder / "plan.xlsx")],
        check=True,
        capture_output=True,
        timeout=120,
        env={**os.environ, "HOME": str(folder)},
    )


def sheets(content: bytes) -> list[Worksheet]:
    return list(load_workbook(io.BytesIO(content)).worksheets)


def pages(printed: Path) -> list[list[Word]]:
    """Return the words of each page with the boxes that they stand in."""
    told = subprocess.run(
        [program("pdftotext"), "-bbox", str(printed), "-"], check=True, capture_output=True
    )
    return [
        [Word(*map(float, places), html.unescape(text)) for *places, text in WORD.findall(page)]
        for page in told.stdout.decode().split("<page ")[1:]
    ]


def sizes(printed: Path) -> Iterator[float]:
    """Yield the size of every text on the pages, in points."""
    for page in PdfReader(printed).pages:
        found: list[float] = []

        def note(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
            if text.strip():
                found.append(size * abs(tm[3]) * abs(cm[3]))  # noqa: B023 - read at once

        page.extract_text(visitor_text=note)
        yield from found


@SOURCES
def test_a_spreadsheet_program_opens_it(
    source: Callable[[], Mapping[str, bytes]], tmp_path: Path
) -> None:
    content = source()["plan.xlsx"]
    converted(content, EVERY_SHEET, tmp_path)
    for page in sheets(content):
        text = (tmp_path / f"plan-{page.title}.csv").read_text("utf-8")
        read = list(csv.reader(io.StringIO(text)))
        assert len(read) == page.max_row
        for cells_read, row in zip(read, page.iter_rows(), strict=True):
            for shown, cell in zip(cells_read, row, strict=False):
                if cell.data_type == "s":
                    assert shown == str(cell.value)
                elif cell.data_type == "d":
                    assert shown == f"{cell.value:%Y-%m-%d}"


@SOURCES
def test_its_pages_can_be_read(source: Callable[[], Mapping[str, bytes]], tmp_path: Path) -> None:
    """No words over others, none too small, each page under its heading."""
    content = source()["plan.xlsx"]
    converted(content, "pdf", tmp_path)
    printed = tmp_path / "plan.pdf"
    assert min(sizes(printed)) >= LEAST_POINTS
    headings = [
        {word for cell in page[1] for word in str(cell.value).split()} for page in sheets(content)
    ]
    for number, words in enumerate(pages(printed), start=1):
        over = [(a, b) for n, a in enumerate(words) for b in words[n + 1 :] if a.covers(b)]
        assert not over, f"page {number}: words over each other"
        assert not [word for word in words if word.text.startswith("###")], number
        there = {word.text for word in words}
        assert any(heading <= there for heading in headings), f"page {number} has no heading"


@pytest.mark.parametrize("source", [demo_files, small_files], ids=["demo", "small"])
def test_every_word_is_printed(source: Callable[[], Mapping[str, bytes]], tmp_path: Path) -> None:
    content = source()["plan.xlsx"]
    converted(content, "pdf", tmp_path)
    printed = " ".join(word.text for page in pages(tmp_path / "plan.pdf") for word in page)
    there = " ".join(
        str(cell.value)
        for page in sheets(content)
        for row in page.iter_rows()
        for cell in row
        if cell.data_type == "s"
    )
    assert not pieces(there) - pieces(printed)


def pieces(text: str) -> Counter[str]:
    """Count the words of a text, those with hyphens in parts: a line may end there."""
    return Counter(re.findall(r"[\w.]+", text))
