"""A season folder as one record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from brumal.records.animals import GONE, Animal, Clutch, Event, Weighing
from brumal.records.season_facts import SeasonClutch
from brumal.records.season_state import UNKNOWN_SIRE, SeasonState
from brumal.records.settings import Settings


@dataclass(frozen=True, kw_only=True)
class SeasonRecords:
    """Everything read from a season folder.

    ``as_of`` is the day the season is seen from (``None`` for records made in code): ``events``
    holds what had happened by then, entries taken back left out. ``joined`` are the ids of animals
    that a what-if brings in, ``agreed`` the pairs (dam, sire) of an earlier plan of this season,
    which stand unless much is gained by giving them up. ``clutches`` are those of earlier seasons,
    ``this_season`` holds the clutches of the present one, ``state`` how far every animal has come
    in it.

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
    events: tuple[Event, ...] = ()
    as_of: date | None = None
    joined: frozenset[str] = frozenset()
    agreed: frozenset[tuple[str, str]] = frozenset()
    this_season: tuple[SeasonClutch, ...] = ()
    state: SeasonState = field(default_factory=SeasonState)
    own_genes: str | None = None
    season_text: str = ""
    what_if: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    fingerprints: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def already_paired(self) -> tuple[tuple[str, str], ...]:
        """Return the pairs (dam, sire) that stand as facts, by the events or the keeper's word."""
        refused = self.state.refused
        said = {
            dam: sire
            for dam, sire in self.settings.locks.already_paired
            if (dam, sire) not in refused
        }
        return tuple({**said, **dict(self.state.made)}.items())

    @cached_property
    def facts(self) -> frozenset[tuple[str, str]]:
        """Return the pairs (dam, sire) that stand by what was written down of this season."""
        females = self.state.females
        return frozenset(
            pair
            for pair in self.state.made
            if females[pair[0]].events or females[pair[0]].clutch is not None
        )

    @property
    def has_unknown_sire(self) -> bool:
        """Say whether a clutch on record has a sire that nothing is known of."""
        return len(self.known) < len(self.animals)

    @cached_property
    def known(self) -> tuple[Animal, ...]:
        """Return the animals of the tables, without the stand-in for an unknown sire."""
        return tuple(animal for animal in self.animals if animal.id != UNKNOWN_SIRE.id)

    @cached_property
    def collection(self) -> tuple[Animal, ...]:
        """Return the animals of the collection: those still in it, and any already paired."""
        paired = {animal for pair in self.already_paired for animal in pair}
        paired |= {sire.id for her in self.state.females.values() for sire in her.sires}
        return tuple(
            animal for animal in self.known if animal.status not in GONE or animal.id in paired
        )
