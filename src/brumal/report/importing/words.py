"""An import in words: what was read as what, what is asked, what changed."""

from __future__ import annotations

from collections import Counter

from brumal.importing.again import TableChanges
from brumal.importing.folder_files import FolderFiles
from brumal.importing.questions import Question
from brumal.importing.tables import USED, Column, Kind, Table
from brumal.importing.understand import ReadAs, Understood

MANY = 12
_PLURALS = {"animals": "animals", "weights": "weighings", "clutches": "clutches"}


def summary(understood: Understood) -> str:
    """Return what was read, in one sentence."""
    counts = (
        (len(understood.animals), "animal"),
        (len(understood.weights), "weighing"),
        (len(understood.clutches), "clutch"),
        (len(understood.prices.prices), "price"),
    )
    told = [f"{n} {word}{_s(word) if n != 1 else ''}" for n, word in counts if n]
    asked = open_questions(understood)
    questions = "no question" if not asked else f"{asked} question{'s' if asked > 1 else ''}"
    return f"{', '.join(told)}; {questions}."


def _s(word: str) -> str:
    return "es" if word.endswith("ch") else "s"


def open_questions(understood: Understood) -> int:
    """Return how many questions have a row without an answer."""
    return sum(bool(question.open) for question in understood.questions)


def statuses(understood: Understood) -> str:
    """Return how many animals have which status."""
    counts = Counter(row["status"] for row in understood.animals)
    told = [f"{count} {status}" for status, count in counts.most_common()]
    return f"Status: {', '.join(told)}. Only breeder and loan are planned."


def table_line(read: ReadAs) -> str:
    """Return how one table was read."""
    table = read.table
    place = f"{table.grid.sheet}, row {table.header_row}"
    if table.kind is Kind.NOTHING:
        return f"{place}: not used."
    used = USED[table.kind]
    columns = [_column(read, each) for each in table.columns if each.field in used]
    unused = [each.heading for each in table.columns if each.field not in used and each.heading]
    text = f"{place}: {table.kind}, {len(table.rows)} rows. {'; '.join(_short(columns))}."
    if unused:
        text += f" Not used: {', '.join(_short(unused))}."
    return text + _skipped(table)


def _column(read: ReadAs, column: Column) -> str:
    place = f"{read.table.grid.sheet}/{column.heading}"
    facts = [fact for fact in (read.orders.get(place), read.units.get(place)) if fact]
    facts += ["by its content"] if column.by_content else []
    aside = f" ({', '.join(facts)})" if facts else ""
    return f"{column.heading} = {column.field}{aside}"


def _short(texts: list[str]) -> list[str]:
    return texts if len(texts) <= MANY else [*texts[:MANY], f"and {len(texts) - MANY} more"]


def _skipped(table: Table) -> str:
    told = []
    if table.totals:
        told.append(f"totals in row {', '.join(map(str, table.totals))}")
    headings = [each for each in dict.fromkeys(table.sections.values()) if each]
    if headings:
        told.append(f"headings {', '.join(headings)}")
    return f" Left out: {'; '.join(told)}." if told else ""


def question_place(question: Question) -> str:
    """Return where a question's cells stand."""
    if question.sheet == question.file:
        return question.file
    return f"{question.file}, {question.sheet}"


def row_line(question: Question, place: int) -> str:
    """Return one row of a question: cell, what it is about, what was found."""
    row = question.rows[place]
    where = f"{row.place}: " if row.place else ""
    found = f" {row.found!r}" if row.found and row.found != row.item else ""
    choices = "" if question.choices or not row.choices else f" ({' or '.join(row.choices)}?)"
    answered = f" Answered: {row.answer}." if row.answer else ""
    taken = f", taken as {row.taken}" if row.taken and not row.answer else ""
    item = row.item if row.item != row.place else ""
    return f"{where}{f'{item}{found}'.strip()}{taken}{choices}{answered}"


def refusals(understood: Understood) -> list[str]:
    """Return the answers that could not be used."""
    return [
        f"The answer {answer!r} for {item} ({about}) is not understood; it is asked again."
        for (about, item), answer in understood.refused.items()
    ]


def change_lines(change: TableChanges) -> list[str]:
    """Return how a table differs, one line a row or cell."""
    lines = [f"new: {key}" for key in change.new] + [f"gone: {key}" for key in change.gone]
    lines += [
        f"{each.row}, {each.column}: {each.old or 'empty'} -> {each.new or 'empty'}"
        for each in change.changed
    ]
    return lines


def change_head(change: TableChanges) -> str:
    """Return the sentence over a table's differences."""
    counts = f"{len(change.new)} new, {len(change.gone)} gone, {len(change.changed)} cells changed"
    if change.kept:
        return f"{change.file} is yours (edited by hand) and stays; the book differs: {counts}."
    return f"{change.file}: {counts} since it was written."


def asides(understood: Understood, files: FolderFiles) -> list[str]:
    """Return what is told and needs no answer."""
    told = list(understood.notes)
    if understood.unread:
        told.append(f"Sheets without a table that is known: {', '.join(understood.unread)}.")
    if files.left:
        told.append(f"Left as they are, edited by hand: {', '.join(files.left)}.")
    return told
