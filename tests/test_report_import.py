"""What an import tells: on the terminal, on the page, and in import.yaml."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from brumal.cli import main

BOOK = """Name,Sex,Morph,Hatched,Parents,Grams,Notes
<b>Ada</b>,F,Clown,14/07/2019,,1710,
Rook,M,Clown,30/06/2018,,940,SOLD
Kid & Co,F,Clown,22/08/2022,Petra x Ned,155,
"""
PAIR = "dam-sire.which-is-which.book-csv.parents"


@pytest.fixture
def told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> tuple[Path, str, str]:
    (tmp_path / "book.csv").write_text(BOOK)
    words = ["import", str(tmp_path / "book.csv"), "--into", str(tmp_path / "season")]
    assert main([*words, "--on", "2026-11-27", "--out", str(tmp_path / "out")]) == 0
    screen = " ".join(capsys.readouterr().out.split())
    return tmp_path, screen, (tmp_path / "out" / "import.html").read_text()


def test_each_question_names_sheet_cell_and_the_key_of_its_answer(
    told: tuple[Path, str, str],
) -> None:
    folder, screen, page = told
    answers = yaml.safe_load((folder / "season" / "import.yaml").read_text())["answers"]
    assert set(answers) == {"status.notes-read.book-csv", PAIR}
    assert all(key in screen and key in page for key in answers)
    assert "G3: Rook 'SOLD', taken as sold" in screen
    assert "One of: Petra x Ned, Ned x Petra E4: Kid & Co 'Petra x Ned'" in screen


def test_the_page_is_whole_and_escaped(told: tuple[Path, str, str]) -> None:
    _, _, page = told
    assert "&lt;b&gt;Ada" in page or "<b>Ada" not in page
    assert "<script" not in page
    assert "Hatched = hatched (day first)" in page


def test_a_pair_is_answered_with_the_dam_first(told: tuple[Path, str, str]) -> None:
    folder, _, _ = told
    path = folder / "season" / "import.yaml"
    data = yaml.safe_load(path.read_text())
    data["answers"][PAIR] = "Petra x Ned"
    path.write_text(yaml.safe_dump(data))
    words = ["import", str(folder / "book.csv"), "--into", str(folder / "season")]
    assert main([*words, "--on", "2026-11-27", "--out", str(folder / "out")]) == 0
    assert "Kid & Co,female,Petra,Ned" in (folder / "season" / "animals.csv").read_text()


def test_a_day_that_is_none_is_a_wrong_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["import", "book.csv", "--into", "season", "--on", "3/4/2026"])
    assert stopped.value.code == 1
    assert "is no date such as 2026-12-01" in capsys.readouterr().err
