"""The starter folder: templates with comments, written for a keeper who begins."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from brumal.records.faults import Fault, InputError, Where

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
        return tuple(_write(folder, name) for name in TEMPLATES)
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


def _write(folder: Path, name: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(resources.files(__name__).joinpath(name).read_bytes())
    return path
