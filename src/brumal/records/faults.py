"""Faults: what is wrong in a keeper's file, where it stands and how to mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a fault matters: an error stops the work, the others are told."""

    ERROR = "error"
    WARNING = "warning"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in a keeper's file.

    ``row`` counts as the spreadsheet does (the header is row 1); in a YAML file it is the line.
    ``column`` is a table's column, or the path of a YAML key (``limits.boxes``).
    """

    file: str
    row: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        parts = [self.file]
        if self.row is not None:
            unit = "line" if self.file.endswith((".yaml", ".yml")) else "row"
            parts.append(f"{unit} {self.row}")
        if self.column is not None:
            parts.append(self.column)
        return ", ".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault, in the keeper's words.

    ``found`` is what stands in the file, ``expected`` what the tool needs there, ``repair`` the
    nearest right spelling or the next thing to do (empty when nothing better than ``expected``
    can be said).
    """

    where: Where
    found: str
    expected: str
    repair: str = ""
    severity: Severity = Severity.ERROR

    def __str__(self) -> str:
        text = f"{self.where}: found {self.found}; expected {self.expected}"
        return f"{text}. {self.repair}" if self.repair else text


class InputError(Exception):
    """The input holds errors; carries every fault found (errors, warnings and notices)."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        count = sum(is_error(fault) for fault in self.faults)
        super().__init__(f"{count} error{'' if count == 1 else 's'} in the input")

    @property
    def words(self) -> str:
        """Return its errors one after the other, without warnings and notices."""
        return " ".join(str(fault) for fault in self.faults if is_error(fault))


MANY = 4
"""So many faults of one cause in one column are told as one."""


def grouped(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Tell faults of one cause in one column as one fault that lists their rows.

    One cause: the same expectation and the same repair, or dates in another form. The order stays
    that of the first of each.
    """
    groups: dict[tuple[str, str | None, str, str, Severity], list[Fault]] = {}
    for fault in faults:
        where, repair = fault.where, _common_repair(fault)
        key = (where.file, where.column, fault.expected, repair, fault.severity)
        groups.setdefault(key, []).append(fault)
    return tuple(
        fault
        for group in groups.values()
        for fault in ([_as_one(group)] if _is_many(group) else group)
    )


A_DATE = "a date as year-month-day"
DATES_REPAIR = (
    "Format the column as dates and save again, or let `brumal import` read your book: it settles "
    "the order of day and month once for the whole column."
)


def _common_repair(fault: Fault) -> str:
    """Return what mends all faults of a cause: of dates in another form, each names its own."""
    return DATES_REPAIR if fault.expected.startswith(A_DATE) else fault.repair


def _is_many(group: list[Fault]) -> bool:
    rows = {fault.where.row for fault in group}
    return len(group) >= MANY and None not in rows and group[0].where.column is not None


def _as_one(group: list[Fault]) -> Fault:
    first = group[0]
    rows = sorted({fault.where.row for fault in group if fault.where.row is not None})
    examples = ", ".join(dict.fromkeys(fault.found for fault in group[:3]))
    return Fault(
        where=Where(file=first.where.file, column=first.where.column),
        found=f"{examples} and more like it in {len(rows)} rows ({_ranges(rows)})",
        expected=first.expected,
        repair=_common_repair(first),
        severity=first.severity,
    )


def _ranges(rows: list[int]) -> str:
    """Write row numbers briefly: ``2-5, 8``."""
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def is_error(fault: Fault) -> bool:
    """Say whether this fault stops the work."""
    return fault.severity is Severity.ERROR


def nearest(
    word: str, known: Iterable[str], count: int = 3, cutoff: float = 0.6
) -> tuple[str, ...]:
    """Return up to ``count`` of the ``known`` words closest to ``word``, closest first.

    ``cutoff`` is the least likeness, from 0 (any word) to 1 (the same word).
    """
    by_folded = {name.casefold(): name for name in known}
    close = difflib.get_close_matches(word.casefold(), by_folded, n=count, cutoff=cutoff)
    return tuple(by_folded[name] for name in close)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a sentence naming the nearest known words, or an empty string."""
    close = nearest(word, known)
    return f"Did you mean {' or '.join(repr(name) for name in close)}?" if close else ""
