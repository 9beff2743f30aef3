"""The events of one female's breeding season, from the first visit to the hatching."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta

from brumal.records.animals import Event, EventKind
from brumal.records.clutch_table import BETWEEN_CLUTCHES

_K = EventKind
MEETINGS = (_K.VISIT, _K.LOCK, _K.REFUSAL)
BEFORE_EGGS = (*MEETINGS, _K.FOLLICLES, _K.OVULATION, _K.SHED)
OF_CLUTCHES = (_K.LAID, _K.CANDLED, _K.HATCHED)
OF_FEMALES = (*BEFORE_EGGS, *OF_CLUTCHES)

TO_EGGS = timedelta(days=240)
"""Eggs so long after the last event before them still come of it: a next season lays later (common
practice, no source)."""

Cycle = tuple[Event, ...]


def cycles(events: Iterable[Event]) -> Mapping[str, tuple[Cycle, ...]]:
    """Return each female's breeding seasons, the earliest first, each by date.

    A new one begins so many days after her laying as lie between two clutches at the least; where
    she has not laid, after so many days without an event, or after ``TO_EGGS`` without eggs.
    """
    found: dict[str, list[list[Event]]] = {}
    for event in sorted(events, key=lambda each: (each.date, each.row)):
        if event.kind not in OF_FEMALES:
            continue
        hers = found.setdefault(event.animal, [])
        if not hers or _begins(event, hers[-1]):
            hers.append([])
        hers[-1].append(event)
    return {dam: tuple(map(tuple, hers)) for dam, hers in found.items()}


def _begins(event: Event, cycle: Sequence[Event]) -> bool:
    laid = laying(cycle)
    first_eggs = laid is None and event.kind in OF_CLUTCHES
    apart = TO_EGGS if first_eggs else BETWEEN_CLUTCHES
    return event.date - (laid or cycle[-1]).date >= apart


def laying(cycle: Sequence[Event]) -> Event | None:
    """Return the laying of a season, ``None`` where none is written down."""
    return next((event for event in cycle if event.kind is EventKind.LAID), None)
