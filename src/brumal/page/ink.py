"""Keeping pencil marks in the season: ``season.yaml`` changed by spans, shown before it is written.

The new text is read again by our own reader, in a copy of the folder, and written only if the
settings are exactly those meant and every comment is there. The old file is kept beside the new.
Weights, condition and animals are the keeper's records: no mark on them is ever written.
"""

from __future__ import annotations

import difflib
import hashlib
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import yaml

from brumal.page.pencil import Kind, Mark
from brumal.records.faults import Fault, InputError, Where
from brumal.records.files import encoding_of
from brumal.records.folder import SeasonRecords
from brumal.records.overlay import WANTED
from brumal.records.overlay_tree import settings_tree
from brumal.records.read import read_season
from brumal.records.settings import Settings
from brumal.records.whole import free_name, put_whole
from brumal.records.writer import READ
from brumal.records.yaml_edit import NotByHandError, comments_of, with_list, with_value
from brumal.records.yaml_text import Path as KeyPath


@dataclass(frozen=True, slots=True, kw_only=True)
class Inking:
    """What inking would write: the file, its text before and after, the lines that differ.

    ``digest`` names the bytes that the keeper was shown. ``left`` are marks that stay pencil.
    """

    file: str
    before: bytes
    after: bytes
    lines: tuple[str, ...]
    left: tuple[Mark, ...]

    @property
    def digest(self) -> str:
        """Return what names the file as it was and as it would be."""
        return hashlib.sha256(self.before + b"\0" + self.after).hexdigest()


def may_be_inked(mark: Mark) -> bool:
    """Say whether a mark is one on settings; animals and their weights are the keeper's records."""
    return mark.kind is not Kind.ANIMAL and not (
        mark.kind is Kind.SET and mark.subject[0] == "animals"
    )


def inking(
    folder: Path, records: SeasonRecords, marks: Sequence[Mark], meant: Settings, on: date | None
) -> Inking:
    """Return what keeping the marks in the season would write; nothing is written.

    ``meant`` are the settings under the marks that may be inked. Raises :class:`InputError` where
    the file cannot be changed so, or is not as it was read.
    """
    file = records.files["season"]
    before = (folder / file).read_bytes()
    if hashlib.sha256(before).hexdigest() != records.fingerprints.get(file):
        raise InputError([_fault(file, "another text than the one on the page", "Look again.")])
    try:
        text, codec = _decoded(before)
        new = _changed(text, records.settings, meant)
    except (NotByHandError, UnicodeError, yaml.YAMLError) as problem:
        raise InputError([_fault(file, str(problem), "Change it by hand.")]) from problem
    after = new.encode(codec)
    if comments_of(new) != comments_of(text) or _settings(folder, file, after, on) != meant:
        raise InputError([_fault(file, "no safe way to write this", "Change it by hand.")])
    lines = difflib.unified_diff(text.splitlines(), new.splitlines(), "now", "then", "", "", 1, "")
    return Inking(
        file=file,
        before=before,
        after=after,
        lines=tuple("…" if line.startswith("@@") else line for line in list(lines)[2:]),
        left=tuple(mark for mark in marks if not may_be_inked(mark)),
    )


def write_ink(folder: Path, ink: Inking) -> str:
    """Write what was shown, and return the name under which the old file is kept.

    Raises :class:`InputError` where the file is no longer as it was shown; nothing is written then.
    """
    path = folder / ink.file
    if path.read_bytes() != ink.before:
        raise InputError([_fault(ink.file, "another text than the one shown", "Look again.")])
    kept = free_name(folder, f"{ink.file}.before", ink.before)
    try:
        put_whole(folder, {kept: ink.before, ink.file: ink.after})
    except OSError as problem:
        found = problem.strerror or type(problem).__name__
        raise InputError([_fault(ink.file, found, "Nothing was written.")]) from problem
    return kept


def _decoded(data: bytes) -> tuple[str, str]:
    """Return a text and how to write it again; a mark at its beginning stays a letter of it."""
    codec = encoding_of(data).removesuffix("-sig")
    if codec == "utf-16":
        codec = "utf-16-le" if data.startswith(b"\xff\xfe") else "utf-16-be"
    return data.decode(codec), codec


def _changed(text: str, old: Settings, new: Settings) -> str:
    for path, before, after in _differences(settings_tree(old), settings_tree(new), ()):
        if isinstance(before, list) and isinstance(after, list):
            text = with_list(text, path, before, after)
        else:
            text = with_value(text, path, after)
    return text


def _differences(
    old: object, new: object, path: KeyPath
) -> Iterator[tuple[KeyPath, object, object]]:
    if old == new:
        return
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys((*old, *new)):
            yield from _differences(old.get(key), new.get(key), (*path, key))
    elif path == WANTED and isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            raise NotByHandError("wishes that come or go")
        for place, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from _differences(one, other, (*path, place))
    else:
        yield path, old, new


def _settings(folder: Path, file: str, text: bytes, on: date | None) -> Settings | None:
    """Read the folder as it would be, and return its settings."""
    with tempfile.TemporaryDirectory() as stage:
        copy = Path(stage) / folder.resolve().name
        copy.mkdir()
        for path in folder.iterdir():
            if path.suffix.casefold() in READ and path.is_file():
                shutil.copy(path, copy / path.name)
        (copy / file).write_bytes(text)
        records, _ = read_season(copy, on)
    return records.settings if records is not None else None


def _fault(file: str, found: str, repair: str) -> Fault:
    return Fault(
        where=Where(file=file),
        found=found,
        expected="a text in which the marks can be kept",
        repair=f"Nothing was written. {repair}",
    )
