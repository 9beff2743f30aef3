"""What was written of each animal since an earlier day of the same season, to be put back."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace
from typing import TypeVar

from brumal.records.animals import Event
from brumal.records.folder import SeasonRecords
from brumal.records.overlay_tree import Change
from brumal.records.season_state import season_state, with_unknown_sire

T = TypeVar("T")
SHOWN = 3
"""So many events of an animal are told one by one."""


def event_inputs(
    today: SeasonRecords, old: SeasonRecords, alone: Collection[str]
) -> Iterator[tuple[Change, Callable[[SeasonRecords], SeasonRecords]]]:
    """Yield what was written since: of each animal of ``alone`` by itself, of the others at once.

    ``old`` are the records of the same folder as seen on the earlier day. An animal's events,
    weighings and clutch are one input: they tell of one thing that went on.
    """
    by_animal: dict[str, list[Event]] = {}
    for event in today.events:
        if event not in old.events:
            by_animal.setdefault(event.animal, []).append(event)
    for animal in sorted(by_animal):
        if animal in alone:
            yield _change(f"events.{animal}", by_animal[animal]), _back(old, {animal})
    others = {animal for animal in by_animal if animal not in alone}
    if others:
        count = sum(len(by_animal[animal]) for animal in others)
        where = "events of others" if len(others) < len(by_animal) else "events"
        change = Change(where=where, old="not yet", new=f"{count} written down")
        yield change, _back(old, others)


def _change(where: str, events: list[Event]) -> Change:
    told = [
        f"{each.kind} {each.date}{f' with {each.mate}' if each.mate else ''}"
        for each in events[-SHOWN:]
    ]
    more = f"{len(events) - SHOWN} more, " if len(events) > SHOWN else ""
    return Change(where=where, old="not yet", new=more + ", ".join(told))


def _back(old: SeasonRecords, animals: Collection[str]) -> Callable[[SeasonRecords], SeasonRecords]:
    """Put all that was written of some animals back to what it was."""

    def back(records: SeasonRecords) -> SeasonRecords:
        rows = {animal.id: animal for animal in old.animals if animal.id in animals}
        herd = tuple(rows.get(animal.id, animal) for animal in records.animals)
        events = _mixed(records.events, old.events, lambda each: each.animal in animals)
        laid = _mixed(records.this_season, old.this_season, lambda each: each.dam in animals)
        season = records.settings.season
        state = season_state(herd, events, laid, records.settings.locks, season.pair_from)
        return replace(
            records,
            animals=with_unknown_sire(herd, state),
            events=events,
            weighings=_mixed(records.weighings, old.weighings, lambda each: each.animal in animals),
            clutches=_mixed(records.clutches, old.clutches, lambda each: each.dam in animals),
            this_season=laid,
            state=state,
        )

    return back


def _mixed(now: tuple[T, ...], then: tuple[T, ...], of: Callable[[T], bool]) -> tuple[T, ...]:
    """Return today's rows, with those that are ``of`` the animals as they were."""
    return (*(each for each in now if not of(each)), *(each for each in then if of(each)))
