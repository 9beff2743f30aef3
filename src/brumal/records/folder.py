"""A season folder as one record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from brumal.records.animals import GONE, Animal, Clutch, Weighing
from brumal.records.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonRecords:
    """Everything read from a season folder.

    ``own_genes`` is the text of the keeper's ``genes.yaml`` (``None`` without one);
    ``season_text`` is the text of ``season.yaml`` and ``what_if`` maps the name of each overlay to
    its text, both unread; ``files`` names the file each table was read from
    (``"animals" -> "animals.csv"``);
    ``fingerprints`` maps each file read to the SHA-256 of its bytes, so a plan can be made again.
    """

    animals: tuple[Animal, ...]
    settings: Settings
    weighings: tuple[Weighing, ...] = ()
    clutches: tuple[Clutch, ...] = ()
    own_genes: str | None = None
    season_text: str = ""
    what_if: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    fingerprints: Mapping[str, str] = field(default_factory=dict)

    @property
    def collection(self) -> tuple[Animal, ...]:
        """Return the animals of the collection: those not outside it, and any already paired."""
        paired = {animal for pair in self.settings.locks.already_paired for animal in pair}
        return tuple(
            animal for animal in self.animals if animal.status not in GONE or animal.id in paired
        )
