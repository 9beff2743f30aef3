"""Rows added to a keeper's CSV file, or taken out: everything else stays byte for byte.

Encoding, line ends, separator and quotation marks are those of the file.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from brumal.records.csv_text import csv_text, guarded, unguarded
from brumal.records.files import encoding_of
from brumal.records.tables import TableShape, column_name, separator_of


@dataclass(frozen=True, slots=True, kw_only=True)
class _Record:
    """One record: its text with the line end, and its cells."""

    text: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _CsvFile:
    """A CSV file taken apart; the texts of ``above``, ``header`` and ``rows`` make it up again."""

    encoding: str
    mark: bytes
    line_end: str
    separator: str
    quoting: int
    above: str
    header: _Record
    rows: tuple[_Record, ...]

    def line(self, cells: Sequence[str]) -> str:
        """Return cells as a line of this file."""
        stream = io.StringIO()
        dialect: dict[str, Any] = {"delimiter": self.separator, "quoting": self.quoting}
        csv.writer(stream, lineterminator=self.line_end, **dialect).writerow(cells)
        return stream.getvalue()

    def bytes_of(self, *parts: str) -> bytes:
        """Return texts as the bytes of this file; raises ``UnicodeEncodeError``."""
        return self.mark + "".join(parts).encode(self.encoding)


def new_csv(columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> bytes:
    """Return a new table in UTF-8."""
    return csv_text(columns, rows).encode("utf-8")


def with_rows(data: bytes, shape: TableShape, rows: Sequence[Mapping[str, str]]) -> bytes:
    """Return a file with rows at its end.

    A column that the file lacks joins its header where a row fills it. Raises
    ``UnicodeEncodeError`` for letters that the file's encoding does not have.
    """
    file = _taken_apart(data, shape)
    names = [column_name(cell) for cell in file.header.cells]
    lacking = [
        column
        for column in shape.columns
        if column not in names and any(row.get(column) for row in rows)
    ]
    header = file.header.text
    if lacking:
        # A row may be wider than the header: a new column stands beyond all of them.
        width = max(len(each.cells) for each in (file.header, *file.rows))
        cells = [*file.header.cells, *[""] * (width - len(file.header.cells)), *lacking]
        names = [column_name(cell) for cell in cells]
        header = file.line(cells)
    body = [each.text for each in file.rows]
    if body and not body[-1].endswith(("\n", "\r")):
        body[-1] += file.line_end
    elif not body and not header.endswith(("\n", "\r")):
        header += file.line_end
    lines = [file.line([guarded(row.get(name, "")) for name in names]) for row in rows]
    return file.bytes_of(file.above, header, *body, *lines)


def without_row(data: bytes, shape: TableShape, cells: Mapping[str, str]) -> bytes | None:
    """Return a file without the last row that holds just these cells, ``None`` without one."""
    file = _taken_apart(data, shape)
    names = [column_name(cell) for cell in file.header.cells]
    for place in reversed(range(len(file.rows))):
        row = dict(zip(names, file.rows[place].cells, strict=False))
        held = {name: unguarded(text) for name, text in row.items() if text and name}
        if held == {name: text for name, text in cells.items() if text}:
            kept = [each.text for at, each in enumerate(file.rows) if at != place]
            return file.bytes_of(file.above, file.header.text, *kept)
    return None


def _taken_apart(data: bytes, shape: TableShape) -> _CsvFile:
    mark, encoding = _charset(data)
    text = data[len(mark) :].decode(encoding)
    lines = list(io.StringIO(text, newline=""))
    top, separator = separator_of([line.rstrip("\r\n") for line in lines], shape)
    header, *rows = list(_records(lines[top:], separator))
    every = [cell for cell in header.text.rstrip("\r\n").split(separator) if cell]
    quoted = all(cell.startswith('"') for cell in every)
    ends = [line_end for line_end in ("\r\n", "\n", "\r") if header.text.endswith(line_end)]
    return _CsvFile(
        encoding=encoding,
        mark=mark,
        line_end=ends[0] if ends else "\n",
        separator=separator,
        quoting=csv.QUOTE_ALL if quoted else csv.QUOTE_MINIMAL,
        above="".join(lines[:top]),
        header=header,
        rows=tuple(rows),
    )


def _charset(data: bytes) -> tuple[bytes, str]:
    """Return the mark before a text, and the encoding of what stands behind it."""
    encoding = encoding_of(data)
    if encoding == "utf-16":
        return data[:2], "utf-16-be" if data[:2] == b"\xfe\xff" else "utf-16-le"
    return (data[:3], "utf-8") if encoding == "utf-8-sig" else (b"", encoding)


def _records(lines: Sequence[str], separator: str) -> Iterator[_Record]:
    reader = csv.reader(lines, delimiter=separator)
    start = 0
    for cells in reader:
        text = "".join(lines[start : reader.line_num])
        start = reader.line_num
        yield _Record(text=text, cells=tuple(" ".join(cell.split()) for cell in cells))
