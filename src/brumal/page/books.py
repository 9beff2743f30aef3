"""A workbook dropped on the page: read, its questions asked as a form, then written.

Nothing is written before the keeper says so, and what was edited by hand only where the keeper
takes what the book says for it.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from brumal.importing.grids import SUFFIXES
from brumal.importing.questions import Answers, Question
from brumal.page.book_reading import Book, BooksRead, read_apart
from brumal.page.desk import Desk
from brumal.page.paper import page
from brumal.page.sheet import sheet_of
from brumal.records.faults import Fault, InputError, Where
from brumal.report.importing.words import question_place, row_line
from brumal.report.output import write_results

MOST_BOOKS = 10
MOST_FIELDS = 10_000
LONGEST_NAME = 120
STALE = "The books were read again since this page was shown. Look once more."


@dataclass(frozen=True, slots=True, kw_only=True)
class RowField:
    """One row of a question: its field's name, what it is about, its answer, what may be said."""

    name: str
    text: str
    answer: str
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionFields:
    """A question as fields: ``whole`` is the name of one answer for all rows, if there are more."""

    place: str
    question: Question
    whole: str
    rows: tuple[RowField, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Books read last, the answers given on the page, and what was written of them."""

    number: int
    books: tuple[Book, ...]
    answers: Answers
    read: BooksRead
    written: tuple[str, ...] = ()


@dataclass
class Books:
    """The answers to the addresses of workbooks; what is held is gone when the command ends."""

    desk: Desk
    held: Held | None = None
    _one: asyncio.Lock = field(default_factory=asyncio.Lock)

    @property
    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/books", self.shown),
            Route("/books", self.bring, methods=["POST"]),
            Route("/books/answers", self.answered, methods=["POST"]),
        ]

    async def shown(self, _: Request) -> Response:
        """Show what was read last, with its questions."""
        return self._page("", 200)

    async def bring(self, request: Request) -> Response:
        """Read the books that were dropped or chosen."""
        async with request.form(max_files=MOST_BOOKS, max_fields=1) as form:
            sent = [each for each in form.getlist("book") if isinstance(each, UploadFile)]
            books = [Book(name=_own_name(each), data=await each.read()) for each in sent]
        async with self._one:
            trouble = await self._read(books, {})
        return self._page(trouble, 422) if trouble else _to_books()

    async def answered(self, request: Request) -> Response:
        """Read the books again with the answers; write what follows where that is asked for."""
        async with request.form(max_files=0, max_fields=MOST_FIELDS) as form, self._one:
            held = self.held
            if held is None or form.get("number") != str(held.number):
                return self._page(STALE, 409)
            answers = {**held.answers, **answers_in(form, held.read.questions)}
            trouble = await self._read(held.books, answers)
            if not trouble and form.get("do") == "write":
                trouble = await self._write()
        if trouble:
            return self._page(trouble, 422)
        await self.desk.look_again()
        return _to_books()

    async def _read(self, books: Sequence[Book], answers: Answers) -> str:
        """Read books and hold them; return what went wrong, in words."""
        try:
            _check_names(books)
            on = self.desk.on or date.today()
            read = await read_apart(self.desk.folder, books, on, answers)
        except InputError as error:
            return error.words
        number = 1 if self.held is None else self.held.number + 1
        self.held = Held(number=number, books=tuple(books), answers=answers, read=read)
        return ""

    async def _write(self) -> str:
        """Write the files of what is held, all or none; return what went wrong, in words."""
        held = self.held
        assert held is not None
        files = held.read.files
        try:
            await asyncio.to_thread(
                write_results, self.desk.folder, files.files, kept_beside=files.replaced
            )
        except InputError as error:
            return error.words
        self.held = Held(
            number=held.number,
            books=held.books,
            answers=held.answers,
            read=held.read,
            written=tuple(sorted(files.files)),
        )
        return ""

    def _page(self, trouble: str, status: int) -> Response:
        held = self.held
        answer = page(
            "books.html",
            sheet=sheet_of(self.desk),
            held=held,
            names=[] if held is None else [book.name for book in held.books],
            asked=[] if held is None else list(map(fields_of, held.read.questions)),
            accept=",".join(SUFFIXES),
            trouble=trouble,
        )
        answer.status_code = status
        return answer


def fields_of(question: Question) -> QuestionFields:
    """Return a question as fields, one for each thing it asks about."""
    first: dict[str, int] = {}
    for at, row in enumerate(question.rows):
        first.setdefault(row.item, at)
    rows = tuple(
        RowField(
            name=_name(question, item),
            text=row_line(question, at),
            answer=question.rows[at].answer,
            choices=question.rows[at].choices,
        )
        for item, at in first.items()
    )
    return QuestionFields(
        place=question_place(question),
        question=question,
        whole=_name(question) if len(rows) > 1 else "",
        rows=rows,
    )


def answers_in(form: FormData, questions: Sequence[Question]) -> dict[str, str | dict[str, str]]:
    """Return the answers of a form by question; one left empty takes an earlier one back."""
    found: dict[str, str | dict[str, str]] = {}
    for question in questions:
        whole = _said(form, _name(question))
        rows = {row.item: _said(form, _name(question, row.item)) for row in question.rows}
        told = {item: said or whole for item, said in rows.items() if said or whole}
        found[question.key] = told if any(rows.values()) else whole
    return found


def _said(form: FormData, name: str) -> str:
    return " ".join(str(form.get(name, "")).split())


def _name(question: Question, *item: str) -> str:
    """Return the name of a field: the question's key and, for one row, what the row is about."""
    return json.dumps([question.key, *item])


def _own_name(file: UploadFile) -> str:
    """Return a file's name without the folders that some browsers tell."""
    return (file.filename or "").replace("\\", "/").rsplit("/", 1)[-1].strip()


def _check_names(books: Sequence[Book]) -> None:
    """Raise :class:`InputError` for books that are none or cannot be told apart."""
    names = [book.name for book in books]
    if not any(names):
        raise InputError([_no_book("no file", "one workbook or more")])
    for name in names:
        if len(name) > LONGEST_NAME or not name.isprintable() or name in ("", ".", ".."):
            raise InputError([_no_book(f"{name!r}", "a file name of plain letters")])
    if len({name.casefold() for name in names}) < len(names):
        raise InputError([_no_book("two books of one name", "a name of its own for each")])


def _no_book(found: str, expected: str) -> Fault:
    return Fault(where=Where(file="workbook"), found=found, expected=expected)


def _to_books() -> Response:
    return RedirectResponse("/books", status_code=303)
