"""Questions to the keeper: what is unclear, where it stands, and the answer once it is given.

One cause is one question, however many rows it has. An answer stands in ``import.yaml`` under the
question's key: one word for all its rows, or one for each.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from brumal.importing.grids import Cell, Grid
from brumal.importing.words import plain

Answers = Mapping[str, str | Mapping[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One row of a question: what it is about, where it stands, what was found there.

    ``taken`` is what it is taken as until the keeper answers, empty where left blank.
    """

    item: str
    place: str
    found: str
    answer: str = ""
    choices: tuple[str, ...] = ()
    taken: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One cause of doubt: ``about`` is the column it bears on, ``until`` what holds meanwhile."""

    key: str
    about: str
    file: str
    sheet: str
    text: str
    until: str
    rows: tuple[Asked, ...]

    @property
    def choices(self) -> tuple[str, ...]:
        """Return the answers that all rows have in common; empty where they differ."""
        common = {row.choices for row in self.rows}
        return common.pop() if len(common) == 1 else ()

    @property
    def open(self) -> tuple[Asked, ...]:
        """Return the rows that have no answer yet."""
        return tuple(row for row in self.rows if not row.answer)


@dataclass(slots=True)
class _Draft:
    about: str
    grid: Grid
    text: str
    until: str
    rows: dict[tuple[str, str], Asked] = field(default_factory=dict)


class Asker:
    """Gathers questions by cause, and hands out the answers that the keeper gave before."""

    def __init__(self, answers: Answers) -> None:
        self.answers = answers
        self.refused: dict[tuple[str, str], str] = {}
        self._drafts: dict[str, _Draft] = {}

    def ask(
        self,
        cause: str,
        about: str,
        grid: Grid,
        cells: Iterable[Cell],
        *,
        item: str,
        text: str,
        until: str,
        column: str = "",
        choices: tuple[str, ...] = (),
        taken: str = "",
    ) -> str:
        """Ask about cells of a sheet; return the keeper's answer, empty while there is none.

        ``cause`` tells questions apart that bear on the same column (``column`` is its heading);
        ``item`` is what the row is about.
        """
        key = ".".join(slug(part) for part in (about, cause, grid.sheet, column) if slug(part))
        at = list(cells)
        place = _span(at)
        answer = self._answer(key, item)
        found = next((cell.text for cell in at if cell.text), "")
        draft = self._drafts.setdefault(key, _Draft(about, grid, text, until))
        draft.rows.setdefault(
            (item, place),
            Asked(item=item, place=place, found=found, answer=answer, choices=choices, taken=taken),
        )
        return answer

    def reject(self, about: str, item: str, answer: str) -> None:
        """Note that an answer could not be used."""
        self.refused[about, item] = answer

    def _answer(self, key: str, item: str) -> str:
        given = self.answers.get(key, "")
        if isinstance(given, str):
            return given
        wanted = plain(item)
        return next((text for name, text in given.items() if plain(name) == wanted), "")

    def questions(self) -> tuple[Question, ...]:
        """Return every question in the order in which it came up."""
        return tuple(
            Question(
                key=key,
                about=draft.about,
                file=draft.grid.file,
                sheet=draft.grid.sheet,
                text=draft.text,
                until=draft.until,
                rows=tuple(draft.rows.values()),
            )
            for key, draft in self._drafts.items()
        )


def slug(text: str) -> str:
    """Return a text as a part of a key: plain, with hyphens."""
    return plain(text).replace(" ", "-")


def _span(cells: list[Cell]) -> str:
    if not cells:
        return ""
    first, last = cells[0], cells[-1]
    return first.place if first.place == last.place else f"{first.place}:{last.place}"
