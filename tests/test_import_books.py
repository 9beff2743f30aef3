"""Thirty keepers' books, frozen before the importer was written, against the truth beside each."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from brumal.cli import main
from brumal.pipeline import prepare
from brumal.records.animals import Status
from brumal.records.faults import InputError
from brumal.rules.table import judge_animal, may_breed
from import_truth import (
    FOLDERS,
    ON,
    Imported,
    asked,
    books_of,
    differences,
    fits,
    truth_of,
    understood,
)

READ = [folder for folder in FOLDERS if truth_of(folder)["exit"] == 0]
REFUSED = [folder for folder in FOLDERS if truth_of(folder)["exit"] == 1]


def by_name(folder: Path) -> str:
    return folder.name


def imported(folder: Path, tmp_path: Path) -> tuple[int, Path]:
    into = tmp_path / "my-season"
    words = ["import", *map(str, books_of(folder)), "--into", str(into), "--on", ON.isoformat()]
    return main([*words, "--out", str(tmp_path / "out")]), into


@pytest.mark.parametrize("folder", READ, ids=by_name)
def test_all_that_is_sure_is_imported_and_no_wrong_value_is_written(
    folder: Path, tmp_path: Path
) -> None:
    before = {path: path.read_bytes() for path in books_of(folder)}
    code, into = imported(folder, tmp_path)
    assert code == 0
    assert differences(truth_of(folder), Imported.read(into)) == []
    assert {path: path.read_bytes() for path in books_of(folder)} == before


@pytest.mark.parametrize("folder", READ, ids=by_name)
def test_each_cell_in_doubt_is_asked_about_and_no_other(folder: Path) -> None:
    truth = truth_of(folder)
    questions = list(asked(understood(folder)))
    unasked = [e for e in truth["unclear"] if not any(fits(one, e) for one in questions)]
    assert not unasked
    entries = truth["unclear"] + truth["may_ask"]
    needless = [
        one
        for one in questions
        if one.about != "status" and not any(fits(one, entry) for entry in entries)
    ]
    assert not needless


@pytest.mark.parametrize("folder", REFUSED, ids=by_name)
def test_a_book_without_animals_writes_nothing(folder: Path, tmp_path: Path) -> None:
    code, into = imported(folder, tmp_path)
    assert code == 1
    assert not into.exists()
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("folder", REFUSED, ids=by_name)
def test_a_folder_that_is_there_stays_as_it_was(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "my-season"
    into.mkdir()
    (into / "animals.csv").write_text("id,sex,morph\nmine,female,Normal\n")
    code, _ = imported(folder, tmp_path)
    assert code == 1
    assert [path.name for path in into.iterdir()] == ["animals.csv"]
    assert (into / "animals.csv").read_text() == "id,sex,morph\nmine,female,Normal\n"


@pytest.mark.parametrize("folder", READ, ids=by_name)
def test_an_animal_in_doubt_is_not_planned(folder: Path, tmp_path: Path) -> None:
    _, into = imported(folder, tmp_path)
    try:
        prepared = prepare(into)
    except InputError as error:
        pytest.fail("\n".join(map(str, error.faults)))
    held = [a for a in prepared.records.collection if a.status is Status.UNCLEAR]
    assert not any(may_breed(judge_animal(animal, prepared.rules)) for animal in held)


def test_sixty_two_animals_pass_check_with_ten_questions_at_most(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = next(path for path in FOLDERS if path.name == "sixty_two")
    copy = tmp_path / "book"
    shutil.copytree(folder, copy)
    assert len(understood(copy).questions) <= 10
    _, into = imported(copy, tmp_path)
    assert main(["check", str(into)]) == 0
    assert "No errors: 62 animals, 286 weighings, 28 clutches" in capsys.readouterr().out
