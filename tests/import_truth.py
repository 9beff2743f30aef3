"""The keepers' books of ``import_books`` with their truths, and what an import made of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import yaml
from openpyxl.utils import range_boundaries

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.genotypes import Morph
from brumal.genetics.notation.parse import parse_morph
from brumal.importing.understand import Understood, understand
from brumal.records.animal_table import ANIMALS
from brumal.records.clutch_table import CLUTCHES
from brumal.records.tables import TableShape, read_table
from brumal.records.weight_table import WEIGHTS

BOOKS = Path(__file__).parent / "import_books"
FOLDERS = sorted(path for path in BOOKS.iterdir() if path.is_dir())
ON = date(2026, 11, 27)
CATALOGUE, _ = load_catalogue()
Truth = dict[str, Any]
Rows = list[dict[str, str]]


def truth_of(folder: Path) -> Truth:
    return yaml.safe_load((folder / "truth.yaml").read_text(encoding="utf-8"))


def books_of(folder: Path) -> list[Path]:
    return [folder / name for name in truth_of(folder)["book"]]


def understood(folder: Path) -> Understood:
    return understand(books_of(folder), CATALOGUE, ON)


def key_of(animal: Truth) -> str:
    return animal.get("id") or animal["name"]


def morph_of(text: str) -> Morph:
    morph, problems = parse_morph(text, CATALOGUE)
    assert morph is not None, problems
    return morph


@dataclass(frozen=True)
class Imported:
    """The tables of a season folder as our own reader reads them."""

    animals: Rows
    weights: Rows
    clutches: Rows
    season: Truth

    @classmethod
    def read(cls, folder: Path) -> Imported:
        season = yaml.safe_load((folder / "season.yaml").read_text("utf-8"))
        return cls(
            animals=_rows(folder, ANIMALS),
            weights=_rows(folder, WEIGHTS),
            clutches=_rows(folder, CLUTCHES),
            season=season,
        )


def _rows(folder: Path, shape: TableShape) -> Rows:
    table, faults = read_table(folder, shape)
    assert not faults, faults
    return [dict(row.cells) for row in table.rows] if table else []


@dataclass(frozen=True)
class Asked:
    """One row of a question, by sheet and cells."""

    sheet: str
    about: str
    cells: tuple[int, int, int, int] | None


def asked(read: Understood) -> Iterator[Asked]:
    for question in read.questions:
        for row in question.rows:
            cells = range_boundaries(row.place) if row.place else None
            yield Asked(question.sheet, question.about, cells)


def fits(one: Asked, entry: Truth) -> bool:
    """Say whether a question names the sheet and a cell of the rows or columns of an entry."""
    if one.sheet != entry["sheet"] or one.cells is None:
        return False
    left, top, right, bottom = range_boundaries(entry["cells"])
    first, above, last, below = one.cells
    columns = first <= right and left <= last
    rows = above <= bottom and top <= below
    return columns and rows


def differences(truth: Truth, found: Imported) -> list[str]:
    """Return every way in which the tables are not what the truth says."""
    keys = match_animals(truth, found)
    return [
        *_herd(truth, found, keys),
        *_animals(truth, found, keys),
        *_weights(truth, found, keys),
        *_clutches(truth, found, keys),
        *_prices(truth, found),
    ]


def match_animals(truth: Truth, found: Imported) -> dict[str, str]:
    """Return the truth's key of each animal written, by its id there."""
    matched = {}
    for animal in truth["animals"]:
        for row in found.animals:
            own = row["id"] == animal["id"] if "id" in animal else row["name"] == animal["name"]
            if own:
                matched[row["id"]] = key_of(animal)
    return matched


def _herd(truth: Truth, found: Imported, keys: dict[str, str]) -> Iterator[str]:
    for row in found.animals:
        if row["id"] not in keys:
            yield f"an animal that is not in the truth: {row}"
        if {row["id"], row["name"]} & set(truth["not_animals"]):
            yield f"no animal: {row}"
    for animal in truth["animals"]:
        if key_of(animal) not in keys.values():
            yield f"an animal that is missing: {animal}"


def _animals(truth: Truth, found: Imported, keys: dict[str, str]) -> Iterator[str]:
    wanted = {key_of(animal): animal for animal in truth["animals"]}
    unclear = {
        key
        for entry in truth["unclear"]
        if entry["what"] in ("status", "morph")
        for key in ([entry["of"]] if isinstance(entry["of"], str) else entry["of"])
    }
    for row in found.animals:
        key = keys.get(row["id"], "")
        animal = wanted.get(key, {})
        for column in ("name", "sex", "hatched"):
            if row.get(column, "") != str(animal.get(column, "")):
                yield f"{key} {column}: {row.get(column)!r}, not {animal.get(column)!r}"
        for column in ("dam", "sire"):
            parent = row.get(column, "")
            if keys.get(parent, parent) != animal.get(column, ""):
                yield f"{key} {column}: {parent!r}, not {animal.get(column)!r}"
        yield from _morph(row, animal, key)
        status = row["status"]
        if "status" in animal and status not in (animal["status"], "unclear"):
            yield f"{key} status: {status}, not {animal['status']}"
        if "status" not in animal and status not in ("breeder", "unclear"):
            yield f"{key} status: {status}, which the book does not say"
        if key in unclear and status != "unclear":
            yield f"{key} is planned or settled as {status} without an answer"
        price = re.search(r"asking price ([\d.]+)", row.get("notes", ""))
        if (float(price[1]) if price else None) != animal.get("price"):
            yield f"{key} price: {price}, not {animal.get('price')}"


def _morph(row: dict[str, str], animal: Truth, key: str) -> Iterator[str]:
    text = row["morph"]
    if "morph" not in animal:
        if text:
            yield f"{key} morph: {text!r}, which the book does not say"
    elif not text or morph_of(text) != morph_of(animal["morph"]):
        yield f"{key} morph: {text!r}, not {animal['morph']!r}"


def _weights(truth: Truth, found: Imported, keys: dict[str, str]) -> Iterator[str]:
    wanted = {(w["animal"], w["date"]): w["grams"] for w in truth["weights"]}
    wanted |= {(key_of(a), ""): a["weight_g"] for a in truth["animals"] if "weight_g" in a}
    written = {(keys.get(w["animal"]), w["date"]): float(w["grams"]) for w in found.weights}
    written |= {
        (keys.get(row["id"]), ""): float(row["weight_g"])
        for row in found.animals
        if row.get("weight_g")
    }
    for place, grams in wanted.items():
        if place not in written:
            yield f"a weighing that is missing: {place} {grams}"
        elif abs(written[place] - grams) > 1:
            yield f"weighing {place}: {written[place]}, not {grams}"
    yield from (f"a weighing that the book does not hold: {p}" for p in written.keys() - wanted)


def _clutches(truth: Truth, found: Imported, keys: dict[str, str]) -> Iterator[str]:
    columns = ("dam", "sire", "laid", "eggs", "slugs", "hatched")
    wanted = {tuple(str(c.get(column, "")) for column in columns) for c in truth["clutches"]}
    written = {
        tuple(keys.get(c.get(column, ""), c.get(column, "")) for column in columns[:2])
        + tuple(c.get(column, "") for column in columns[2:])
        for c in found.clutches
    }
    yield from (f"a clutch that is missing: {each}" for each in sorted(wanted - written))
    yield from (f"a clutch that the book does not hold: {e}" for e in sorted(written - wanted))


def _prices(truth: Truth, found: Imported) -> Iterator[str]:
    values = found.season.get("values") or {}
    listed = [(each["morph"], each["value"]) for each in values.get("wanted", ())]
    if "base" in values:
        listed.append(("Normal", values["base"]))
    written = {str(morph_of(morph)): value for morph, value in listed}
    wanted = {
        str(morph_of(each["morph"])): each.get("value")
        or {"female": each["female"], "male": each["male"]}
        for each in truth["prices"]
    }
    if written != wanted:
        yield f"prices: {written}, not {wanted}"
    if (found.season.get("limits") or {}) != truth.get("limits", {}):
        yield f"limits: {found.season.get('limits')}, not {truth.get('limits')}"
