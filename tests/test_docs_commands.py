"""Every command in the docs runs, and what the docs show is what the tool makes."""

from __future__ import annotations

import importlib
import re
import shlex
import shutil
from pathlib import Path

import pytest

from brumal.cli import COMMANDS, main
from brumal.report.plan.guide_pictures import guide_pictures
from season_outputs import ROOT, demo, demo_files

DOCS = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
COMMAND = re.compile(r"(?:\S*/)?(?:brumal|python -m (?P<module>brumal\.[\w.]+)) (?P<arguments>.+)")


def commands(page: Path) -> list[tuple[str | None, list[str]]]:
    """Return (module or None, arguments) of each command in a page's fenced blocks, in order."""
    blocks = re.findall(r"^```\w*\n(.*?)^```", page.read_text("utf-8"), re.S | re.M)
    lines = [line.split("&&")[-1].strip() for block in blocks for line in block.splitlines()]
    found = [COMMAND.fullmatch(line) for line in lines]
    return [
        (match["module"], shlex.split(match["arguments"], comments=True))
        for match in found
        if match
    ]


def solves_many(arguments: list[str]) -> bool:
    """Say whether a command solves so often that only the slow form runs it."""
    return arguments[0] in ("compare", "why")


def run(page: Path, everything: bool) -> None:
    shutil.copytree(ROOT / "scenarios", "scenarios")
    Path("docs").mkdir()
    for module, arguments in commands(page):
        if module is not None:
            importlib.import_module(module).main(arguments)
        elif arguments[0] == "open":
            continue  # It serves until Ctrl-C: tests/test_page_server.py has it.
        elif everything or not solves_many(arguments):
            assert main(arguments) == 0, arguments


with_commands = pytest.mark.parametrize(
    "page", [page for page in DOCS if commands(page)], ids=lambda page: page.name
)


@with_commands
def test_the_commands_of_a_page_run_one_after_the_other(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run(page, everything=False)


@pytest.mark.slow
@with_commands
def test_the_commands_that_solve_many_times_run_too(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run(page, everything=True)


def test_the_guide_shows_every_command_of_a_season() -> None:
    shown = {
        arguments[0] for module, arguments in commands(ROOT / "docs" / "guide.md") if not module
    }
    assert shown == set(COMMANDS)


DAY = r"\d{4}-\d\d-\d\d"


def test_the_guide_names_every_file_of_a_plan() -> None:
    guide = (ROOT / "docs" / "guide.md").read_text("utf-8")
    assert all(f"`{re.sub(DAY, 'DATE', name)}`" in guide for name in demo_files())


def test_the_guides_pictures_are_the_demos() -> None:
    _, plan, outlook = demo()
    pictures = guide_pictures(plan, outlook)
    folder = ROOT / "docs" / "pictures"
    made = "python -m brumal.report.plan.guide_pictures scenarios/demo docs/pictures"
    assert {path.name for path in folder.iterdir()} == set(pictures), made
    for name, text in pictures.items():
        assert (folder / name).read_text("utf-8") == text, made
    guide = (ROOT / "docs" / "guide.md").read_text("utf-8")
    assert sorted(re.findall(r"\]\(pictures/([\w.]+)\)", guide)) == sorted(pictures)


@pytest.mark.parametrize("page", DOCS, ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    links = re.findall(r"\]\((?!#|\w+:)([^)#\s]+)", page.read_text("utf-8"))
    assert not [link for link in links if not (page.parent / link).exists()]
