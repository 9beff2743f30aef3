"""Other machines, as far as one of them can be: code pages, file names, process starts, paths.

Windows and macOS themselves are NOT CHECKED here.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from season_outputs import hostile_season

ROOT = Path(__file__).parent.parent
OTHER_PAGES = ("ascii", "cp850", "cp1252", "cp932", "utf-8")
RESERVED = {
    "CON",
    "PRN",
    "AUX",
    "NUL",
    *(f"{port}{n}" for port in ("COM", "LPT") for n in range(10)),
}
"""Names that Windows keeps for devices, whatever follows the dot."""
CODE_PAGES = ("cp437", *(pytest.param(page, marks=pytest.mark.slow) for page in OTHER_PAGES))


def run(*words: object, **more: str) -> subprocess.CompletedProcess[bytes]:
    # openpyxl opens a file only for its name and closes it unwritten.
    named = "ignore::EncodingWarning:openpyxl.worksheet._writer"
    order = [sys.executable, "-X", "warn_default_encoding", "-W", "error::EncodingWarning"]
    order += ["-W", named]
    return subprocess.run(
        [*order, "-m", "brumal", *map(str, words)],
        capture_output=True,
        timeout=300,
        env={**os.environ, **more},
    )


@pytest.mark.parametrize("page", CODE_PAGES)
def test_any_terminal_shows_any_name(page: str, tmp_path: Path) -> None:
    """And no file is read or written in whatever encoding the machine happens to have."""
    season = tmp_path / "season"
    season.mkdir()
    done = run("check", hostile_season(season), PYTHONIOENCODING=page, PYTHONUTF8="0", LC_ALL="C")
    assert done.returncode == 0, done.stderr.decode(page, "replace")
    done.stdout.decode(page)


@pytest.mark.parametrize(
    "words",
    [
        ("animal", "{season}", "=1+2"),
        pytest.param(("plan", "{season}"), marks=pytest.mark.slow),
        pytest.param(("kin", "{season}", "=1+2", "F0"), marks=pytest.mark.slow),
        pytest.param(("cross", "{season}", "=1+2", "M0"), marks=pytest.mark.slow),
    ],
    ids=lambda words: words[0],
)
def test_every_file_written_has_a_name_that_any_system_allows(words, tmp_path: Path) -> None:
    season, out = tmp_path / "season", tmp_path / "out"
    season.mkdir()
    hostile_season(season)
    done = run(*(word.format(season=season) for word in words), "--out", out, PYTHONUTF8="0")
    assert done.returncode == 0, done.stderr.decode()
    names = [path.name for path in out.rglob("*")]
    assert names
    for name in names:
        assert re.fullmatch(r"\.?[A-Za-z0-9][A-Za-z0-9._-]*[A-Za-z0-9]", name), name
        assert name.split(".")[0].upper() not in RESERVED, name
        assert len(name) < 100
    assert len({name.casefold() for name in names}) == len(names)


def test_the_lines_for_windows_say_the_same() -> None:
    """Each command told for Windows is the one told for others, in that system's paths."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = [block for block in re.findall(r"```\n(.*?)\n```", text, re.DOTALL) if "plan" in block]
    there, windows = blocks[0], blocks[1].replace("\n", " && ")
    turned = there.replace("python3", "py").replace(".venv/bin/", ".venv/Scripts/")
    assert turned.replace("/", "\\") == windows
    assert "write `.venv\\Scripts\\brumal` in place of `.venv/bin/brumal`" in text
    guide = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    assert "on Windows `.venv\\Scripts\\activate`" in guide


def test_no_path_is_put_together_by_hand() -> None:
    """Slashes in file names that are opened would be wrong on another system."""
    for path in (ROOT / "src").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "os.path.join" not in text and 'sep="\\n"' not in text, path
        assert not re.search(r"\bopen\(\s*f?\"[^\"]*/", text), path
