"""Importing again: what differs from the tables that stand in the folder, row by row."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from brumal.records.animal_table import ANIMALS
from brumal.records.clutch_table import CLUTCHES
from brumal.records.tables import TableShape, read_table
from brumal.records.weight_table import WEIGHTS

KEYS: Mapping[str, tuple[str, ...]] = {
    "animals": ("id",),
    "weights": ("animal", "date"),
    "clutches": ("dam", "laid"),
}
SHAPES: Mapping[str, TableShape] = {"animals": ANIMALS, "weights": WEIGHTS, "clutches": CLUTCHES}


@dataclass(frozen=True, slots=True, kw_only=True)
class CellChange:
    """One cell that the book says otherwise than the folder."""

    row: str
    column: str
    old: str
    new: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableChanges:
    """How the book differs from a table of the folder; ``kept`` where that was edited by hand."""

    file: str
    new: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    changed: tuple[CellChange, ...] = ()
    kept: bool = False

    def __bool__(self) -> bool:
        return bool(self.new or self.gone or self.changed)


def table_in(folder: Path, stem: str) -> tuple[str, list[dict[str, str]]] | None:
    """Return the file name and the rows of a table that stands in a folder, ``None`` without."""
    if not folder.is_dir():
        return None
    table, faults = read_table(folder, SHAPES[stem])
    if table is None:
        files = [fault.where.file for fault in faults if fault.where.file.startswith(stem)]
        return (files[0], []) if files else None
    return table.file, [dict(row.cells) for row in table.rows]


def changes(
    file: str,
    stem: str,
    old: Iterable[Mapping[str, str]],
    new: Iterable[Mapping[str, str]],
    *,
    kept: bool,
) -> TableChanges:
    """Compare the rows of a table with those that the book gives now."""
    before, after = _by_key(stem, old), _by_key(stem, new)
    columns = SHAPES[stem].columns
    changed = [
        CellChange(row=key, column=column, old=before[key].get(column, ""), new=text)
        for key, row in after.items()
        if key in before
        for column in columns
        if column in row
        for text in [_spaced(row[column])]
        if text != before[key].get(column, "")
    ]
    return TableChanges(
        file=file,
        new=tuple(key for key in after if key not in before),
        gone=tuple(key for key in before if key not in after),
        changed=tuple(changed),
        kept=kept,
    )


def _spaced(text: str) -> str:
    return " ".join(text.split())


def _by_key(stem: str, rows: Iterable[Mapping[str, str]]) -> dict[str, Mapping[str, str]]:
    """Return rows by what they are about; a second row of the same gets a number."""
    found: dict[str, Mapping[str, str]] = {}
    times: Counter[str] = Counter()
    for row in rows:
        key = " ".join(filter(None, (row.get(column, "") for column in KEYS[stem])))
        times[key] += 1
        found[key if times[key] == 1 else f"{key} ({times[key]})"] = row
    return found


def told_columns(rows: Sequence[Mapping[str, str]], always: Sequence[str]) -> list[str]:
    """Return the columns that are always written and those that hold anything, in their order."""
    names = dict.fromkeys(column for row in rows for column in row)
    return [name for name in names if name in always or any(row.get(name) for row in rows)]
