"""Facts that stand in the events and in another table: one fact, or a fault that quotes both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from brumal.records.animals import LAYING, Animal, Clutch, Event, EventKind, Status
from brumal.records.cells import quote
from brumal.records.clutch_table import BETWEEN_CLUTCHES
from brumal.records.event_table import of_kind
from brumal.records.faults import Fault, Where
from brumal.records.settings import Locks

ONE_FACT = timedelta(days=30)
"""Two arrivals or clearances nearer than this are taken for one fact (common practice)."""

ENDS = {EventKind.SOLD: Status.SOLD, EventKind.DIED: Status.DIED}


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks look at; ``files`` names the file of each table."""

    animals: Sequence[Animal]
    clutches: Sequence[Clutch]
    events: Sequence[Event]
    locks: Locks | None
    files: Mapping[str, str]

    def where(self, event: Event, column: str) -> Where:
        """Return the place of a cell of an event."""
        return Where(file=self.files.get("events", "events.csv"), row=event.row, column=column)

    def beside(self, table: str, row: int, column: str) -> str:
        """Return the words for a cell of another table."""
        return str(Where(file=self.files.get(table, f"{table}.csv"), row=row, column=column))


def with_events(animals: Sequence[Animal], events: Sequence[Event]) -> tuple[Animal, ...]:
    """Return the animals with what the events say of their status and arrival.

    The last of sold, died and arrived decides whether an animal is gone; the latest arrival counts.
    """
    moves = of_kind(events, EventKind.ARRIVED, EventKind.SOLD, EventKind.DIED)
    return tuple(_moved(animal, moves(animal.id)) for animal in animals)


def _moved(animal: Animal, moves: Sequence[Event]) -> Animal:
    if not moves:
        return animal
    arrivals = [event.date for event in moves if event.kind is EventKind.ARRIVED]
    if arrivals:
        latest = max([*arrivals, *([animal.arrived] if animal.arrived else [])])
        animal = replace(
            animal, arrived=latest, arrived_from=None, blank=animal.blank - {"arrived"}
        )
    gone = ENDS.get(moves[-1].kind)
    return replace(animal, status=gone, blank=animal.blank - {"status"}) if gone else animal


def fact_faults(facts: Facts) -> list[Fault]:
    """Return a fault for each fact on which the events and another table disagree."""
    return [
        *_dates(facts, EventKind.ARRIVED, "arrived"),
        *_dates(facts, EventKind.CLEARED, "vet_cleared"),
        *_ends(facts),
        *_layings(facts),
        *_pairs(facts),
    ]


def _fault(where: Where, found: str, other: str, beside: str) -> Fault:
    return Fault(
        where=where,
        found=f"{found}, but {other} in {beside}",
        expected="one and the same fact in both",
        repair="Correct the one that is wrong, or leave one of them out.",
    )


def _dates(facts: Facts, kind: EventKind, column: str) -> Iterator[Fault]:
    """Two days close together are one fact written twice; days far apart are two facts."""
    rows = {animal.id: animal for animal in facts.animals}
    for event in facts.events:
        animal = rows.get(event.animal)
        if event.kind is not kind or animal is None:
            continue
        if kind is EventKind.CLEARED and event.about != LAYING:
            continue
        written: date | None = getattr(animal, column)
        if written is not None and timedelta(0) < abs(written - event.date) <= ONE_FACT:
            beside = facts.beside("animals", animal.row, column)
            yield _fault(facts.where(event, "date"), quote(str(event.date)), str(written), beside)


def _ends(facts: Facts) -> Iterator[Fault]:
    rows = {animal.id: animal for animal in facts.animals}
    for event in facts.events:
        said = ENDS.get(event.kind)
        animal = rows.get(event.animal)
        if said is None or animal is None or animal.status is said:
            continue
        if animal.status in ENDS.values():
            beside = facts.beside("animals", animal.row, "status")
            yield _fault(facts.where(event, "event"), quote(said), str(animal.status), beside)


def _layings(facts: Facts) -> Iterator[Fault]:
    rows = {animal.id: animal for animal in facts.animals}
    for event in facts.events:
        if event.kind is not EventKind.LAID:
            continue
        animal = rows.get(event.animal)
        if animal is not None and _one_season(animal.last_laid, event.date):
            beside = facts.beside("animals", animal.row, "last_laid")
            yield from _differs(facts, event, "date", event.date, animal.last_laid, beside)
        for clutch in facts.clutches:
            if clutch.dam != event.animal or not _one_season(clutch.laid, event.date):
                continue
            for column, name, said, written in (
                ("date", "laid", event.date, clutch.laid),
                ("count", "eggs", event.count, clutch.eggs),
                ("slugs", "slugs", event.slugs, clutch.slugs),
            ):
                beside = facts.beside("clutches", clutch.row, name)
                yield from _differs(facts, event, column, said, written, beside)


def _one_season(written: date | None, on: date) -> bool:
    return written is not None and abs(written - on) < BETWEEN_CLUTCHES


def _differs(
    facts: Facts, event: Event, column: str, said: object, written: object, beside: str
) -> Iterator[Fault]:
    if said is not None and written is not None and said != written:
        yield _fault(facts.where(event, column), quote(str(said)), str(written), beside)


def _pairs(facts: Facts) -> Iterator[Fault]:
    """Yield females entered as paired with one male whose visits are all from others."""
    visits = of_kind(facts.events, EventKind.VISIT, EventKind.LOCK)
    for number, (dam, sire) in enumerate(facts.locks.already_paired if facts.locks else ()):
        hers = visits(dam)
        if hers and all(event.mate != sire for event in hers):
            last = hers[-1]
            beside = (
                f"{facts.files.get('season', 'season.yaml')}, locks.already_paired[{number + 1}]"
            )
            yield _fault(
                facts.where(last, "with"),
                f"{quote(dam)} visited by {quote(last.mate or '')}",
                f"{dam} x {sire}",
                beside,
            )
