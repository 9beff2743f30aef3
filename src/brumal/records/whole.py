"""Files put into a folder together: all of them or none."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Collection, Mapping
from pathlib import Path


def put_whole(folder: Path, contents: Mapping[str, bytes], gone: Collection[str] = ()) -> None:
    """Stage every file beside those there, then move them in; undo the moves if one fails.

    Files named in ``gone`` are taken away. A file that is replaced keeps its permissions. Raises
    ``OSError`` with the folder as it was before.
    """
    names = [*contents, *sorted(gone)]
    there = {name for name in names if (folder / name).exists()}
    stage = Path(tempfile.mkdtemp(prefix=".brumal-", dir=folder))
    new, before = stage / "new", stage / "before"
    try:
        new.mkdir()
        before.mkdir()
        for name, content in contents.items():
            (new / name).write_bytes(content)
            if name in there:
                shutil.copymode(folder / name, new / name)
        for name in names:
            if name in there:
                (folder / name).replace(before / f"{name}.before")
            if name in contents:
                (new / name).replace(folder / name)
    except BaseException:  # Ctrl-C too leaves the folder as it was
        for name in names:
            old_one = before / f"{name}.before"
            if old_one.exists():
                old_one.replace(folder / name)
            elif name not in there:
                (folder / name).unlink(missing_ok=True)
        raise
    finally:
        shutil.rmtree(stage)
