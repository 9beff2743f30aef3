"""How far each female and each male has come this season, by what was written down."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from brumal.records.animals import Animal, Event, EventKind, Sex, Status
from brumal.records.cycles import Cycle
from brumal.records.season_facts import SeasonClutch, season_cycle
from brumal.records.settings import Locks

_K = EventKind
MATINGS = (_K.VISIT, _K.LOCK)


UNKNOWN_SIRE = Animal(
    id="sire not known",
    sex=Sex.MALE,
    status=Status.OUTSIDE,
    blank=frozenset({"morph"}),
)
"""Stands for the sire of a clutch on record whose dam has no meeting on record."""


class Stage(StrEnum):
    """How far a female has come this season; ``OUT`` has died or was sold before she laid."""

    OPEN = "open"
    VISITED = "visited"
    LOCKED = "locked"
    OVULATED = "ovulated"
    SHED = "shed"
    LAID = "laid"
    HATCHED = "hatched"
    OUT = "out"


MAY_MEET = (Stage.OPEN, Stage.VISITED, Stage.LOCKED)
"""Stages in which a visit can still serve her."""

_STAGES = {
    _K.VISIT: Stage.VISITED,
    _K.LOCK: Stage.LOCKED,
    _K.OVULATION: Stage.OVULATED,
    _K.SHED: Stage.SHED,
    _K.LAID: Stage.LAID,
    _K.CANDLED: Stage.LAID,
    _K.HATCHED: Stage.HATCHED,
}
_RANK = {stage: rank for rank, stage in enumerate(Stage)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SireChance:
    """A male that may be the sire of a clutch, with his chance before young are seen."""

    id: str
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FemaleState:
    """One female this season.

    ``since`` is the day of what brought her to her ``stage`` (``None``: not written down).
    ``meetings`` are her visits and locks, ``refused`` the males that the last word on is a refusal.
    ``sires`` are the males that may be the sire, the likeliest first, chances adding up to one;
    ``sire`` is the male still visiting her (one that is gone only where no other was with her) or,
    once no visit serves her any more, the likeliest.
    ``gone`` says that she died or was sold, eggs of hers or not.
    """

    animal: str
    stage: Stage
    since: date | None = None
    events: Cycle = ()
    meetings: tuple[Event, ...] = ()
    refused: tuple[str, ...] = ()
    sires: tuple[SireChance, ...] = ()
    sire: str | None = None
    clutch: SeasonClutch | None = None
    gone: bool = False

    def day_of(self, kind: EventKind) -> date | None:
        """Return the day of the first event of a kind, ``None`` where there is none."""
        return next((event.date for event in self.events if event.kind is kind), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class MaleState:
    """One male this season: visits made, locks seen, refusals.

    ``visits`` and ``locks`` count days written down, ``females`` are those that he visited, in
    order.
    """

    animal: str
    visits: int
    locks: int
    females: tuple[str, ...]
    refused: tuple[str, ...]
    gone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonState:
    """All females and males of a season, by id."""

    females: Mapping[str, FemaleState] = field(default_factory=dict)
    males: Mapping[str, MaleState] = field(default_factory=dict)

    @property
    def made(self) -> tuple[tuple[str, str], ...]:
        """Return the pairs (dam, sire) that stand as facts.

        A female that was visited, no more, by a male that has died or was sold since is open again.
        """
        return tuple(
            (dam, state.sire)
            for dam, state in sorted(self.females.items())
            if state.sire is not None and state.stage not in (Stage.OPEN, Stage.OUT)
            if state.stage is not Stage.VISITED or not self._is_gone(state.sire)
        )

    def by_young(self, sires: Mapping[str, Mapping[str, float]]) -> SeasonState:
        """Return the state with the likeliest sire of females whom no visit serves any more.

        ``sires`` holds, by dam, the chance of each male by the young that were seen.
        """
        told = {}
        for dam, odds in sires.items():
            her = self.females[dam]
            if her.stage not in (*MAY_MEET, Stage.OUT) and her.sire is not None:
                best = max(sorted(odds), key=lambda male: (odds[male], male == her.sire))
                told[dam] = replace(her, sire=best)
        return replace(self, females={**self.females, **told}) if told else self

    def _is_gone(self, male: str) -> bool:
        return male in self.males and self.males[male].gone

    @property
    def refused(self) -> frozenset[tuple[str, str]]:
        """Return the pairs (dam, sire) that the last word on is a refusal."""
        return frozenset((dam, male) for dam, her in self.females.items() for male in her.refused)


def season_state(
    animals: Sequence[Animal],
    events: Sequence[Event],
    clutches: Sequence[SeasonClutch],
    locks: Locks,
    pair_from: date,
) -> SeasonState:
    """Return how far every animal has come in the season that begins with ``pair_from``."""
    now = season_cycle(events, pair_from)
    laid = {clutch.dam: clutch for clutch in clutches}
    paired = dict(locks.already_paired)
    gone = {animal.id for animal in animals if animal.status in (Status.DIED, Status.SOLD)}
    females = {
        animal.id: _female(
            animal.id,
            now.get(animal.id, ()),
            laid.get(animal.id),
            paired.get(animal.id),
            locks,
            gone,
        )
        for animal in animals
        if animal.sex is not Sex.MALE and animal.status is not Status.OUTSIDE
    }
    males = {
        animal.id: _male(animal.id, females, gone)
        for animal in animals
        if animal.sex is Sex.MALE and animal.status is not Status.OUTSIDE
    }
    return SeasonState(females=females, males=males)


def with_unknown_sire(animals: Sequence[Animal], state: SeasonState) -> tuple[Animal, ...]:
    """Return the animals, with the stand-in for an unknown sire just where a clutch needs him."""
    known = tuple(animal for animal in animals if animal.id != UNKNOWN_SIRE.id)
    sires = {sire.id for her in state.females.values() for sire in her.sires}
    return (*known, UNKNOWN_SIRE) if UNKNOWN_SIRE.id in sires else known


def _female(
    dam: str,
    cycle: Cycle,
    clutch: SeasonClutch | None,
    paired: str | None,
    locks: Locks,
    gone: Collection[str],
) -> FemaleState:
    meetings = tuple(event for event in cycle if event.kind in MATINGS)
    refused = _refused(cycle)
    stage, since = _stage(cycle, clutch)
    if stage is Stage.OPEN and paired is not None and paired not in refused:
        stage = Stage.VISITED
    if dam in gone and clutch is None:
        stage = Stage.OUT
    sires = _sires(dam, cycle, clutch, paired, locks)
    if clutch is not None and not sires:
        sires = (SireChance(id=UNKNOWN_SIRE.id, chance=1.0),)
    return FemaleState(
        animal=dam,
        stage=stage,
        since=since,
        events=cycle,
        meetings=meetings,
        refused=refused,
        sires=sires,
        sire=_sire(stage, meetings, refused, sires, gone),
        clutch=clutch,
        gone=dam in gone,
    )


def _stage(cycle: Cycle, clutch: SeasonClutch | None) -> tuple[Stage, date | None]:
    """Return the stage furthest on, and the day that brought it."""
    refused = _refused(cycle)
    reached = [
        (_STAGES[event.kind], event.date)
        for event in cycle
        if event.kind in _STAGES and not (event.kind in MATINGS and event.mate in refused)
    ]
    if clutch is not None:
        reached.append((Stage.LAID, clutch.laid or date.max))
        if clutch.has_hatched:
            reached.append((Stage.HATCHED, clutch.hatched_on or date.max))
    if not reached:
        return Stage.OPEN, None
    stage = max((stage for stage, _ in reached), key=_RANK.__getitem__)
    since = min(day for each, day in reached if each is stage)
    return stage, None if since == date.max else since


def _refused(cycle: Cycle) -> tuple[str, ...]:
    """Return the males whose last meeting with her was a refusal."""
    last: dict[str, EventKind] = {}
    for event in cycle:
        if event.mate is not None and event.kind in (*MATINGS, _K.REFUSAL):
            last[event.mate] = event.kind
    return tuple(sorted(male for male, kind in last.items() if kind is _K.REFUSAL))


def _sires(
    dam: str, cycle: Cycle, clutch: SeasonClutch | None, paired: str | None, locks: Locks
) -> tuple[SireChance, ...]:
    """Return who may be the sire: the keeper's word first, else all males that could be, evenly."""
    if clutch is not None and clutch.sire is not None:
        return (SireChance(id=clutch.sire, chance=1.0),)
    stated = locks.sires.get(dam)
    if stated:
        total = sum(stated.values())
        odds = {male: chance / total for male, chance in stated.items() if chance > 0}
        ranked = sorted(odds.items(), key=lambda each: (-each[1], each[0]))
        return tuple(SireChance(id=male, chance=chance) for male, chance in ranked)
    males = _could_be(cycle) or ([paired] if paired is not None else [])
    return tuple(SireChance(id=male, chance=1 / len(males)) for male in males)


def _could_be(cycle: Cycle) -> list[str]:
    """Return the males that were with her before she ovulated, without those refused that day.

    Where no meeting is written down before the first sign of ovulation, all meetings count.
    """
    ends = [e.date for e in cycle if e.kind in (_K.OVULATION, _K.SHED, _K.LAID)]
    end = min(ends, default=date.max)
    met = [event for event in cycle if event.kind in MATINGS and event.mate is not None]
    before = [event for event in met if event.date <= end] or met
    refusals = {(e.mate, e.date) for e in cycle if e.kind is _K.REFUSAL}
    taken = [
        event
        for event in before
        if event.kind is _K.LOCK or (event.mate, event.date) not in refusals
    ]
    return sorted({event.mate for event in taken if event.mate is not None})


def _sire(
    stage: Stage,
    meetings: Sequence[Event],
    refused: Sequence[str],
    sires: Sequence[SireChance],
    gone: Collection[str],
) -> str | None:
    visiting = [each.mate for each in meetings if each.mate not in refused]
    if stage in MAY_MEET and visiting:
        there = [male for male in visiting if male not in gone]
        return (there or visiting)[-1]
    return sires[0].id if sires else None


def _male(male: str, females: Mapping[str, FemaleState], gone: Collection[str]) -> MaleState:
    met = [event for her in females.values() for event in her.meetings if event.mate == male]
    met.sort(key=lambda event: (event.date, event.row))
    refused = tuple(sorted(dam for dam, her in females.items() if male in her.refused))
    return MaleState(
        animal=male,
        visits=len({(event.animal, event.date) for event in met if event.kind is _K.VISIT}),
        locks=len({(event.animal, event.date) for event in met if event.kind is _K.LOCK}),
        females=tuple(dict.fromkeys(event.animal for event in met)),
        refused=refused,
        gone=male in gone,
    )
