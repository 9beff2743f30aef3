"""What notes tell that counts only once it stands in a table: layings, illness."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from brumal.importing.words import words

_YEAR = re.compile(r"\b(?:19|20)\d\d\b")


def notes_told(
    animals: Sequence[Mapping[str, str]], clutches: Sequence[Mapping[str, str]]
) -> Iterator[str]:
    """Say which notes of animals tell of a laying that no table has, or of illness."""
    for animal in animals:
        name, note = animal["id"], animal["notes"]
        if words().any_of("layings", note) and not _is_in_a_table(animal, clutches):
            yield (
                f"{name}: the note {note!r} tells of a laying and stays a note. Enter it in the "
                "book as a clutch, with its day as near as it is known, so that it counts."
            )
        if words().any_of("illness", note):
            yield (
                f"{name}: the note {note!r} seems to tell of illness and stays a note, which bars "
                "nobody. Enter it in events.csv as ill, and the vet's word as cleared, so that it "
                "counts."
            )


def _is_in_a_table(animal: Mapping[str, str], clutches: Sequence[Mapping[str, str]]) -> bool:
    """Say whether each year the note names has a laying of the animal in a table."""
    days = [clutch["laid"] for clutch in clutches if clutch["dam"] == animal["id"]]
    known = {day[:4] for day in (*days, animal.get("last_laid", "")) if day}
    years = set(_YEAR.findall(animal["notes"]))
    return bool(years) and years <= known
