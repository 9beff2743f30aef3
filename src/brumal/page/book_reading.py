"""A keeper's books read in a process of its own, which a hostile one can neither block nor outlive.

The process that plans goes on meanwhile, and one reading that takes too long is ended.
"""

from __future__ import annotations

import asyncio
import multiprocessing
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from brumal.importing.folder_files import FolderFiles
from brumal.importing.into import Reading, read_into
from brumal.importing.questions import Answers, Question
from brumal.processes import begin_helper, end_helpers
from brumal.records.faults import Fault, InputError, Where
from brumal.report.importing.words import (
    asides,
    change_head,
    change_lines,
    refusals,
    statuses,
    summary,
    table_line,
)
from brumal.report.output import changed_since

MOST_UNPACKED = 20_000_000
SECONDS = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """A file as the browser sent it."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class BooksRead:
    """What the page tells of books: read as what, what is asked, and the files to be written."""

    summary: str
    statuses: str
    tables: tuple[str, ...]
    questions: tuple[Question, ...]
    changes: tuple[tuple[str, tuple[str, ...]], ...]
    told: tuple[str, ...]
    files: FolderFiles


async def read_apart(
    folder: Path, books: Sequence[Book], on: date, answers: Answers, seconds: float = SECONDS
) -> BooksRead:
    """Read books for a season folder; nothing is written.

    Raises :class:`InputError` where they cannot be read, or not in so many seconds.
    """
    pool = ProcessPoolExecutor(
        1, mp_context=multiprocessing.get_context("spawn"), initializer=begin_helper
    )
    asked = pool.submit(_read, folder, tuple(books), on, answers)
    try:
        reply = await asyncio.wait_for(asyncio.wrap_future(asked), seconds)
    except (TimeoutError, BrokenProcessPool) as problem:
        raise InputError([_too_much(books, seconds)]) from problem
    finally:
        end_helpers(pool, at_once=True)
    if not isinstance(reply, BooksRead):
        raise InputError(reply)
    return reply


def _read(
    folder: Path, books: Sequence[Book], on: date, answers: Answers
) -> BooksRead | tuple[Fault, ...]:
    """Read books in the process begun for it; faults travel better than what is raised."""
    with TemporaryDirectory() as place:
        paths = [Path(place, book.name) for book in books]
        for path, book in zip(paths, books, strict=True):
            path.write_bytes(book.data)
        try:
            return _told(read_into(folder, paths, on, changed_since, answers, MOST_UNPACKED))
        except InputError as error:
            return error.faults


def _told(reading: Reading) -> BooksRead:
    understood, files = reading.understood, reading.files
    return BooksRead(
        summary=summary(understood),
        statuses=statuses(understood),
        tables=tuple(map(table_line, understood.read_as)),
        questions=(*files.questions, *understood.questions),
        changes=tuple((change_head(each), tuple(change_lines(each))) for each in files.changes),
        told=(*refusals(understood), *asides(understood, files)),
        files=files,
    )


def _too_much(books: Sequence[Book], seconds: float) -> Fault:
    return Fault(
        where=Where(file=", ".join(book.name for book in books)),
        found=f"a book that could not be read in {seconds:.0f} seconds",
        expected="a workbook of one keeper's collection",
        repair="Save the sheets that matter in a book of their own, or use `brumal import`.",
    )
