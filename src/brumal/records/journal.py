"""The journal of what brumal entered among a keeper's tables: each entry stands here first.

A line a happening, JSON, only ever added to. What a line holds beside ``at``, the time:

``entered``: id, table, cells; ``withdrawn`` (taken back) and ``let_go`` (gone from its table, and
the keeper does not want it back): id; ``wrote``: file and the SHA-256 of its bytes.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from brumal.records.faults import Fault, InputError, Where

JOURNAL = ".brumal-journal.jsonl"
_KEYS = {"entered": ("id", "table"), "wrote": ("file", "sha256")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row for a table (``events`` or ``weights``), under an id of its own."""

    id: str
    table: str
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """What stands in the journal: entries by id, in the order of their coming.

    ``done`` are the ids taken back or let go; ``wrote`` maps files to the SHA-256 of their bytes as
    brumal last left them.
    """

    entries: Mapping[str, Entry] = field(default_factory=dict)
    done: frozenset[str] = frozenset()
    wrote: Mapping[str, str] = field(default_factory=dict)

    @property
    def standing(self) -> tuple[Entry, ...]:
        """Return the entries that should stand in their tables."""
        return tuple(entry for id_, entry in self.entries.items() if id_ not in self.done)


def read_journal(folder: Path) -> Journal:
    """Read the journal of a season folder; a last line cut short was never written.

    Raises :class:`InputError` where it was damaged.
    """
    path = folder / JOURNAL
    if not path.is_file():
        return Journal()
    entries: dict[str, Entry] = {}
    done: set[str] = set()
    wrote: dict[str, str] = {}
    for line in _lines(path):
        kind = line["kind"]
        if kind == "entered":
            entry = Entry(id=line["id"], table=line["table"], cells=line["cells"])
            entries.setdefault(entry.id, entry)
            done.discard(entry.id)
        elif kind == "wrote":
            wrote[line["file"]] = line["sha256"]
        else:
            done.add(line["id"])
    return Journal(entries=entries, done=frozenset(done), wrote=wrote)


def _lines(path: Path) -> Iterator[dict[str, Any]]:
    data = path.read_bytes()
    whole = data[: data.rfind(b"\n") + 1]
    for number, line in enumerate(whole.split(b"\n")[:-1], start=1):
        try:
            found = json.loads(line.decode("utf-8"))
            texts = [found["kind"], *(found[key] for key in _KEYS.get(found["kind"], ("id",)))]
            if found["kind"] == "entered":
                texts += [*found["cells"], *found["cells"].values()]
            if not all(isinstance(text, str) for text in texts):
                raise TypeError(line)
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as problem:
            raise InputError([_damaged(path, number)]) from problem
        yield found


def _damaged(path: Path, number: int) -> Fault:
    return Fault(
        where=Where(file=path.name, row=number),
        found="a line that brumal did not write",
        expected="the journal of entries as brumal left it",
        repair="Put it back from a copy, or move it away: then what it holds is no longer watched.",
    )


def add_to_journal(folder: Path, at: datetime, lines: Iterable[Mapping[str, object]]) -> None:
    """Add lines, all in one write that has reached the disk when this returns."""
    path = folder / JOURNAL
    text = "".join(
        json.dumps({"at": at.isoformat(timespec="seconds"), **line}, ensure_ascii=False) + "\n"
        for line in lines
    )
    if not text:
        return
    _mend(path)
    with path.open("ab") as stream:
        stream.write(text.encode("utf-8"))
        stream.flush()
        os.fsync(stream.fileno())


def _mend(path: Path) -> None:
    """Take away a last line that was cut short, so that the next one stands alone."""
    if path.is_file():
        data = path.read_bytes()
        if not data.endswith(b"\n"):
            with path.open("r+b") as stream:
                stream.truncate(data.rfind(b"\n") + 1)
