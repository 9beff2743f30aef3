"""The files of the season folder that an import writes, and what it leaves as it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from brumal.importing.again import TableChanges, changes, table_in, told_columns
from brumal.importing.answers import FILE, Earlier, import_text
from brumal.importing.questions import Asked, Question
from brumal.importing.season_text import season_text
from brumal.importing.understand import Understood
from brumal.records.csv_text import csv_text

EDITED = "files.edited"
TAKE = "take"
ALWAYS = {
    "animals": ("id", "name", "sex", "hatched", "dam", "sire", "morph", "status", "notes"),
    "weights": ("animal", "date", "grams"),
    "clutches": ("dam", "sire", "laid", "eggs"),
}
SEASON = "season.yaml"
Changed = Callable[[Path, str], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderFiles:
    """What is to be written: ``files`` by name, and how the tables change.

    ``replaced`` are those among them that were edited by hand: their old text is kept beside.
    ``left`` are files that stay as the keeper made them.
    """

    files: Mapping[str, str]
    replaced: tuple[str, ...]
    changes: tuple[TableChanges, ...]
    left: tuple[str, ...]
    questions: tuple[Question, ...]


@dataclass(slots=True, kw_only=True)
class _Placing:
    """Puts each file among those to be written, or leaves the keeper's and asks."""

    is_edited: Callable[[str], bool]
    said: str | Mapping[str, str]
    files: dict[str, str] = field(default_factory=dict)
    replaced: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    asked: list[Asked] = field(default_factory=list)

    def put(self, file: str, text: str, differs: bool) -> bool:
        """Place a file; say whether it will be written."""
        edited = self.is_edited(file)
        answer = self.said if isinstance(self.said, str) else self.said.get(file, "")
        if edited and answer != TAKE:
            self.left.append(file)
            if differs:
                self.asked.append(_edited(file, answer))
            return False
        self.files[file] = text
        self.replaced += [file] if edited else []
        return True


def folder_files(
    understood: Understood, earlier: Earlier, folder: Path, on: date, changed_since: Changed
) -> FolderFiles:
    """Return the files for a folder; one edited by hand is written only where the keeper says so.

    ``changed_since`` says of a file of the folder whether it is other than brumal wrote it.
    """
    placing = _Placing(
        is_edited=lambda file: changed_since(folder, file), said=earlier.answers.get(EDITED, "")
    )
    differing = [
        found
        for stem, rows in _tables(understood)
        if (found := _place_table(placing, folder, stem, rows)) is not None
    ]
    settings = season_text(understood, folder.resolve().name, on)
    placing.put(SEASON, settings, differs=_differs(folder / SEASON, settings))
    extra = [_question(placing.asked, understood)] if placing.asked else []
    placing.files[FILE] = import_text(understood, _once(earlier), extra)
    if changed_since(folder, FILE):
        placing.replaced.append(FILE)
    return FolderFiles(
        files=placing.files,
        replaced=tuple(placing.replaced),
        changes=tuple(each for each in differing if each),
        left=tuple(placing.left),
        questions=tuple(extra),
    )


def _once(earlier: Earlier) -> Earlier:
    """Leave out which edited files were to be taken from the book: that is asked each time."""
    said = earlier.answers.get(EDITED, "")
    if isinstance(said, str):
        left: str | Mapping[str, str] = "" if said == TAKE else said
    else:
        left = {file: answer for file, answer in said.items() if answer != TAKE}
    others = {key: given for key, given in earlier.answers.items() if key != EDITED}
    return replace(earlier, answers={**others, EDITED: left} if left else others)


def _place_table(
    placing: _Placing, folder: Path, stem: str, rows: Sequence[Mapping[str, str]]
) -> TableChanges | None:
    """Place one table; return how it differs from the one that stands in the folder."""
    standing = table_in(folder, stem)
    if standing is None and not rows:
        return None
    file, old = standing if standing is not None else (f"{stem}.csv", [])
    found = changes(file, stem, old, rows, kept=False)
    if file.casefold().endswith(".csv"):
        text = csv_text(told_columns(rows, ALWAYS[stem]) or ALWAYS[stem], rows)
        written = placing.put(file, text, differs=bool(found))
    else:
        placing.left.append(file)  # a workbook of the keeper's
        written = False
    return None if standing is None else replace(found, kept=not written)


def _differs(path: Path, text: str) -> bool:
    return path.is_file() and path.read_text("utf-8", "replace") != text


def _tables(understood: Understood) -> list[tuple[str, Sequence[Mapping[str, str]]]]:
    return [
        ("animals", understood.animals),
        ("weights", understood.weights),
        ("clutches", understood.clutches),
    ]


def _edited(file: str, answer: str) -> Asked:
    return Asked(item=file, place="", found="edited by hand", answer=answer, choices=("keep", TAKE))


def _question(asked: Sequence[Asked], understood: Understood) -> Question:
    return Question(
        key=EDITED,
        about="file",
        file=", ".join(understood.books),
        sheet="the season folder",
        text="Files that were edited by hand and differ from the book. Keep yours, or take what "
        "the book says (yours is then kept beside it)?",
        until="yours stay as they are",
        rows=tuple(asked),
    )
