"""The pages in headless Chromium: console, network, axe-core, narrow and wide, and on paper.

The npm packages are fetched once into pytest's cache folder. Without Chromium, Node or npm the
checks are skipped with a notice, and fail where ``CI`` is set.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NoReturn

import pytest
from pypdf import PdfReader

from brumal.cli import main
from season_outputs import DEMO, demo_files, hostile_files

SCRIPT = Path(__file__).parent / "look.mjs"
PACKAGES = ("axe-core@4.14.1", "playwright-core@1.65.1")
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
BOOK = Path(__file__).parent.parent / "import_books" / "sixty_two" / "snakes.xlsx"
PAGES = ("demo-plan", "demo-cards", "hostile-plan", "hostile-cards")
MORE_PAGES = (
    ["ready"],
    ["kin"],
    ["kin", "F05", "M03"],
    ["cross", "F05", "M02"],
    ["animal", "F05"],
    ["why"],
    ["simulate"],
    ["compare", "boxes-16"],
    ["route", "Clown Piebald", "--by", "2030", "--keep", "2"],
)
MILLIMETRES = {"A4": (210, 297), "Letter": (216, 279)}
Report = Mapping[str, Any]


def missing(what: str) -> NoReturn:
    if os.environ.get("CI"):
        pytest.fail(f"{what}; the pages must be checked here")
    pytest.skip(f"NOT CHECKED: {what}, so no page was opened in a browser")


@pytest.fixture(scope="session")
def tools(request: pytest.FixtureRequest) -> tuple[str, str, Path]:
    """Return Node, a Chromium and the folder of the npm packages."""
    chromium = next(filter(None, map(shutil.which, BROWSERS)), None)
    node, npm = shutil.which("node"), shutil.which("npm")
    if chromium is None or node is None or npm is None:
        missing("Chromium, Node or npm is missing")
    folder = request.config.cache.mkdir("browser")  # type: ignore[union-attr]
    listed = folder / "installed.txt"
    if not listed.is_file() or listed.read_text() != " ".join(PACKAGES):
        command = [npm, "install", "--no-audit", "--no-fund", "--prefix", str(folder), *PACKAGES]
        done = subprocess.run(command, capture_output=True, text=True, timeout=300)
        if done.returncode:
            missing(f"npm could not fetch {' and '.join(PACKAGES)}")
        listed.write_text(" ".join(PACKAGES))
    return node, chromium, folder


def looked_at(
    tools: tuple[str, str, Path], out: Path, pages: Mapping[str, bytes], views: str = "some"
) -> Report:
    node, chromium, folder = tools
    paths = []
    for name, content in pages.items():
        paths.append(out / f"{name}.html")
        paths[-1].write_bytes(content)
    done = subprocess.run(
        [node, str(SCRIPT), str(folder), chromium, str(out), *map(str, paths)],
        capture_output=True,
        text=True,
        timeout=500,
        env={**os.environ, "VIEWS": views},
    )
    assert done.returncode == 0, done.stderr
    report: Report = json.loads(done.stdout)
    return report


@pytest.fixture(scope="session")
def seen(
    tools: tuple[str, str, Path], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Report, Path]:
    out = tmp_path_factory.mktemp("pages")
    pages = {
        f"{season}-{kind}": files()[f"{kind}.html"]
        for season, files in (("demo", demo_files), ("hostile", hostile_files))
        for kind in ("plan", "cards")
    }
    return looked_at(tools, out, pages), out


def check(told: Mapping[str, Any]) -> None:
    assert told["messages"] == []
    assert told["requests"] == []
    assert told["violations"] == []
    assert told["sideways"] == []
    assert told["checked"] > 30  # axe-core ran


@pytest.mark.parametrize("name", PAGES)
def test_pages_are_quiet_accessible_and_fit_their_width(
    seen: tuple[Report, Path], name: str
) -> None:
    check(seen[0][name])


def test_the_page_of_an_import_is_quiet_and_accessible(
    tools: tuple[str, str, Path], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    assert main(["import", str(BOOK), "--into", str(tmp_path / "new"), "--out", str(out)]) == 0
    report = looked_at(tools, tmp_path, {"import": (out / "import.html").read_bytes()})
    check(report["import"])


@pytest.mark.parametrize("paper", MILLIMETRES)
def test_no_row_of_a_table_is_cut_on_paper(seen: tuple[Report, Path], paper: str) -> None:
    report, out = seen
    pages = printed(out / f"demo-plan-{paper}.pdf", paper)
    rows = [bare(row) for row in report["demo-plan"]["rows"]]
    assert len(rows) > 60
    for row in rows:
        assert any(row in page for page in pages), row


@pytest.mark.parametrize("paper", MILLIMETRES)
def test_up_to_eight_cards_go_to_a_page(seen: tuple[Report, Path], paper: str) -> None:
    report, out = seen
    pages = printed(out / f"demo-cards-{paper}.pdf", paper)
    # The last page may hold the cautions alone.
    counts = [count for page in pages if (count := page.count(bare("Emergency, my vet:")))]
    assert sum(counts) == len(report["demo-cards"]["rows"])
    # A row is as high as its longest card: where many words stand there is room for fewer.
    assert set(counts[:-1]) <= {4, 6, 8} and 8 in counts
    for card in map(bare, report["demo-cards"]["rows"]):
        assert any(card in page for page in pages), card


@pytest.mark.slow
def test_every_page_of_the_demo_in_every_view(tools: tuple[str, str, Path], tmp_path: Path) -> None:
    pages = {
        name.removesuffix(".html"): page for name, page in demo_files().items() if "html" in name
    }
    for command in MORE_PAGES:
        out = tmp_path / "-".join(command)
        assert main([command[0], str(DEMO), *command[1:], "--out", str(out)]) == 0
        pages |= {path.stem: path.read_bytes() for path in out.glob("*.html")}
    report = looked_at(tools, tmp_path, pages, views="all")
    assert len(report) == 2 + len(MORE_PAGES)
    for told in report.values():
        check(told)


def printed(path: Path, paper: str) -> list[str]:
    """Return the text of each page, the spaces left out; the paper's size is checked."""
    reader = PdfReader(path)
    width, height = MILLIMETRES[paper]
    for page in reader.pages:
        assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(width, abs=1)
        assert float(page.mediabox.height) / 72 * 25.4 == pytest.approx(height, abs=1)
    return [bare(page.extract_text()) for page in reader.pages]


def bare(text: str) -> str:
    return re.sub(r"\s+", "", unicodedata.normalize("NFKC", text))
