"""The season apart from those gone by: its clutches, from the events and the clutches table.

A clutch laid on or after the first day of pairing is this season's. What rules and forecasts take
for a female's past stays free of it: a laying in season is no reason to rest in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from brumal.records.animals import Animal, Clutch, Event, EventKind, Sex
from brumal.records.clutch_table import BETWEEN_CLUTCHES
from brumal.records.cycles import Cycle, cycles, laying

_K = EventKind
Young = tuple[tuple[int, str, Sex | None], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonClutch:
    """A clutch of this season as far as it has come; ``None`` is not known or not yet.

    ``eggs`` counts all eggs laid, ``slugs`` among them; ``good`` are those still good when candled
    last. ``sire`` is there where the keeper's clutches table names him. ``row`` is that of the
    clutches table (0: it stands in the events alone).
    """

    dam: str
    laid: date | None = None
    eggs: int | None = None
    slugs: int | None = None
    good: int | None = None
    hatched_on: date | None = None
    hatched: int | None = None
    young: Young = ()
    sire: str | None = None
    row: int = 0

    @property
    def has_hatched(self) -> bool:
        """Say whether the clutch has hatched, all of it or none."""
        return self.hatched_on is not None or self.hatched is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parted:
    """Records parted at the first day of pairing: the past, and this season's clutches."""

    animals: tuple[Animal, ...]
    clutches: tuple[Clutch, ...]
    this_season: tuple[SeasonClutch, ...]


def season_cycle(events: Iterable[Event], pair_from: date) -> Mapping[str, Cycle]:
    """Return what happened to each female this season: the last breeding season of hers.

    It is this season's if she laid on or after the first day of pairing or, where she has not laid,
    if anything happened in the days before that which may lie between two clutches.
    """
    found = {}
    for dam, hers in cycles(events).items():
        last = hers[-1]
        laid = laying(last)
        if laid.date >= pair_from if laid else last[-1].date > pair_from - BETWEEN_CLUTCHES:
            found[dam] = last
    return found


def part_season(
    animals: Sequence[Animal],
    clutches: Sequence[Clutch],
    events: Sequence[Event],
    pair_from: date,
) -> Parted:
    """Part the past from the season that begins with ``pair_from``."""
    now = season_cycle(events, pair_from)
    rows = {each.dam: each for each in clutches if _is_this(each, pair_from)}
    told = {animal.id: animal.last_laid for animal in animals if animal.last_laid is not None}
    females = sorted({*now, *rows, *(id_ for id_, day in told.items() if day >= pair_from)})
    this = [
        made
        for dam in females
        if (made := _clutch(dam, now.get(dam, ()), rows.get(dam), told.get(dam), pair_from))
    ]
    past = [each for each in clutches if not _is_this(each, pair_from)]
    past += _past_of_events(events, clutches, now, pair_from)
    return Parted(
        animals=tuple(_before(animal, past, pair_from) for animal in animals),
        clutches=tuple(past),
        this_season=tuple(this),
    )


def _is_this(clutch: Clutch, pair_from: date) -> bool:
    return clutch.laid is not None and clutch.laid >= pair_from and clutch.eggs != 0


def _clutch(
    dam: str, cycle: Cycle, row: Clutch | None, last_laid: date | None, pair_from: date
) -> SeasonClutch | None:
    laid = laying(cycle)
    candled = [event for event in cycle if event.kind is _K.CANDLED]
    hatched = [event for event in cycle if event.kind is _K.HATCHED]
    told = last_laid if last_laid is not None and last_laid >= pair_from else None
    if not (laid or candled or hatched or row or told):
        return None
    made = SeasonClutch(
        dam=dam,
        laid=laid.date if laid else told,
        eggs=laid.count if laid else None,
        slugs=laid.slugs if laid else None,
        good=candled[-1].count if candled else None,
        hatched_on=hatched[-1].date if hatched else None,
        hatched=_total(hatched),
        young=tuple(each for event in hatched for each in event.young),
    )
    return made if row is None else _with_row(made, row)


def _total(hatched: Sequence[Event]) -> int | None:
    """Return the young of a clutch that hatched on several days; ``None`` where one is not told."""
    counts = [event.count for event in hatched]
    known = [count for count in counts if count is not None]
    return sum(known) if known and len(known) == len(counts) else None


def _with_row(made: SeasonClutch, row: Clutch) -> SeasonClutch:
    """Fill what the events leave open from the clutches table."""
    return replace(
        made,
        laid=row.laid if made.laid is None else made.laid,
        eggs=row.eggs if made.eggs is None else made.eggs,
        slugs=row.slugs if made.slugs is None else made.slugs,
        hatched=row.hatched if made.hatched is None else made.hatched,
        young=made.young or row.young,
        sire=row.sire,
        row=row.row,
    )


def _past_of_events(
    events: Iterable[Event],
    clutches: Sequence[Clutch],
    now: Mapping[str, Cycle],
    pair_from: date,
) -> list[Clutch]:
    """Return the clutches of earlier seasons that stand in the events alone."""
    written = [(each.dam, each.laid) for each in clutches if each.laid is not None]
    found = []
    for dam, hers in cycles(events).items():
        for cycle in hers:
            laid = laying(cycle)
            if laid is None or cycle is now.get(dam) or laid.date >= pair_from:
                continue
            if any(dam == who and abs(day - laid.date) < BETWEEN_CLUTCHES for who, day in written):
                continue
            mates = {e.mate for e in cycle if e.kind in (_K.VISIT, _K.LOCK) and e.mate}
            made = _clutch(dam, cycle, None, None, date.max)
            assert made is not None
            found.append(
                Clutch(
                    dam=dam,
                    sire=min(mates) if len(mates) == 1 else None,
                    laid=made.laid,
                    eggs=made.eggs,
                    slugs=made.slugs,
                    hatched=made.hatched,
                    young=made.young,
                )
            )
    return found


def _before(animal: Animal, past: Iterable[Clutch], pair_from: date) -> Animal:
    """Return an animal with the last laying that it had before this season."""
    if animal.last_laid is None or animal.last_laid < pair_from:
        return animal
    days = [each.laid for each in past if each.dam == animal.id and each.eggs != 0 and each.laid]
    return replace(animal, last_laid=max(days, default=None), last_laid_from=None)
