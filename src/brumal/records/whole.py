"""Files put into a folder together: all of them or none, whatever comes between.

Every file is written and flushed beside its place first, then moved in by a rename, so that at each
moment a name holds the old file or the new one. What a failure or Ctrl-C cuts short is undone at
once; what ends the program outright (a kill, a power cut) is undone when the folder is next written
to.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NoReturn

_STAGE = ".brumal-"
_MOVES = "moves.json"
"""What a stage moves in: names to the SHA-256 of their new bytes, empty where one is taken away."""


def put_whole(folder: Path, contents: Mapping[str, bytes], gone: Collection[str] = ()) -> None:
    """Put files into a folder, made where it is missing, and take away those named in ``gone``.

    Names may stand in folders of their own. A file that is replaced keeps its permissions. Raises
    ``OSError`` with everything as it was before.
    """
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        with _ended_in_order():
            folder.mkdir(parents=True, exist_ok=True)
            undo_cut_short(folder)
            stage = Path(tempfile.mkdtemp(prefix=_STAGE, dir=folder))
            try:
                _stage(folder, stage, contents, gone)
                _move_in(folder, stage)
            finally:
                _undo(folder, stage)
    except BaseException:
        with suppress(OSError):
            undo_cut_short(folder)
            for path in made:
                path.rmdir()
        raise


def free_name(folder: Path, name: str, content: bytes) -> str:
    """Return a name that holds nothing else: no older version is written over."""
    number, found = 1, name
    while (folder / found).exists() and (folder / found).read_bytes() != content:
        number += 1
        found = f"{name}-{number}"
    return found


def undo_cut_short(folder: Path) -> None:
    """Put a folder back as it was before a run that ended outright while it moved files in."""
    for stage in sorted(folder.glob(f"{_STAGE}*")):
        if stage.is_dir():
            _undo(folder, stage)


def _stage(folder: Path, stage: Path, contents: Mapping[str, bytes], gone: Collection[str]) -> None:
    """Write all that is needed to move the files in, and to undo it."""
    moves = dict.fromkeys(sorted(gone), "")
    for name, content in contents.items():
        moves[name] = hashlib.sha256(content).hexdigest()
        _write(stage / "new" / name, content)
        if (folder / name).exists():
            shutil.copymode(folder / name, stage / "new" / name)
    for name in moves:
        if (folder / name).exists():
            kept = stage / "before" / name
            kept.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(folder / name, kept)
    _write(stage / "written", json.dumps(moves).encode())
    (stage / "written").replace(stage / _MOVES)


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def _move_in(folder: Path, stage: Path) -> None:
    for name, digest in _moves(stage).items():
        if digest:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (stage / "new" / name).replace(folder / name)
        else:
            (folder / name).unlink(missing_ok=True)
    # From here on the new files stand: without this list nothing is undone.
    (stage / _MOVES).unlink()


def _moves(stage: Path) -> dict[str, str]:
    path = stage / _MOVES
    return dict(json.loads(path.read_bytes())) if path.is_file() else {}


def _undo(folder: Path, stage: Path) -> None:
    """Undo the moves of a stage that did not come to its end, and clear the stage away.

    A file that was changed since it was moved in is the keeper's, and stays.
    """
    for name, digest in _moves(stage).items():
        path, kept = folder / name, stage / "before" / name
        found = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
        if kept.exists() and found == digest:
            kept.replace(path)
        elif digest and not kept.exists() and found in ("", digest):
            path.unlink(missing_ok=True)
            with suppress(OSError):  # a folder of others' files stays
                path.parent.rmdir()
    shutil.rmtree(stage, ignore_errors=True)


@contextmanager
def _ended_in_order() -> Iterator[None]:
    """Let a request to end the program end what is inside as Ctrl-C does.

    Only where signals arrive, in the main thread.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, _end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _end(number: int, _: object) -> NoReturn:
    raise SystemExit(128 + number)
