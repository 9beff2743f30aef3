"""An import on the terminal and as a page; both read results only."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from brumal.importing.folder_files import FolderFiles
from brumal.importing.questions import Question
from brumal.importing.understand import Understood
from brumal.report.importing.words import (
    MANY,
    asides,
    change_head,
    change_lines,
    question_place,
    refusals,
    row_line,
    statuses,
    summary,
    table_line,
)
from brumal.report.page import render
from brumal.report.terminal import heading, indented, item


def print_import(understood: Understood, files: FolderFiles, screen: Console) -> None:
    """Print what was read as what, the questions and the changes."""
    screen.print(summary(understood), style="bold")
    screen.print(statuses(understood))
    heading("Read as", screen)
    for read in understood.read_as:
        item(table_line(read), screen)
    _print_questions([*understood.questions, *files.questions], screen)
    for change in files.changes:
        heading(change_head(change), screen)
        lines = change_lines(change)
        for line in lines[:MANY]:
            item(line, screen)
        if len(lines) > MANY:
            item(f"and {len(lines) - MANY} more", screen)
    told = [*refusals(understood), *asides(understood, files)]
    if told:
        heading("Also", screen)
    for line in told:
        item(line, screen)
    screen.print()


def _print_questions(questions: Sequence[Question], screen: Console) -> None:
    asked = [each for each in questions if each.open]
    if asked:
        heading(f"Questions ({len(asked)})", screen)
    for question in asked:
        item(f"{question_place(question)}: {question.text} Until then: {question.until}.", screen)
        if question.choices:
            indented(f"One of: {', '.join(question.choices)}", screen)
        for place in range(min(len(question.rows), MANY)):
            indented(row_line(question, place), screen)
        if len(question.rows) > MANY:
            indented(f"and {len(question.rows) - MANY} more", screen)
        indented(f"Answer in import.yaml: answers, {question.key}", screen)


def import_page(understood: Understood, files: FolderFiles, season: str) -> str:
    """Return ``import.html``: self-contained, no script, no network."""
    questions = [*understood.questions, *files.questions]
    return render(
        "import.html",
        season=season,
        summary=summary(understood),
        statuses=statuses(understood),
        tables=[table_line(read) for read in understood.read_as],
        open=[each for each in questions if each.open],
        answered=[each for each in questions if not each.open],
        changes=[(change_head(each), change_lines(each)) for each in files.changes],
        told=[*refusals(understood), *asides(understood, files)],
        place=question_place,
        row=row_line,
    )
