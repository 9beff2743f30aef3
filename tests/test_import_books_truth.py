"""The keepers' books open, and each truth agrees with itself and with the cells it names."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
import yaml
from openpyxl.utils import range_boundaries

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.notation.parse import parse_morph

BOOKS = Path(__file__).parent / "import_books"
FOLDERS = sorted(path for path in BOOKS.iterdir() if path.is_dir())
CATALOGUE, _ = load_catalogue()
KEYS: dict[str, frozenset[str] | None] = {
    "book": None,
    "mess": None,
    "exit": None,
    "limits": None,
    "animals": frozenset(
        ["id", "name", "sex", "hatched", "dam", "sire", "morph", "status", "weight_g", "price"],
    ),
    "outside": None,
    "weights": frozenset({"animal", "date", "grams"}),
    "clutches": frozenset({"dam", "sire", "laid", "eggs", "slugs", "hatched"}),
    "prices": frozenset({"morph", "value", "female", "male"}),
    "unclear": frozenset({"sheet", "cells", "of", "what", "why", "readings"}),
    "may_ask": frozenset({"sheet", "cells", "of", "what", "why"}),
    "not_animals": None,
}
STATUSES = {"breeder", "holdback", "retired", "loan", "outside", "sold", "died"}
ABOUT = set(
    [
        "id",
        "sex",
        "hatched",
        "dam",
        "sire",
        "dam,sire",
        "morph",
        "status",
        "weight_g",
        "weight",
        "clutch",
        "price",
        "animal",
    ],
)

Truth = dict[str, Any]
Grid = list[list[object]]


@pytest.fixture(params=FOLDERS, ids=lambda folder: folder.name)
def folder(request: pytest.FixtureRequest) -> Path:
    return request.param


@pytest.fixture
def truth(folder: Path) -> Truth:
    return yaml.safe_load((folder / "truth.yaml").read_text(encoding="utf-8"))


def text_of(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252")


def grid_of_text(path: Path) -> Grid:
    text = text_of(path.read_bytes())
    mark = max(";\t,", key=text.count)
    return [list(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=mark)]


def sheets_of(path: Path) -> dict[str, Grid]:
    if path.suffix in {".xlsx", ".xlsm"}:
        book = openpyxl.load_workbook(path)
        return {sheet.title: [list(row) for row in sheet.values] for sheet in book.worksheets}
    if path.suffix == ".ods":
        frames = pd.read_excel(path, sheet_name=None, header=None, engine="odf")
        return {
            str(name): frame.astype(object).where(frame.notna(), None).to_numpy().tolist()
            for name, frame in frames.items()
        }
    return {path.name: grid_of_text(path)}


def key_of(animal: Truth) -> str:
    return animal.get("id") or animal["name"]


def known_keys(truth: Truth) -> set[str]:
    return {key_of(animal) for animal in truth["animals"]} | set(truth["outside"])


def asked_keys(entry: Truth) -> list[str]:
    return entry["of"] if isinstance(entry["of"], list) else [entry["of"]]


def all_rows(truth: Truth) -> Iterator[tuple[str, Truth]]:
    for part, keys in KEYS.items():
        if keys is not None and isinstance(truth.get(part), list):
            yield from ((part, row) for row in truth[part])


def test_there_are_thirty_books_and_no_two_are_messy_alike() -> None:
    messes = [yaml.safe_load((path / "truth.yaml").read_text("utf-8"))["mess"] for path in FOLDERS]
    assert len(messes) == 30
    assert len(set(messes)) == 30
    assert all(mess.strip() and "\n" not in mess for mess in messes)


def test_books_and_truths_are_as_they_were_frozen() -> None:
    lines = (BOOKS / "frozen.sha256").read_text(encoding="utf-8").splitlines()
    frozen = {name: digest for digest, name in (line.split("  ", 1) for line in lines)}
    found = {
        path.relative_to(BOOKS).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for folder in FOLDERS
        for path in folder.iterdir()
    }
    assert found == frozen


def test_a_truth_has_the_keys_of_the_readme_and_no_others(truth: Truth) -> None:
    assert set(truth) - {"limits"} == set(KEYS) - {"limits"}
    for part, row in all_rows(truth):
        assert set(row) <= (KEYS[part] or set()), (part, row)


def test_a_folder_holds_its_book_and_its_truth_alone(folder: Path, truth: Truth) -> None:
    assert {path.name for path in folder.iterdir()} == {*truth["book"], "truth.yaml"}


def test_each_file_of_a_book_opens(folder: Path, truth: Truth) -> None:
    for name in truth["book"]:
        sheets = sheets_of(folder / name)
        assert sheets
        assert any(
            cell not in (None, "") for grid in sheets.values() for row in grid for cell in row
        )


def test_exit_1_means_no_animals_and_5_to_62_else(truth: Truth) -> None:
    assert truth["exit"] in {0, 1}
    count = len(truth["animals"])
    assert count == 0 if truth["exit"] else 5 <= count <= 62


def test_an_animal_is_told_by_one_key(truth: Truth) -> None:
    keys = Counter(key_of(animal) for animal in truth["animals"])
    assert not [key for key, times in keys.items() if times > 1]
    assert not set(keys) & set(truth["outside"])
    assert not set(keys) & set(truth["not_animals"])


def test_whatever_refers_to_an_animal_finds_it(truth: Truth) -> None:
    keys = known_keys(truth)
    named = [row.get(part) for row in truth["animals"] for part in ("dam", "sire")]
    named += [row.get(part) for row in truth["clutches"] for part in ("dam", "sire")]
    named += [row["animal"] for row in truth["weights"]]
    named += [
        key
        for entry in truth["unclear"] + truth["may_ask"]
        if entry["what"] != "animal"
        for key in asked_keys(entry)
        if key != "*"
    ]
    assert not {key for key in named if key is not None} - keys


def test_dams_are_females_and_sires_are_males(truth: Truth) -> None:
    sexes = {key_of(animal): animal.get("sex") for animal in truth["animals"]}
    for row in truth["animals"] + truth["clutches"]:
        assert sexes.get(row.get("dam")) in {None, "female"}, row
        assert sexes.get(row.get("sire")) in {None, "male"}, row


def test_values_are_in_the_words_of_the_tables(truth: Truth) -> None:
    for animal in truth["animals"]:
        assert animal.get("sex", "male") in {"female", "male"}
        assert animal.get("status", "breeder") in STATUSES
        assert re.fullmatch(r"20\d\d(-\d\d(-\d\d)?)?", animal.get("hatched", "2020"))
        assert animal.get("weight_g", 1000) >= 15
    for weighing in truth["weights"]:
        assert date(2015, 1, 1) < date.fromisoformat(weighing["date"]) <= date(2026, 11, 27)
        assert 15 <= weighing["grams"] <= 5000
    for clutch in truth["clutches"]:
        assert date.fromisoformat(clutch["laid"]) <= date(2026, 11, 27)
        assert clutch.get("slugs", 0) + clutch.get("hatched", 0) <= clutch["eggs"]


def test_young_hatched_well_after_their_parents(truth: Truth) -> None:
    years = {key_of(a): int(a["hatched"][:4]) for a in truth["animals"] if "hatched" in a}
    for animal in truth["animals"]:
        parents = [years[p] for p in (animal.get("dam"), animal.get("sire")) if p in years]
        assert all(years[key_of(animal)] - year >= 1 for year in parents), animal
    for clutch in truth["clutches"]:
        parents = [years[p] for p in (clutch.get("dam"), clutch.get("sire")) if p in years]
        assert all(int(clutch["laid"][:4]) - year >= 2 for year in parents), clutch


def test_each_animal_is_weighed_once_a_day(truth: Truth) -> None:
    days = Counter((row["animal"], row["date"]) for row in truth["weights"])
    assert not [day for day, times in days.items() if times > 1]


def test_morphs_of_animals_and_prices_are_notation(truth: Truth) -> None:
    for row in truth["animals"] + truth["prices"]:
        if "morph" in row:
            morph, problems = parse_morph(row["morph"], CATALOGUE)
            assert morph is not None, problems


def test_prices_have_one_value_or_one_a_sex(truth: Truth) -> None:
    for row in truth["prices"]:
        assert set(row) - {"morph"} in ({"value"}, {"female", "male"})


def test_doubts_stand_in_cells_that_hold_something(folder: Path, truth: Truth) -> None:
    sheets = {k: v for name in truth["book"] for k, v in sheets_of(folder / name).items()}
    for entry in truth["unclear"] + truth["may_ask"]:
        left, top, right, bottom = range_boundaries(entry["cells"])
        rows = sheets[entry["sheet"]][top - 1 : bottom]
        cells = [cell for row in rows for cell in row[left - 1 : right]]
        assert any(cell not in (None, "") for cell in cells), entry
        assert entry["what"] in ABOUT
        assert entry["why"]


def test_what_is_unclear_is_not_in_the_truth_as_well(truth: Truth) -> None:
    animals = {key_of(animal): animal for animal in truth["animals"]}
    for entry in truth["unclear"]:
        for key in asked_keys(entry):
            assert entry["what"] not in animals.get(key, {}), entry
