"""Animals of a folder as they are named on the command line."""

from __future__ import annotations

import re
from collections.abc import Sequence

from brumal.pipeline import Prepared
from brumal.records.animals import Animal
from brumal.records.faults import Fault, InputError, Where, nearest

COMMAND_LINE = Where(file="command line")


def find_animals(asked: Sequence[str], prepared: Prepared) -> list[Animal]:
    """Return the animals meant by id, or by a name that only one of them bears.

    Raises :class:`InputError` with a fault for each word that means none of them.
    """
    found = [_find(word.strip(), prepared) for word in asked]
    faults = [each for each in found if isinstance(each, Fault)]
    if faults:
        raise InputError(faults)
    return [each for each in found if isinstance(each, Animal)]


def file_word(text: str) -> str:
    """Return an id or a notation as part of a file name."""
    return re.sub(r"[^\w.]+", "_", text).strip("._")[:40] or "animal"


def _find(word: str, prepared: Prepared) -> Animal | Fault:
    if word in prepared.animals:
        return prepared.animals[word]
    folded = word.casefold()
    meant = [
        animal
        for _, animal in sorted(prepared.animals.items())
        if folded in (animal.id.casefold(), animal.name.casefold()) and folded
    ]
    if len(meant) == 1:
        return meant[0]
    if meant:
        return Fault(
            where=COMMAND_LINE,
            found=f"'{word}', the name of {', '.join(animal.id for animal in meant)}",
            expected="the id of one animal",
        )
    if word in prepared.pedigree.index:
        return Fault(
            where=COMMAND_LINE,
            found=f"'{word}', named as a parent only",
            expected="an animal with a row of its own",
            repair="Give it a row with the status 'outside' to say what is known of it.",
        )
    return Fault(
        where=COMMAND_LINE,
        found=f"'{word}'",
        expected="an animal of the season folder, by id or name",
        repair=_nearest(word, prepared),
    )


def _nearest(word: str, prepared: Prepared) -> str:
    """Name the animals whose id or name is nearest."""
    known: dict[str, Animal] = {}
    for _, animal in sorted(prepared.animals.items()):
        known.setdefault(animal.id, animal)
        if animal.name:
            known.setdefault(animal.name, animal)
    close = dict.fromkeys(known[name].label for name in nearest(word, known, cutoff=0.0))
    return f"Nearest on record: {', '.join(close)}." if close else ""
