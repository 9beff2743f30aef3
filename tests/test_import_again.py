"""Importing again: what changed in the book is told, answers hold, and hand-edited files stay."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from brumal.cli import main
from brumal.records import whole

BOOK = """Name,Sex,Morph,Hatched,Dad,Mum,Grams,Weighed,Notes
Bramble,F,Clown,14/07/2019,,,1710,18/10/2026,
Nettle,F,het Clown,22/08/2021,Rook ?,Bramble,1580,18/10/2026,
Tansy,F,Mojave,03/06/2020,,,1690,18/10/2026,SOLD
Rook,M,Clown,30/06/2018,,,940,19/10/2026,
"""


def imports(tmp_path: Path, book: str | None = None) -> tuple[int, Path]:
    path = tmp_path / "book.csv"
    if book is not None:
        path.write_text(book)
    into = tmp_path / "season"
    words = ["import", str(path), "--into", str(into), "--on", "2026-11-27"]
    return main([*words, "--out", str(tmp_path / "out")]), into


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def answers(into: Path) -> dict[str, object]:
    return yaml.safe_load((into / "import.yaml").read_text())["answers"]


def answer(into: Path, old: str, new: str) -> None:
    text = (into / "import.yaml").read_text()
    assert old in text
    (into / "import.yaml").write_text(text.replace(old, new))


def test_importing_again_without_a_change_changes_nothing(tmp_path: Path) -> None:
    imports(tmp_path, BOOK)
    before = content(tmp_path / "season")
    imports(tmp_path)
    assert content(tmp_path / "season") == before


def test_new_gone_and_changed_rows_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    imports(tmp_path, BOOK)
    capsys.readouterr()
    book = BOOK.replace("1710,18/10", "1745,20/11").replace("Tansy", "Thyme")
    _, into = imports(tmp_path, book)
    told = " ".join(capsys.readouterr().out.split())
    assert "animals.csv: 1 new, 1 gone, 0 cells changed" in told
    assert "new: Thyme" in told
    assert "gone: Tansy" in told
    assert "new: Bramble 2026-11-20" in told
    assert "Thyme" in (into / "animals.csv").read_text()


def test_answers_are_used_and_kept(tmp_path: Path) -> None:
    _, into = imports(tmp_path, BOOK)
    assert "Nettle,Nettle,female,Bramble,," in (into / "animals.csv").read_text()
    answer(into, "    Nettle:", "    Nettle: Rook")
    answer(into, "    Tansy:", "    Tansy: breeder")
    _, into = imports(tmp_path)
    written = (into / "animals.csv").read_text()
    assert "Nettle,Nettle,female,Bramble,Rook" in written
    assert "Mojave,breeder" in written
    assert answers(into)["sire.who.book-csv.dad"] == {"Nettle": "Rook"}
    imports(tmp_path)
    assert (into / "animals.csv").read_text() == written


def test_one_answer_may_stand_for_the_whole_question(tmp_path: Path) -> None:
    _, into = imports(tmp_path, BOOK.replace("14/07/2019", "03/07/2019").replace("22/0", "02/0")
                      .replace("30/06/2018", "04/06/2018"))  # fmt: skip
    assert "2019-07-03" not in (into / "animals.csv").read_text()
    key = "hatched.order.book-csv.hatched"
    assert key in answers(into)
    data = yaml.safe_load((into / "import.yaml").read_text())
    data["answers"][key] = "day first"
    (into / "import.yaml").write_text(yaml.safe_dump(data))
    imports(tmp_path)
    assert "2019-07-03" in (into / "animals.csv").read_text()
    assert answers(into)[key] == "day first"


def test_an_answer_that_cannot_be_used_is_told_and_asked_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, into = imports(tmp_path, BOOK)
    answer(into, "    Tansy:", "    Tansy: gone fishing")
    capsys.readouterr()
    imports(tmp_path)
    assert "'gone fishing'" in capsys.readouterr().out
    assert "Mojave,sold" in (into / "animals.csv").read_text()


def test_how_a_column_is_read_may_be_changed(tmp_path: Path) -> None:
    _, into = imports(tmp_path, BOOK)
    answer(into, "{heading: Grams, field: weight, unit: g}", "{heading: Grams, field: tub}")
    imports(tmp_path)
    assert not (into / "weights.csv").exists() or "1710" not in (into / "weights.csv").read_text()


def test_an_answer_to_a_question_that_is_gone_is_kept(tmp_path: Path) -> None:
    _, into = imports(tmp_path, BOOK)
    answer(into, "    Nettle:", "    Nettle: Rook")
    imports(tmp_path, BOOK.replace("Rook ?", "Rook"))
    assert answers(into)["sire.who.book-csv.dad"] == {"Nettle": "Rook"}


def test_a_table_edited_by_hand_stays_and_the_difference_is_asked_about(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, into = imports(tmp_path, BOOK)
    mine = (into / "animals.csv").read_text().replace("Mojave", "Super Mojave")
    (into / "animals.csv").write_text(mine)
    capsys.readouterr()
    code, _ = imports(tmp_path)
    told = " ".join(capsys.readouterr().out.split())
    assert code == 0
    assert (into / "animals.csv").read_text() == mine
    assert "animals.csv is yours (edited by hand) and stays" in told
    assert "Tansy, morph: Super Mojave -> Mojave" in told
    assert answers(into)["files.edited"] == {"animals.csv": None}
    answer(into, "    animals.csv:", "    animals.csv: take")
    imports(tmp_path)
    assert "Super Mojave" not in (into / "animals.csv").read_text()
    assert (into / "animals.csv.before").read_text() == mine


def test_no_edited_table_is_lost_however_often_the_book_is_taken(tmp_path: Path) -> None:
    _, into = imports(tmp_path, BOOK)
    mine = []
    for look in ("Super Mojave", "Pastel Mojave"):
        text = (into / "animals.csv").read_text()
        mine.append(text.replace(",Mojave,", f",{look},"))
        (into / "animals.csv").write_text(mine[-1])
        imports(tmp_path)
        assert (into / "animals.csv").read_text() == mine[-1]
        answer(into, "    animals.csv:", "    animals.csv: take")
        imports(tmp_path)
        assert (into / "animals.csv").read_text() == text
        assert "files.edited" not in (answers(into) or {})
    kept = [(into / f"animals.csv.before{number}").read_text() for number in ("", "-2")]
    assert kept == mine


def test_a_column_that_is_not_used_can_be_named(tmp_path: Path) -> None:
    book = BOOK.replace("Morph", "What it is").replace("Mojave", "Mojave poss het Pied")
    _, into = imports(tmp_path, book)
    assert "Clown" not in (into / "animals.csv").read_text()
    answer(into, "# - {heading: What it is, field: }", "- {heading: What it is, field: morph}")
    imports(tmp_path)
    assert "Clown" in (into / "animals.csv").read_text()


def test_several_weights_named_by_month_are_asked_about_by_column(tmp_path: Path) -> None:
    book = BOOK.replace("Grams,Weighed", "Weight Aug,Nov weight").replace(",18/10/2026", ",1780")
    _, into = imports(tmp_path, book.replace(",19/10/2026", ",950"))
    assert answers(into)["weight.month-only.book-csv"] == {"G1": None, "H1": None}
    assert not (into / "weights.csv").exists()
    answer(into, "    G1:", "    G1: 2026-08-09")
    answer(into, "    H1:", "    H1: 2026-11-08")
    imports(tmp_path)
    written = (into / "weights.csv").read_text()
    assert "Bramble,2026-08-09,1710" in written
    assert "Bramble,2026-11-08,1780" in written


def test_a_key_of_an_undated_weight_has_no_blank_at_its_end(tmp_path: Path) -> None:
    book = BOOK.replace("Grams,Weighed", "Grams,Weight").replace(",18/10/2026", ",1780")
    _, into = imports(tmp_path, book.replace(",19/10/2026", ",950"))
    assert set(answers(into)["weight.two-a-day.book-csv"]) >= {"Bramble", "Rook"}


def test_settings_edited_by_hand_stay(tmp_path: Path) -> None:
    _, into = imports(tmp_path, BOOK)
    mine = (into / "season.yaml").read_text() + "\n# mine\n"
    (into / "season.yaml").write_text(mine)
    imports(tmp_path, BOOK.replace("1710", "1711"))
    assert (into / "season.yaml").read_text() == mine


def test_the_edited_import_file_is_kept_beside_the_new(tmp_path: Path) -> None:
    _, into = imports(tmp_path, BOOK)
    mine = (into / "import.yaml").read_text() + "# a note of mine\n"
    (into / "import.yaml").write_text(mine)
    imports(tmp_path)
    assert (into / "import.yaml.before").read_text() == mine


def test_a_broken_import_file_is_a_fault_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, into = imports(tmp_path, BOOK)
    (into / "import.yaml").write_text("tables: [\n")
    before = content(into)
    code, _ = imports(tmp_path, BOOK.replace("1710", "1999"))
    assert code == 1
    assert "import.yaml" in capsys.readouterr().err
    assert content(into) == before


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError])
def test_an_interrupted_write_leaves_the_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop: type[BaseException]
) -> None:
    _, into = imports(tmp_path, BOOK)
    before = content(into)
    replace, moves = Path.replace, []

    def stops_at_the_fifth(self: Path, target: Path) -> Path:
        moves.append(self)
        if len(moves) == 5:
            raise stop
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", stops_at_the_fifth)
    code, _ = imports(tmp_path, BOOK.replace("1710", "1999").replace("Tansy", "Thyme"))
    assert code != 0
    assert len(moves) > 5
    assert content(into) == before


def test_an_interrupted_first_write_leaves_no_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stops(**_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(whole.tempfile, "mkdtemp", stops)
    code, into = imports(tmp_path, BOOK)
    assert code == 130
    assert not into.exists()


def test_a_workbook_table_of_the_keepers_is_never_replaced(tmp_path: Path) -> None:
    import openpyxl

    into = tmp_path / "season"
    into.mkdir()
    book = openpyxl.Workbook()
    book.active.append(["id", "sex", "morph"])
    book.active.append(["Bramble", "female", "Clown"])
    book.save(into / "animals.xlsx")
    before = (into / "animals.xlsx").read_bytes()
    code, _ = imports(tmp_path, BOOK)
    assert code == 0
    assert (into / "animals.xlsx").read_bytes() == before
    assert not (into / "animals.csv").exists()


def test_a_table_that_was_empty_is_read_once_it_is_filled(tmp_path: Path) -> None:
    herd = "Name,Sex,Morph\nRook,M,Clown\n,,\nSnake,Date,Grams\n"
    imports(tmp_path, herd)
    _, into = imports(tmp_path, f"{herd}Rook,2026-10-01,940\n")
    assert (into / "weights.csv").read_text() == "animal,date,grams\nRook,2026-10-01,940\n"
