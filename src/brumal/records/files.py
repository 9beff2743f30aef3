"""The files of a season folder: found, read whole, decoded, fingerprinted."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from brumal.records.faults import Fault, Severity, Where

BINARY_MARK = "\x00"
WINDOWS = "cp1252"


@dataclass(frozen=True, slots=True)
class Source:
    """One file as read: its name inside the season folder and its bytes."""

    file: str
    data: bytes

    @property
    def fingerprint(self) -> str:
        """Return the SHA-256 of the bytes, in hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()


def matching_files(folder: Path, stem: str, suffixes: tuple[str, ...]) -> tuple[Path, ...]:
    """Return the files called ``stem`` with one of the suffixes, letter case forgiven, sorted."""
    wanted = {f"{stem}{suffix}" for suffix in suffixes}
    return tuple(sorted(path for path in folder.iterdir() if path.name.casefold() in wanted))


def read_source(path: Path, file: str) -> tuple[Source | None, list[Fault]]:
    """Read a file whole; a locked, unreadable or empty one is a fault."""
    where = Where(file=file)
    try:
        # A folder, a pipe or a device may bear a table's name; some of them can be read for ever.
        if path.exists() and not path.is_file():
            return None, [Fault(where=where, found="no file", expected="a readable file")]
        data = path.read_bytes()
    except PermissionError:
        return None, [
            Fault(
                where=where,
                found="a file that may not be read",
                expected="a readable file",
                repair="Close it in the spreadsheet program, or allow yourself to read it.",
            )
        ]
    except OSError as error:
        reason = error.strerror or "no reason given"
        return None, [
            Fault(
                where=where,
                found=f"a file that cannot be read ({reason})",
                expected="a readable file",
            )
        ]
    if not data.strip():
        return None, [
            Fault(
                where=where,
                found="an empty file",
                expected="what the keeper wrote",
                repair="Was it saved? An optional file that is not needed may be removed.",
            )
        ]
    return Source(file, data), []


def encoding_of(data: bytes) -> str:
    """Return how a text is encoded: UTF-8, UTF-16 with a mark, or else the old Windows way."""
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    encoding = "utf-16" if marked else "utf-8"
    try:
        data.decode(encoding)
    except UnicodeDecodeError:
        return WINDOWS
    return "utf-8-sig" if data.startswith(b"\xef\xbb\xbf") else encoding


def decode(source: Source) -> tuple[str | None, list[Fault]]:
    """Return the text of a file: UTF-8 (with or without a mark), UTF-16 with a mark, else cp1252.

    Line ends come out as a single newline. A file that is none of these is a fault; one read as
    cp1252 (the old Windows encoding) brings a notice, because accented letters may be wrong.
    """
    faults: list[Fault] = []
    encoding = encoding_of(source.data)
    if encoding == WINDOWS:
        faults.append(
            Fault(
                where=Where(file=source.file),
                found="letters that are not UTF-8",
                expected="UTF-8 text",
                repair="Read as Windows text (cp1252); save it as UTF-8 if names look wrong.",
                severity=Severity.NOTICE,
            )
        )
    text = source.data.decode(encoding, errors="replace")
    torn = bool(faults) and "\N{REPLACEMENT CHARACTER}" in text
    if BINARY_MARK in text or torn:
        return None, [
            Fault(
                where=Where(file=source.file),
                found="something that is not text",
                expected="a text file",
                repair="Save it again from the program that it was made with.",
            )
        ]
    return text.replace("\r\n", "\n").replace("\r", "\n"), faults
