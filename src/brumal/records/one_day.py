"""Days known to the month or the year only, where another table tells the same day more exactly."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from brumal.records.animals import Animal, Clutch, Event, EventKind

Period = tuple[date | None, date | None]
"""The last day that it can have been, and the first if that is another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Animals and clutches of the tables, in order."""

    animals: tuple[Animal, ...]
    clutches: tuple[Clutch, ...]


def with_exact_days(
    animals: Sequence[Animal], clutches: Sequence[Clutch], events: Sequence[Event]
) -> Told:
    """Return both tables with each month or year narrowed to the one laying or arrival in it.

    ``last_laid: 2025`` beside a clutch of 2025-04-20 is that clutch and no second one.
    """
    made = tuple(_clutch(each, animals, clutches, events) for each in clutches)
    return Told(animals=tuple(_animal(each, made, events) for each in animals), clutches=made)


def _clutch(
    clutch: Clutch, animals: Sequence[Animal], clutches: Sequence[Clutch], events: Sequence[Event]
) -> Clutch:
    if clutch.laid_from is None or clutch.eggs == 0:
        return clutch
    hers = [each for each in clutches if each.dam == clutch.dam and each.eggs != 0]
    others = [each.laid for each in hers if each is not clutch and each.laid is not None]
    if any(clutch.laid_from <= day for day in others if clutch.laid and day <= clutch.laid):
        return clutch
    told: list[Period] = [(day, None) for day in _days(events, clutch.dam, EventKind.LAID)]
    told += [(each.last_laid, each.last_laid_from) for each in animals if each.id == clutch.dam]
    laid, first = _narrowed((clutch.laid, clutch.laid_from), told)
    return replace(clutch, laid=laid, laid_from=first)


def _animal(animal: Animal, clutches: Iterable[Clutch], events: Sequence[Event]) -> Animal:
    laid: Period = (animal.last_laid, animal.last_laid_from)
    told: list[Period] = [(day, None) for day in _days(events, animal.id, EventKind.LAID)]
    told += [
        (each.laid, each.laid_from) for each in clutches if each.dam == animal.id and each.eggs != 0
    ]
    laid = _narrowed(laid, told)
    came: Period = (animal.arrived, animal.arrived_from)
    came = _narrowed(came, [(day, None) for day in _days(events, animal.id, EventKind.ARRIVED)])
    return replace(
        animal,
        last_laid=laid[0],
        last_laid_from=laid[1],
        arrived=came[0],
        arrived_from=came[1],
    )


def _days(events: Iterable[Event], animal: str, kind: EventKind) -> list[date]:
    return [each.date for each in events if (each.animal, each.kind) == (animal, kind)]


def _narrowed(period: Period, told: Iterable[Period]) -> Period:
    """Return the last of the periods that lie within one, else the one itself."""
    last, first = period
    if last is None or first is None:
        return period
    within = [
        (day, begin)
        for day, begin in told
        if day is not None and first <= (begin or day) and day <= last
    ]
    return max(within, key=lambda each: each[0], default=period)
