"""What the records show of an animal's time here: since when, from where, what happened."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from brumal.records.animals import Event, Status
from brumal.records.folder import SeasonRecords


def events_by_animal(records: SeasonRecords) -> dict[str, tuple[Event, ...]]:
    """Return what happened to each animal, earliest first."""
    found: dict[str, list[Event]] = defaultdict(list)
    for event in sorted(records.events, key=lambda event: (event.date, event.row)):
        found[event.animal].append(event)
    return {animal: tuple(events) for animal, events in found.items()}


def newcomers(records: SeasonRecords) -> frozenset[str]:
    """Return the animals that come from outside: on loan, on offer, brought in by a what-if."""
    offers = records.settings.offers
    loans = {animal.id for animal in records.animals if animal.status is Status.LOAN}
    return frozenset(loans | set(offers.borrow) | set(offers.buy) | records.joined)


def home_bred(records: SeasonRecords) -> frozenset[str]:
    """Return the animals whose dam stands, or stood, in the collection."""
    own = {
        animal.id
        for animal in records.animals
        if animal.status is not Status.OUTSIDE and "status" not in animal.blank
    }
    return frozenset(animal.id for animal in records.animals if animal.dam in own)


def here_since(records: SeasonRecords) -> dict[str, date]:
    """Return the first day on which an animal was weighed or bred here, by the tables."""
    found: dict[str, date] = {}
    for animal, day in _here(records):
        found[animal] = min(day, found.get(animal, day))
    return found


def _here(records: SeasonRecords) -> Iterator[tuple[str, date]]:
    for weighing in records.weighings:
        yield weighing.animal, weighing.date
    for clutch in records.clutches:
        for parent in filter(None, (clutch.dam, clutch.sire)):
            if clutch.laid is not None:
                yield parent, clutch.laid


def alive_since(records: SeasonRecords) -> dict[str, date]:
    """Return the first day on which an animal was surely alive, by dates checked against it."""
    found: dict[str, date] = {}
    days = [(weighing.animal, weighing.date) for weighing in records.weighings]
    days += [(clutch.dam, clutch.laid) for clutch in records.clutches if clutch.laid is not None]
    for animal in records.animals:
        known = (animal.weighed, animal.last_laid, animal.arrived)
        days += [(animal.id, day) for day in known if day is not None]
    for name, day in days:
        found[name] = min(day, found.get(name, day))
    return found
