"""The one writer of entries among a keeper's own tables: events and weights.

An entry stands in the journal before it stands in its table, and counts once however often it is
sent. Every other byte of a table stays, and so does the version that the keeper last left: it is
kept as ``NAME.before``. Workbooks are never edited: entries for one wait in ``TABLE-to-copy.csv``.
"""

from __future__ import annotations

import hashlib
import shutil
import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from uuid import uuid4

from brumal.records.animals import EventKind
from brumal.records.cells import quote
from brumal.records.csv_rows import new_csv, with_rows, without_row
from brumal.records.event_table import EVENTS
from brumal.records.faults import Fault, InputError, Where, is_error
from brumal.records.files import WINDOWS
from brumal.records.journal import Entry, Journal, add_to_journal, read_journal
from brumal.records.read import read_season
from brumal.records.tables import Table, TableShape, read_table
from brumal.records.weight_table import WEIGHTS
from brumal.records.whole import put_whole

SHAPES: Mapping[str, TableShape] = {"events": EVENTS, "weights": WEIGHTS}
READ = (".csv", ".xlsx", ".yaml", ".yml")
FaultsOf = Callable[[Path, date | None], Iterable[Fault]]
OPEN = "Is a file open in a spreadsheet program? What was entered is kept and offered again."
TO_COPY = "-to-copy"
Key = frozenset[tuple[str, str]]
_one_at_a_time = threading.RLock()


def new_entry(table: str, cells: Mapping[str, str], id_: str = "") -> Entry:
    """Return an entry of ``events`` or ``weights``, spaces trimmed, under an id of its own.

    Raises ``KeyError`` for another table or column.
    """
    shape = SHAPES[table]
    if not set(cells) <= set(shape.columns):
        raise KeyError(", ".join(sorted(set(cells) - set(shape.columns))))
    id_ = id_ or cells.get("id") or uuid4().hex[:12]
    told = {name: " ".join(text.split()) for name, text in cells.items()}
    told = {name: text for name, text in told.items() if text}
    return Entry(id=id_, table=table, cells={**told, "id": id_} if table == "events" else told)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What came of entering: the files written, and the ids that stood there before.

    What was ``known`` was not written again.
    """

    files: tuple[str, ...] = ()
    known: tuple[str, ...] = ()


def season_faults(folder: Path, on: date | None) -> tuple[Fault, ...]:
    """Return every fault of a season folder as far as its tables alone tell."""
    return read_season(folder, on)[1]


def enter(
    folder: Path,
    entries: Sequence[Entry],
    at: datetime,
    on: date | None = None,
    faults_of: FaultsOf = season_faults,
) -> Entered:
    """Enter rows into a season folder, all or none.

    ``at`` is the time to note in the journal; ``on`` the day that the season is seen from. What
    was taken back or let go stays so. Raises :class:`InputError` with every fault that
    ``faults_of`` finds in the folder with the entries and not without them; then nothing is
    written. Where a file cannot be written (a spreadsheet program holds it), the entries stand in
    the journal all the same and :func:`missing` offers them.
    """
    with _one_at_a_time:
        journal = read_journal(folder)
        _refuse_other(entries, journal)
        tables = _Tables(folder)
        new = [
            entry
            for entry in dict((entry.id, entry) for entry in entries).values()
            if entry.id not in journal.done and not tables.holds(entry)
        ]
        for entry in new:
            tables.add(entry)
        tables.refuse_faulty(on, faults_of)
        unknown = [entry for entry in new if entry.id not in journal.entries]
        _note(folder, at, [_entered(entry) for entry in unknown])
        return tables.put(journal, at, [entry.id for entry in entries if entry not in new])


def missing(folder: Path) -> tuple[Entry, ...]:
    """Return entries that stand in the journal and no longer in their table, oldest first.

    They vanished when a file that had been open meanwhile was saved over them, or were deleted.
    """
    tables = _Tables(folder)
    return tuple(entry for entry in read_journal(folder).standing if not tables.takes(entry))


def let_go(folder: Path, ids: Iterable[str], at: datetime) -> None:
    """Note that entries which vanished are not wanted back."""
    with _one_at_a_time:
        _note(folder, at, [{"kind": "let_go", "id": id_} for id_ in ids])


def take_back(
    folder: Path,
    id_: str,
    at: datetime,
    on: date | None = None,
    faults_of: FaultsOf = season_faults,
) -> Entered:
    """Take an entry back: an event by a row ``withdrawn``, a weighing by taking its row out.

    Raises :class:`InputError` where it is not there as it was entered.
    """
    with _one_at_a_time:
        journal = read_journal(folder)
        entry = journal.entries.get(id_)
        if id_ in journal.done:
            return Entered(known=(id_,))
        if entry is None:
            raise InputError([_no_entry(folder, id_)])
        tables = _Tables(folder)
        if tables.holds(entry):
            tables.take(entry, at.date())
            tables.refuse_faulty(on, faults_of)
        _note(folder, at, [{"kind": "withdrawn", "id": id_}])
        return tables.put(journal, at, [])


@dataclass(slots=True)
class _Tables:
    """The tables of a folder, and what their files are to hold."""

    folder: Path
    found: dict[str, Table | None] = field(default_factory=dict)
    files: dict[str, bytes] = field(default_factory=dict)
    said: dict[str, Counter[Key]] = field(default_factory=dict)

    def of(self, name: str) -> Table | None:
        """Return a table as it stands; raises :class:`InputError` where it cannot be read."""
        if name not in self.found:
            shape = SHAPES[name]
            self.found[name] = table = self._table(shape)
            beside = self._table(replace(shape, stem=f"{name}{TO_COPY}"))
            rows = [row for each in (table, beside) if each is not None for row in each.rows]
            self.said[name] = Counter(_key(row.cells) for row in rows)
        return self.found[name]

    def _table(self, shape: TableShape) -> Table | None:
        table, faults = read_table(self.folder, shape)
        errors = [fault for fault in faults if is_error(fault)]
        if errors:
            raise InputError(errors)
        return table

    def holds(self, entry: Entry) -> bool:
        """Say whether an entry stands in its table, by its id or, without one, by its cells."""
        self.of(entry.table)
        return any(self.said[entry.table][key] > 0 for key in _keys(entry))

    def takes(self, entry: Entry) -> bool:
        """Say the same, each row standing for one entry alone."""
        self.of(entry.table)
        said = self.said[entry.table]
        key = next((key for key in _keys(entry) if said[key] > 0), None)
        if key is not None:
            said[key] -= 1
        return key is not None

    def add(self, entry: Entry) -> None:
        """Add the row of an entry.

        Raises :class:`InputError` where the file's encoding lacks letters of it.
        """
        shape, file = SHAPES[entry.table], self._file(entry.table)
        before = self._bytes(file)
        if before is None:
            self.files[file] = new_csv(shape.columns, [entry.cells])
            return
        try:
            self.files[file] = with_rows(before, shape, [entry.cells])
        except UnicodeEncodeError as problem:
            letters = str(problem.object)[problem.start : problem.end]
            raise InputError([_no_letters(file, letters)]) from problem

    def take(self, entry: Entry, day: date) -> None:
        """Take the row of an entry back."""
        if entry.table == "events":
            said = {"date": max(day.isoformat(), entry.cells["date"]), "id": entry.id}
            said |= {"animal": entry.cells["animal"], "event": EventKind.WITHDRAWN.value}
            self.add(Entry(id=entry.id, table="events", cells=said))
            return
        file = self._file(entry.table)
        before = self._bytes(file)
        after = None if before is None else without_row(before, SHAPES[entry.table], entry.cells)
        if after is None:
            raise InputError([_changed_row(file, entry)])
        self.files[file] = after

    def _file(self, name: str) -> str:
        table = self.of(name)
        if table is None:
            return f"{name}.csv"
        is_csv = table.file.casefold().endswith(".csv")
        return table.file if is_csv else f"{name}{TO_COPY}.csv"

    def _bytes(self, file: str) -> bytes | None:
        if file in self.files:
            return self.files[file]
        path = self.folder / file
        return path.read_bytes() if path.is_file() else None

    def refuse_faulty(self, on: date | None, faults_of: FaultsOf) -> None:
        """Raise :class:`InputError` with the errors that the folder as it would be has anew."""
        if not self.files:
            return
        with tempfile.TemporaryDirectory() as stage:
            copy = Path(stage) / self.folder.resolve().name
            copy.mkdir()
            for path in self.folder.iterdir():
                if path.suffix.casefold() in READ and path.is_file():
                    shutil.copy(path, copy / path.name)
            known = {str(fault) for fault in faults_of(copy, on)}
            for name, content in self.files.items():
                (copy / name).write_bytes(content)
            faults = [
                fault
                for fault in faults_of(copy, on)
                if is_error(fault) and str(fault) not in known
            ]
        if faults:
            raise InputError(faults)

    def put(self, journal: Journal, at: datetime, known: Sequence[str]) -> Entered:
        """Write the files, the keeper's own versions kept beside them."""
        files = dict(self.files)
        for name in self.files:
            before = self.folder / name
            if before.is_file() and _digest(before.read_bytes()) != journal.wrote.get(name):
                files[f"{name}.before"] = before.read_bytes()
        if files:
            try:
                put_whole(self.folder, files)
            except OSError as problem:
                raise InputError([_unwritable(self.folder, problem, OPEN)]) from problem
            _note(
                self.folder,
                at,
                [
                    {"kind": "wrote", "file": name, "sha256": _digest(content)}
                    for name, content in self.files.items()
                ],
            )
        return Entered(files=tuple(sorted(self.files)), known=tuple(known))


def _key(cells: Mapping[str, str]) -> Key:
    """Return what tells a row from others: its id, else its cells, letter case forgiven."""
    id_ = cells.get("id", "")
    told = {"id": id_} if id_ else cells
    return frozenset((name, text.casefold()) for name, text in told.items() if text)


def _keys(entry: Entry) -> tuple[Key, Key]:
    """Return the keys that the row of an entry may have, should its id have been cleared."""
    told = {name: text for name, text in entry.cells.items() if name != "id"}
    return _key({"id": entry.id}), _key(told)


def _note(folder: Path, at: datetime, lines: Sequence[Mapping[str, object]]) -> None:
    try:
        add_to_journal(folder, at, lines)
    except OSError as problem:
        raise InputError([_unwritable(folder, problem, "Nothing was written.")]) from problem


def _entered(entry: Entry) -> dict[str, object]:
    return {
        "kind": "entered",
        "id": entry.id,
        "table": entry.table,
        "cells": dict(entry.cells),
    }


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _refuse_other(entries: Collection[Entry], journal: Journal) -> None:
    """Refuse an id that names something else already."""
    faults = [
        Fault(
            where=Where(file=f"{entry.table}.csv", column="id"),
            found=quote(entry.id),
            expected="an id of its own for each entry",
            repair="It names another entry already. Nothing was written.",
        )
        for entry in entries
        if entry.id in journal.entries and journal.entries[entry.id] != entry
    ]
    if faults:
        raise InputError(faults)


def _no_entry(folder: Path, id_: str) -> Fault:
    return Fault(
        where=Where(file=folder.name),
        found=quote(id_),
        expected="the id of an entry that brumal wrote",
        repair="What you wrote yourself you correct in your file, or take back by a row withdrawn.",
    )


def _no_letters(file: str, letters: str) -> Fault:
    return Fault(
        where=Where(file=file),
        found=f"{quote(letters)}, which the file's Windows encoding ({WINDOWS}) cannot hold",
        expected="letters of that encoding",
        repair="Save the file as UTF-8, or write it without. Nothing was written.",
    )


def _changed_row(file: str, entry: Entry) -> Fault:
    return Fault(
        where=Where(file=file),
        found=f"no row as it was entered: {', '.join(entry.cells.values())}",
        expected="that row, to take it out",
        repair="It was changed since: correct it in the file.",
    )


def _unwritable(folder: Path, problem: OSError, repair: str) -> Fault:
    return Fault(
        where=Where(file=str(folder)),
        found=problem.strerror or type(problem).__name__,
        expected="a folder and files that can be written",
        repair=repair,
    )
