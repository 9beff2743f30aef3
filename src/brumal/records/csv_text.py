"""CSV tables that brumal writes among a keeper's files, and reads back unchanged.

A text that a spreadsheet program would take for a formula gets an apostrophe before it, which the
reader of tables takes away again; so does a text that begins like one that got it.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence

_FORMULA = re.compile(r"'*[=@+\-\t\r]")
_GUARDED = re.compile(r"''*[=@+\-\t\r]")
_FIGURE = re.compile(r"[+-]?\d+([.,]\d+)?")


def guarded(text: str) -> str:
    """Return a cell that no spreadsheet program reads as a formula."""
    return f"'{text}" if _FORMULA.match(text) and not _FIGURE.fullmatch(text) else text


def unguarded(text: str) -> str:
    """Return a cell as it was before ``guarded``."""
    bare = text[1:]
    return bare if _GUARDED.match(text) and guarded(bare) == text else text


def csv_text(columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> str:
    """Return a table as CSV with a header; columns that a row lacks are empty."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([guarded(row.get(column, "")) for column in columns])
    return stream.getvalue()
