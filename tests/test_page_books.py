"""Workbooks brought to the page: the folder that the command makes, and nothing lost."""

from __future__ import annotations

import asyncio
import html
import io
import json
import re
import shutil
import zipfile
from datetime import date
from functools import partial
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from brumal.cli import main
from brumal.page.book_reading import Book, read_apart
from brumal.page.desk import Desk
from brumal.page.doors import Doors
from brumal.page.server import application
from brumal.records.faults import InputError
from brumal.records.read import read_season
from import_truth import BOOKS, ON, books_of
from season_outputs import DEMO

HOST = "127.0.0.1:8620"
OURS = {"origin": f"http://{HOST}"}
BOOK = BOOKS / "status_of_all_kinds"


class Page:
    """A client of the page of a season folder."""

    def __init__(self, folder: Path, on: date = ON) -> None:
        self.folder = folder
        records, _ = read_season(folder, on)
        assert records is not None
        desk = Desk(folder, records, folder.parent / "out" / "pencil.json", on)
        app = application(desk, partial(Doors, hosts=(HOST,), port=8620, key="key"))
        self.client = TestClient(app, base_url=f"http://{HOST}", follow_redirects=False)
        self.client.get("/?key=key")

    def bring(self, *books: tuple[str, bytes]) -> tuple[int, str]:
        sent = [("book", book) for book in books]
        answer = self.client.post("/books", files=sent, headers=OURS)
        return answer.status_code, html.unescape(answer.text)

    def shown(self) -> str:
        return html.unescape(self.client.get("/books").text)

    def answer(self, fields: dict[str, str], do: str = "write") -> int:
        (number,) = re.findall(r'name="number" value="(\d+)"', self.shown())
        form = {"number": number, "do": do, **fields}
        return self.client.post("/books/answers", data=form, headers=OURS).status_code


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file()}


def imported(books: list[Path], into: Path) -> Path:
    words = ["import", *map(str, books), "--into", str(into), "--on", ON.isoformat()]
    assert main([*words, "--out", str(into.parent / "results")]) == 0
    return into


def brought(folder: Path) -> list[tuple[str, bytes]]:
    return [(path.name, path.read_bytes()) for path in books_of(folder)]


def test_a_book_brought_is_the_folder_of_the_command_answers_too(tmp_path: Path) -> None:
    first = imported(books_of(BOOKS / "polish_tabs"), tmp_path / "first" / "my-season")
    ours = Path(shutil.copytree(first, tmp_path / "ours" / "my-season"))
    page = Page(ours)
    before = files_of(ours)
    assert page.bring(*brought(BOOK))[0] == 303
    assert files_of(ours) == before
    assert "nothing written yet" in page.shown()
    assert page.answer({}) == 303

    theirs = Path(shutil.copytree(first, tmp_path / "theirs" / "my-season"))
    imported(books_of(BOOK), theirs)
    assert files_of(ours) == files_of(theirs) != before

    # The same answer, by the form and by hand in import.yaml.
    names = re.findall(r'name="(\["status[^>]*\])" value=', page.shown())
    key, item = next(found for found in map(json.loads, names) if len(found) == 2)
    assert page.answer({json.dumps([key, item]): "sold"}, do="look") == 303
    assert files_of(ours) == files_of(theirs)
    assert page.answer({json.dumps([key, item]): "sold"}) == 303
    told = theirs / "import.yaml"
    lines = told.read_text("utf-8").splitlines()
    at = lines.index(f"  {key}:")
    row = next(n for n in range(at, len(lines)) if lines[n].strip(' "').startswith(item))
    lines[row] = lines[row].replace(":", ": sold", 1)
    told.write_text("\n".join(lines) + "\n", encoding="utf-8")
    imported(books_of(BOOK), theirs)
    made = files_of(theirs)
    made.pop("import.yaml.before")
    found = files_of(ours)
    found.pop(".written-by-brumal.json"), made.pop(".written-by-brumal.json")
    assert found == made


def test_tables_edited_by_hand_stay_until_the_keeper_takes_the_books(tmp_path: Path) -> None:
    season = Path(shutil.copytree(DEMO, tmp_path / "demo"))
    page, before = Page(season), files_of(season)
    assert page.bring(*brought(BOOK))[0] == 303
    text = page.shown()
    assert "animals.csv is yours (edited by hand) and stays; the book differs" in text
    assert '["files.edited", "animals.csv"]' in text
    assert page.answer({}, do="look") == 303
    assert files_of(season) == before
    take = {json.dumps(["files.edited", name]): "take" for name in ("animals.csv", "weights.csv")}
    assert page.answer(take) == 303
    after = files_of(season)
    assert after["animals.csv.before"] == before["animals.csv"]
    assert after["animals.csv"] != before["animals.csv"]
    assert after["season.yaml"] == before["season.yaml"]
    assert all(after[name] == before[name] for name in before if f"{name}.before" not in after)


def bomb() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("xl/workbook.xml", b" " * 21_000_000)
    return packed.getvalue()


def test_what_is_no_book_is_refused_in_words_and_nothing_is_written(tmp_path: Path) -> None:
    season = Path(shutil.copytree(DEMO, tmp_path / "demo"))
    page, before = Page(season), files_of(season)
    for sent, said in (
        ([("bomb.xlsx", bomb())], "more than 20 MB when unpacked"),
        ([("photo.xlsx", b"\xff\xd8\xff" * 50)], "cannot be opened"),
        ([("photo.jpg", b"\xff\xd8\xff")], "a .jpg file"),
        ([("../animals.csv", b"one;two\n")], "no table of animals"),
        ([(f"{'a' * 130}.csv", b"id\n")], "plain letters"),
        ([("a.csv", b"id\n"), ("A.csv", b"id\n")], "two books of one name"),
        ([("", b"")], "no file"),
    ):
        status, text = page.bring(*sent)
        assert status == 422 and "Nothing was written." in text and said in text, sent[0][0]
    assert page.client.post("/books", files={"book": ("a.csv", b"id\n")}).status_code == 403
    large = {"book": ("a.csv", b"x" * 20_000_001)}
    assert page.client.post("/books", files=large, headers=OURS).status_code == 413
    stale = page.client.post("/books/answers", data={"number": "1", "do": "write"}, headers=OURS)
    assert stale.status_code == 409
    assert files_of(season) == before
    assert not (tmp_path / "animals.csv").exists()


def test_a_reading_that_takes_too_long_is_ended(tmp_path: Path) -> None:
    books = [Book(name=name, data=data) for name, data in brought(BOOK)]
    with pytest.raises(InputError) as ended:
        asyncio.run(read_apart(tmp_path, books, ON, {}, seconds=0.01))
    assert "could not be read in" in str(ended.value.faults[0])
