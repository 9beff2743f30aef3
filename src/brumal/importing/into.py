"""Books read into a season folder: what would be written, with nothing written yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from brumal.genetics.catalogue.file import load_catalogue
from brumal.importing.answers import read_earlier
from brumal.importing.folder_files import EDITED, Changed, FolderFiles, folder_files
from brumal.importing.grids import MOST_UNPACKED
from brumal.importing.questions import Answers
from brumal.importing.understand import Understood, understand
from brumal.records.faults import InputError, is_error
from brumal.records.files import decode, read_source


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Books understood, and the files of the folder that follow from them."""

    understood: Understood
    files: FolderFiles


def read_into(
    folder: Path,
    books: Sequence[Path],
    on: date,
    changed_since: Changed,
    answers: Answers | None = None,
    most_unpacked: int = MOST_UNPACKED,
) -> Reading:
    """Read books that belong together for a season folder, new or already there.

    What ``import.yaml`` of the folder says is used; ``answers`` given now stand in place of its
    own, and then it is asked anew which files edited by hand to keep. ``changed_since`` says of a
    file of the folder whether it is other than brumal wrote it, ``most_unpacked`` how many bytes a
    book may hold.

    Raises :class:`InputError` where a book cannot be read or no animals are found in them.
    """
    earlier = read_earlier(folder)
    if answers is not None:
        asked_anew = {key: said for key, said in earlier.answers.items() if key != EDITED}
        now = {key: said for key, said in {**asked_anew, **answers}.items() if said}
        earlier = replace(earlier, answers=now)
    catalogue, faults = load_catalogue(_own_genes(folder))
    if any(is_error(fault) for fault in faults):
        raise InputError(faults)
    understood = understand(
        books, catalogue, on, earlier.answers, earlier.told, most_unpacked=most_unpacked
    )
    return Reading(
        understood=understood,
        files=folder_files(understood, earlier, folder, on, changed_since),
    )


def _own_genes(folder: Path) -> str | None:
    path = folder / "genes.yaml"
    if not path.exists():
        return None
    source, faults = read_source(path, path.name)
    text, more = decode(source) if source is not None else (None, [])
    if text is None:
        raise InputError([*faults, *more])
    return text
