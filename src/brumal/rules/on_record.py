"""What the records show of an animal's time here: since when, from where, what happened."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta

from brumal.forecast.weight import WeightSeries, all_series
from brumal.records.animals import Event, Status
from brumal.records.folder import SeasonRecords

BEFORE = timedelta(days=180)
"""A visit so long before the first day of pairing still belongs to the season."""


def first_day(records: SeasonRecords) -> date:
    """Return the first day on which a pair may still be put together this season."""
    pair_from = records.settings.season.pair_from
    return max(pair_from, records.as_of or pair_from)


def first_visit(records: SeasonRecords, dam: str, sire: str) -> date:
    """Return the day of a made pair's first visit: as written down, else the first of pairing."""
    pair = {dam, sire}
    met = [event.date for event in records.events if {event.animal, event.mate} == pair]
    pair_from = records.settings.season.pair_from
    return min((day for day in met if day >= pair_from - BEFORE), default=pair_from)


def days_ahead(records: SeasonRecords, on: date) -> dict[str, tuple[date, ...]]:
    """Return the days after ``on`` from which something dated ahead acts, by animal."""
    found: dict[str, set[date]] = defaultdict(set)
    for animal, day in _weighed_ahead(records, on):
        found[animal].add(day)
    for event in records.events:
        found[event.animal].add(event.date)
    for each in records.animals:
        if each.vet_cleared is not None:
            found[each.id].add(each.vet_cleared)
    later = {name: sorted(day for day in days if day > on) for name, days in found.items()}
    return {name: tuple(days) for name, days in later.items() if days}


def _weighed_ahead(records: SeasonRecords, on: date) -> Iterator[tuple[str, date]]:
    for weighing in records.weighings:
        if weighing.date > on:
            yield weighing.animal, weighing.date
    for animal in records.animals:
        if animal.weighed is not None and animal.weighed > on:
            yield animal.id, animal.weighed


def reweighed(records: SeasonRecords, on: date) -> dict[str, tuple[tuple[date, WeightSeries], ...]]:
    """Return the weights of animals weighed after ``on``: (day, series) from each such day on."""
    found: dict[str, list[tuple[date, WeightSeries]]] = defaultdict(list)
    ahead = set(_weighed_ahead(records, on))
    for day in sorted({day for _, day in ahead}):
        series = all_series(records, until=day)
        for animal in sorted(animal for animal, weighed in ahead if weighed == day):
            found[animal].append((day, series[animal]))
    return {animal: tuple(series) for animal, series in found.items()}


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
