"""Animals by name: a name that one animal alone bears stands for its id, everywhere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from brumal.records.animals import Animal, Clutch, Event, Weighing
from brumal.records.folder import SeasonRecords
from brumal.records.settings import Kin, Locks, Offers, Settings


class Names:
    """The unique names of a collection; an id always goes before a name."""

    def __init__(self, animals: Iterable[Animal]) -> None:
        listed = tuple(animals)
        self._ids = {animal.id for animal in listed}
        bearers: dict[str, set[str]] = {}
        for animal in listed:
            if animal.name:
                bearers.setdefault(animal.name.casefold(), set()).add(animal.id)
        self._unique = {name: min(ids) for name, ids in bearers.items() if len(ids) == 1}

    def id_of(self, text: str) -> str:
        """Return the id that a text stands for; the text itself where it is no unique name."""
        return text if text in self._ids else self._unique.get(text.casefold(), text)

    def of_animals(self, animals: Iterable[Animal]) -> tuple[Animal, ...]:
        """Return animals with their parents by id."""
        return tuple(
            replace(animal, dam=self._id(animal.dam), sire=self._id(animal.sire))
            if animal.dam or animal.sire
            else animal
            for animal in animals
        )

    def of_weighings(self, weighings: Iterable[Weighing]) -> tuple[Weighing, ...]:
        """Return weighings by id."""
        return tuple(replace(each, animal=self.id_of(each.animal)) for each in weighings)

    def of_clutches(self, clutches: Iterable[Clutch]) -> tuple[Clutch, ...]:
        """Return clutches with dam and sire by id."""
        return tuple(
            replace(each, dam=self.id_of(each.dam), sire=self._id(each.sire)) for each in clutches
        )

    def of_events(self, events: Iterable[Event]) -> tuple[Event, ...]:
        """Return events with animal and mate by id."""
        return tuple(
            replace(each, animal=self.id_of(each.animal), mate=self._id(each.mate))
            for each in events
        )

    def of_locks(self, locks: Locks) -> Locks:
        """Return locks by id."""
        return replace(
            locks,
            must_pair=self._pairs(locks.must_pair),
            never_pair=self._pairs(locks.never_pair),
            already_paired=self._pairs(locks.already_paired),
            sit_out=tuple(map(self.id_of, locks.sit_out)),
            sires={
                self.id_of(dam): {self.id_of(sire): share for sire, share in sires.items()}
                for dam, sires in locks.sires.items()
            },
        )

    def of_offers(self, offers: Offers) -> Offers:
        """Return offers by id."""
        return replace(
            offers,
            borrow=self._keys(offers.borrow),
            buy=self._keys(offers.buy),
            sell=self._keys(offers.sell),
        )

    def of_kin(self, kin: Kin) -> Kin:
        """Return what is stated of kin by id."""
        return replace(
            kin,
            founder_F=self._keys(kin.founder_F),
            founder_kinship=tuple(
                (self.id_of(one), self.id_of(other), share)
                for one, other, share in kin.founder_kinship
            ),
            exceptions=tuple(
                (self.id_of(dam), self.id_of(sire), reason) for dam, sire, reason in kin.exceptions
            ),
        )

    def of_settings(self, settings: Settings) -> Settings:
        """Return settings with every animal in them by id."""
        return replace(
            settings,
            locks=self.of_locks(settings.locks),
            offers=self.of_offers(settings.offers),
            kin=self.of_kin(settings.kin),
        )

    def _keys(self, figures: Mapping[str, float]) -> dict[str, float]:
        """Key figures by id; of two names for one animal the second stays, and is a fault later."""
        found: dict[str, float] = {}
        for name, figure in figures.items():
            id_ = self.id_of(name)
            found[name if id_ in found or (id_ != name and id_ in figures) else id_] = figure
        return found

    def _id(self, text: str | None) -> str | None:
        return None if text is None else self.id_of(text)

    def _pairs(self, pairs: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
        return tuple((self.id_of(dam), self.id_of(sire)) for dam, sire in pairs)


def by_ids(records: SeasonRecords) -> SeasonRecords:
    """Return the records of a season with every name in them turned into the id it stands for."""
    names = Names(records.animals)
    return replace(
        records,
        animals=names.of_animals(records.animals),
        settings=names.of_settings(records.settings),
    )
