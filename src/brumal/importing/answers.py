"""``import.yaml``: what was understood and what was answered, read and written.

The keeper may change how a table or column is read and may answer questions; the next import uses
both. Answers to questions that do not come up any more are kept.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import yaml

from brumal.importing.questions import Answers, Question
from brumal.importing.tables import Kind, Table
from brumal.importing.understand import Understood
from brumal.records.faults import Fault, InputError, Where
from brumal.records.files import decode, read_source
from brumal.records.yaml_text import read_yaml

FILE = "import.yaml"
_PLAIN = re.compile(r"[A-Za-z][\w .-]*")
_HEAD = """\
# What `brumal import` understood of your books, and your answers. You may edit this file: the next
# import of the same books uses it. Lines with # are notes; they are written anew each time.
version: 1
"""
_TABLES = """\
# How each table is read: animals, weights, clutches, prices or nothing. A column's field may be
# changed, its dates said to be `day first` or `month first`, its weights to be g, kg, oz or lb. A
# column that is not used stands behind #: take the # away and write its field, such as morph.
tables:
"""
_ANSWERS = """\
# Your answers. Write one behind a colon; one answer may stand behind the question's own key for
# all of its rows. What is left empty is asked again.
answers:
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """What an earlier ``import.yaml`` says: answers by question, and how to read what."""

    answers: Answers = field(default_factory=dict)
    told: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def read_earlier(folder: Path) -> Earlier:
    """Read ``import.yaml`` of a folder; without one nothing is said.

    Raises :class:`InputError` where it is no YAML or not shaped like one.
    """
    path = folder / FILE
    if not path.is_file():
        return Earlier()
    source, faults = read_source(path, FILE)
    text, more = decode(source) if source is not None else (None, [])
    document, last = read_yaml(text, FILE) if text is not None else (None, [])
    data = document.data if document is not None else None
    if not isinstance(data, dict):
        found = [*faults, *more, *last] or [_shape("no keys")]
        raise InputError(found)
    return Earlier(answers=_answers(data.get("answers")), told=_told(data.get("tables")))


def _shape(found: str) -> Fault:
    return Fault(
        where=Where(file=FILE),
        found=found,
        expected="`tables` and `answers`, as an import writes them",
        repair="Correct it, or move it away: without it everything is asked again.",
    )


def _answers(data: object) -> dict[str, str | Mapping[str, str]]:
    if data is None:
        return {}
    if not isinstance(data, dict):
        raise InputError([_shape("answers that are no list of keys")])
    found: dict[str, str | Mapping[str, str]] = {}
    for key, said in data.items():
        if isinstance(said, str):
            found[key] = said
        elif isinstance(said, dict):
            rows = {item: text for item, text in said.items() if isinstance(text, str)}
            if rows:
                found[key] = rows
        elif said is not None:
            raise InputError([_shape(f"a list as the answer to {key}")])
    return found


def _told(data: object) -> dict[str, Mapping[str, str]]:
    if data is None:
        return {}
    if not isinstance(data, dict):
        raise InputError([_shape("tables that are no list of keys")])
    found: dict[str, Mapping[str, str]] = {}
    for key, said in data.items():
        if not isinstance(said, dict):
            continue
        if isinstance(said.get("read as"), str):
            found[key] = {"read as": said["read as"]}
        sheet = key.rsplit("!", 1)[0]
        for column in said.get("columns") or ():
            if not isinstance(column, dict) or "heading" not in column:
                raise InputError([_shape(f"a column of {key} without its heading")])
            facts = {name: text for name, text in column.items() if isinstance(text, str)}
            found[f"{sheet}/{facts.pop('heading')}"] = facts
    return found


def import_text(understood: Understood, earlier: Earlier, extra: Sequence[Question] = ()) -> str:
    """Return ``import.yaml``; every answer given before stands in it."""
    lines = [_HEAD + "books:"]
    lines += [f"  {_q(name)}: {digest}" for name, digest in understood.books.items()]
    lines.append(_TABLES.rstrip())
    for each in understood.read_as:
        told = "read as" in earlier.told.get(each.table.key, {})
        if each.table.kind is not Kind.NOTHING or told:
            lines += _table_lines(each.table, each.orders, each.units)
        else:  # not written as settled: the keeper may put animals into it yet
            lines.append(f"  # {_q(each.table.key)}: not used")
    lines.append(_ANSWERS.rstrip())
    asked = [*understood.questions, *extra]
    for question in asked:
        lines += _question_lines(question, earlier.answers.get(question.key, ""))
    lines += _kept(earlier.answers, asked)
    return "\n".join(lines) + "\n"


def _table_lines(table: Table, orders: Mapping[str, str], units: Mapping[str, str]) -> list[str]:
    lines = [f"  {_q(table.key)}:", f"    read as: {table.kind}"]
    if table.kind is Kind.NOTHING:
        return lines
    lines.append("    columns:")
    for column in table.columns:
        if not column.field:
            if column.heading:
                lines.append(f"      # - {{heading: {_q(column.heading)}, field: }}")
            continue
        place = f"{table.grid.sheet}/{column.heading}"
        facts = [f"heading: {_q(column.heading)}", f"field: {_q(column.field)}"]
        facts += [f"dates: {orders[place]}"] if place in orders else []
        facts += [f"unit: {units[place]}"] if place in units else []
        lines.append(f"      - {{{', '.join(facts)}}}")
    return lines


def _question_lines(question: Question, given: str | Mapping[str, str]) -> list[str]:
    where = (
        question.sheet
        if question.sheet == question.file
        else (f"{question.file}, {question.sheet}")
    )
    lines = [f"  # {where}: {_one_line(question.text)} Until then: {question.until}."]
    if question.choices:
        lines.append(f"  # One of: {', '.join(map(_one_line, question.choices))}.")
    if isinstance(given, str) and given:
        return [*lines, f"  {question.key}: {_q(given)}"]
    lines.append(f"  {question.key}:")
    items: dict[str, None] = {}
    for row in question.rows:
        if row.item in items:
            continue
        items[row.item] = None
        own = "" if question.choices or not row.choices else f"; {' or '.join(row.choices)}"
        taken = f", taken as {row.taken}" if row.taken else ""
        note = f"  # {row.place} {_one_line(row.found)!r}{taken}{_one_line(own)}"
        lines.append(f"    {_q(row.item)}:{' ' + _q(row.answer) if row.answer else ''}{note}")
    return lines


def _kept(answers: Answers, asked: Iterable[Question]) -> list[str]:
    """Return answers that no question asks for this time."""
    items = {question.key: {row.item for row in question.rows} for question in asked}
    lines: list[str] = []
    for key, given in answers.items():
        if key in items:
            continue
        if isinstance(given, str):
            lines.append(f"  {_q(key)}: {_q(given)}")
        else:
            lines.append(f"  {_q(key)}:")
            lines += [f"    {_q(item)}: {_q(text)}" for item, text in given.items()]
    return ["  # Answers to questions that did not come up this time.", *lines] if lines else []


def _one_line(text: str) -> str:
    """Return a text that can stand in a comment."""
    return " ".join(text.split())


def _q(text: str) -> str:
    """Return a text as YAML reads it back, in quotation marks where it needs them."""
    simple = _PLAIN.fullmatch(text) and text == text.strip() and yaml.safe_load(text) == text
    return text if simple else json.dumps(text, ensure_ascii=False)
