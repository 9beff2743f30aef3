"""Results as files: a folder of their own, written whole or not at all.

A list of what was written, with the SHA-256 of each file, stays beside the results. A file that
is not on that list, or that has changed since, is the keeper's: it is never overwritten.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping
from pathlib import Path

from brumal.records.faults import Fault, InputError, Where
from brumal.records.whole import free_name, put_whole, undo_cut_short

LIST_NAME = ".written-by-brumal.json"


def write_results(
    folder: Path,
    files: Mapping[str, str | bytes],
    of_before: Collection[str] = (),
    kept_beside: Collection[str] = (),
) -> tuple[Path, ...]:
    """Write all ``files`` (name -> content) into ``folder``, or none of them.

    Results ``of_before`` that this run does not make anew are taken away, unless they were changed
    since. Files named in ``kept_beside`` may be the keeper's: the old one is kept as
    ``NAME.before``, ``NAME.before-2`` and so on. Returns the paths written, sorted. Raises
    :class:`InputError` where a file of the keeper's stands in the way or the folder cannot be
    written.
    """
    contents = {
        name: text.encode("utf-8") if isinstance(text, str) else text
        for name, text in sorted(files.items())
    }
    try:
        if folder.is_dir():
            undo_cut_short(folder)
        written = _known(folder)
        _refuse_foreign(folder, contents, written, kept_beside)
        contents |= _kept_beside(folder, contents, kept_beside)
        old = {n for n in of_before if n not in contents and _is_own(folder / n, written)}
        _put(folder, contents, written, old)
    except OSError as problem:
        raise InputError([_unwritable(folder, problem)]) from problem
    return tuple(folder / name for name in contents)


def _put(
    folder: Path, contents: Mapping[str, bytes], written: Mapping[str, str], old: Collection[str]
) -> None:
    """Put the results and the list of them into the folder."""
    listed = {name: digest for name, digest in written.items() if name not in old}
    listed |= {name: _digest(content) for name, content in contents.items()}
    listing = json.dumps(listed, indent=1, sort_keys=True).encode()
    put_whole(folder, {**contents, LIST_NAME: listing}, old)


def _kept_beside(
    folder: Path, contents: Mapping[str, bytes], names: Collection[str]
) -> dict[str, bytes]:
    """Return the keeper's own versions of files about to be replaced, by the names to keep."""
    theirs = {
        name: (folder / name).read_bytes()
        for name in names
        if name in contents and changed_since(folder, name)
    }
    return {
        free_name(folder, f"{name}.before", content): content for name, content in theirs.items()
    }


def changed_since(folder: Path, name: str) -> bool:
    """Say whether a file is there that is not as brumal wrote it."""
    path = folder / name
    return path.exists() and not _is_own(path, _known(folder))


def _known(folder: Path) -> dict[str, str]:
    listing = folder / LIST_NAME
    if not listing.is_file():
        return {}
    try:
        return {str(k): str(v) for k, v in json.loads(listing.read_text("utf-8")).items()}
    except (ValueError, AttributeError):
        return {}


def _refuse_foreign(
    folder: Path,
    contents: Mapping[str, bytes],
    written: Mapping[str, str],
    replaced: Collection[str],
) -> None:
    if folder.exists() and not folder.is_dir():
        raise InputError([_in_the_way(folder, "a file")])
    foreign = [
        name
        for name in contents
        if (folder / name).exists() and not _is_own(folder / name, written)
        if name not in replaced
    ]
    if foreign:
        raise InputError(
            [
                _in_the_way(folder / name, "a file that was changed or not written by brumal")
                for name in foreign
            ]
        )


def _is_own(path: Path, written: Mapping[str, str]) -> bool:
    """Say whether a file is as brumal wrote it."""
    return path.is_file() and _digest(path.read_bytes()) == written.get(path.name)


def _in_the_way(path: Path, found: str) -> Fault:
    return Fault(
        where=Where(file=str(path)),
        found=found,
        expected="a place for results",
        repair="Nothing was written. Move it, or choose another folder with --out.",
    )


def _unwritable(folder: Path, problem: OSError) -> Fault:
    return Fault(
        where=Where(file=str(folder)),
        found=problem.strerror or type(problem).__name__,
        expected="a folder that can be written",
        repair="Nothing was written. Choose another folder with --out.",
    )


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
