"""The starter folder: templates with comments, written for a keeper who begins."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from brumal.records.faults import Fault, InputError, Where
from brumal.records.whole import put_whole

TEMPLATES = (
    "animals.csv",
    "weights.csv",
    "clutches.csv",
    "season.yaml",
    "genes.yaml",
    "what-if/example.yaml",
)


def create_starter(folder: Path) -> tuple[Path, ...]:
    """Write the templates into a new or empty folder and return their paths.

    Raises :class:`brumal.records.faults.InputError` where the folder is not empty, is a file, or
    cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(
            [
                Fault(
                    where=Where(file=str(folder)),
                    found="a folder that is not empty" if folder.is_dir() else "a file",
                    expected="a new or an empty folder",
                    repair="Nothing was written. Choose another name.",
                )
            ]
        )
    try:
        texts = {name: resources.files(__name__).joinpath(name).read_bytes() for name in TEMPLATES}
        put_whole(folder, texts)
    except OSError as error:
        raise InputError(
            [
                Fault(
                    where=Where(file=str(folder)),
                    found=f"a place that cannot be written ({error.strerror or 'no reason given'})",
                    expected="a folder that you may write in",
                )
            ]
        ) from error
    return tuple(folder / name for name in TEMPLATES)
