"""The keeper's diary of a season: every day or window on which the plan asks for a look.

Visits come from the males' rounds, windows from the dates of each clutch. Checks are common
practice, no source: both animals before they first meet, the male after his last visit, the female
after her own laying, incubator and eggs at even steps while there may be any, young when they
should have shed, and weigh days at even steps through the pairing window. An animal that
waits for a weight is weighed on the day it should have it, whether the plan pairs it or not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from brumal.forecast.dates import Window
from brumal.forecast.rounds import Visit
from brumal.records.season_state import MAY_MEET, Stage
from brumal.records.settings import Checks, SeasonDates, Settings
from brumal.rules.start import Start

AFTER_ROUNDS_DAYS = 7
FIRST_SHED_DAYS = (7, 14)
"""Days from hatching to the first shed of the young (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do for a female so many days after she has laid, and why.

    ``weighs`` says that a weight comes of it.
    """

    days: int
    what: str
    why: str = ""
    weighs: bool = False


def after_laying(checks: Checks) -> tuple[Step, ...]:
    """Return what follows a laying, by day (common practice, no source).

    The look over and first meal are due on the day that the keeper states.
    """
    steps = (
        Step(0, "leave her until she has finished", "a female disturbed may stop laying"),
        Step(1, "see that no egg is retained", "hard lumps left in the body, or any doubt: a vet"),
        Step(1, "weigh her", weighs=True),
        Step(1, "clean her enclosure", "the smell of eggs keeps some females from feeding"),
        Step(checks.look_over_days, "look her over, offer a first meal", "small prey first"),
        Step(14, "weigh again", weighs=True),
        Step(28, "weigh again", weighs=True),
    )
    return tuple(sorted(steps, key=lambda step: step.days))


class TaskKind(StrEnum):
    """What a day or window is for."""

    WEIGH_FIRST = "weigh before pairing"
    BEFORE_PAIRING = "check before pairing"
    VISIT = "visit"
    WEIGH = "weigh"
    AFTER_ROUNDS = "check after his rounds"
    OVULATION = "ovulation"
    SHED = "pre-lay shed"
    LAYING = "laying"
    AFTER_LAYING = "check after laying"
    EGGS = "check of incubator and eggs"
    HATCHING = "hatching"
    FIRST_SHED = "first shed of the young"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClutchOutlook:
    """One pair of the plan: its visits, and the windows of its clutch if she goes.

    ``waits_for`` are weights that must be recorded before any visit is set down, ``state`` is how
    far she has come, ``gone`` says that she is not there any more. ``overdue`` is the day from
    which her eggs, or once she has laid her young, are overdue: no day of them is foreseen then.
    """

    dam: str
    sire: str
    visits: tuple[Visit, ...]
    ovulation: Window
    shed: Window
    laying: Window
    hatching: Window
    waits_for: tuple[Start, ...] = ()
    state: Stage = Stage.OPEN
    gone: bool = False
    overdue: date | None = None

    @property
    def foresees_eggs(self) -> bool:
        """Say whether she has laid or a day of laying is foreseen."""
        return self.overdue is None or self.state is Stage.LAID


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """An animal that lacks only grams which it may still have; whether the plan pairs it or not.

    ``weigh_on`` is the day on which it should weigh ``grams``, ``None`` where none is known.
    """

    animal: str
    weigh_on: date | None = None
    grams: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One entry of the diary, from ``start`` to ``end``, both days counted.

    ``animals`` are ids: the female first, then the male; on a weigh day all that are weighed.
    ``number`` counts entries of one kind for the same ``subject`` from 1, so that (kind, subject,
    number) names the entry whatever its dates. ``middle`` is the middle of a window,
    ``grams`` the least weight that an animal is to have on the day; ``wait`` how many days after
    what the window is for the next thing comes, or the task is due: least and most. ``steps`` are
    what there is to do after a laying.
    """

    kind: TaskKind
    subject: str
    number: int
    animals: tuple[str, ...]
    start: date
    end: date
    middle: date | None = None
    grams: float | None = None
    wait: tuple[int, int] | None = None
    steps: tuple[Step, ...] = ()


def diary(
    clutches: Sequence[ClutchOutlook],
    watched: Sequence[Watched],
    settings: Settings,
    as_of: date | None = None,
) -> tuple[Task, ...]:
    """Return every entry by day, kind and animal; no check or weigh day gone by at ``as_of``."""
    checks, seen = settings.checks, as_of or date.min
    tasks = [task for clutch in clutches for task in _visits(clutch)]
    tasks += [task for clutch in clutches for task in _of_clutch(clutch, settings)]
    tasks += _weigh_first(clutches, watched)
    tasks += _after_rounds(clutches)
    looks = [task for clutch in clutches for task in _after_laying(clutch, checks)]
    looks += _weigh_days(clutches, watched, settings.season, checks)
    looks += _egg_checks(clutches, checks)
    # They are numbered from the first, so that each keeps its name as the season goes on.
    tasks += [task for task in looks if task.end >= seen]
    order = list(TaskKind)
    return tuple(
        sorted(tasks, key=lambda each: (each.start, order.index(each.kind), each.subject, each.end))
    )


def _visits(clutch: ClutchOutlook) -> list[Task]:
    dam, pair = clutch.dam, (clutch.dam, clutch.sire)
    tasks = [
        Task(
            kind=TaskKind.VISIT,
            subject=dam,
            number=visit.number,
            animals=pair,
            start=visit.start,
            end=visit.end,
        )
        for visit in clutch.visits
    ]
    if clutch.visits and clutch.visits[0].number == 1:
        day = clutch.visits[0].start - timedelta(days=1)
        tasks.append(_day(TaskKind.BEFORE_PAIRING, dam, pair, day))
    return tasks


def _of_clutch(clutch: ClutchOutlook, settings: Settings) -> list[Task]:
    """Return the windows still to come; each tells how long after its own day the next thing is.

    The look after hatching is due so long after her own day: it is a window too. Of what is
    overdue there is none.
    """
    if clutch.overdue is not None:
        return []
    dam, stages = clutch.dam, settings.dates
    tasks = []
    if clutch.state in MAY_MEET:
        tasks.append(_window(TaskKind.OVULATION, dam, clutch.ovulation, stages.to_shed))
    if clutch.state in (*MAY_MEET, Stage.OVULATED):
        tasks.append(_window(TaskKind.SHED, dam, clutch.shed, stages.shed_to_laying))
    if clutch.state not in (Stage.LAID, Stage.HATCHED):
        tasks.append(_window(TaskKind.LAYING, dam, clutch.laying, stages.incubation))
    if clutch.state is not Stage.HATCHED:
        tasks.append(_window(TaskKind.HATCHING, dam, clutch.hatching))
    tasks.append(_after(TaskKind.FIRST_SHED, dam, clutch.hatching, FIRST_SHED_DAYS))
    return tasks


def _after_laying(clutch: ClutchOutlook, checks: Checks) -> list[Task]:
    """Return what follows a laying: the look over while her day is not known, then every day."""
    if clutch.state is Stage.HATCHED or clutch.gone or not clutch.foresees_eggs:
        return []
    steps, due = after_laying(checks), checks.look_over_days
    if clutch.state is not Stage.LAID:
        look = _after(TaskKind.AFTER_LAYING, clutch.dam, clutch.laying, (due, due))
        return [replace(look, steps=steps)]
    # The look over keeps the number that it had before she laid.
    days = sorted({step.days for step in steps}, key=lambda day: (day != due, day))
    return [
        replace(
            _after(TaskKind.AFTER_LAYING, clutch.dam, clutch.laying, (day, day)),
            number=number,
            wait=None,
            steps=tuple(step for step in steps if step.days == day),
        )
        for number, day in enumerate(days, start=1)
    ]


def _egg_checks(clutches: Sequence[ClutchOutlook], checks: Checks) -> list[Task]:
    """Check at even steps from the week before the first laying until all should have hatched."""
    waiting = [
        clutch for clutch in clutches if clutch.state is not Stage.HATCHED and clutch.foresees_eggs
    ]
    if not waiting:
        return []
    step = timedelta(days=checks.eggs_every_days)
    day = min(clutch.laying.early for clutch in waiting) - step
    tasks: list[Task] = []
    while day <= max(clutch.hatching.late for clutch in waiting):
        there = tuple(
            clutch.dam for clutch in waiting if clutch.laying.early <= day <= clutch.hatching.late
        )
        tasks.append(_day(TaskKind.EGGS, "all", there, day, len(tasks) + 1))
        day += step
    return tasks


def _weigh_first(clutches: Sequence[ClutchOutlook], watched: Sequence[Watched]) -> list[Task]:
    waiting = {each.animal: (each.weigh_on, each.grams) for each in watched}
    for clutch in clutches:
        waiting |= {each.animal: (each.weigh_on, each.asked_g) for each in clutch.waits_for}
    return [
        Task(
            kind=TaskKind.WEIGH_FIRST,
            subject=animal,
            number=1,
            animals=(animal,),
            start=day,
            end=day,
            grams=grams,
        )
        for animal, (day, grams) in sorted(waiting.items())
        if day is not None
    ]


def _after_rounds(clutches: Sequence[ClutchOutlook]) -> list[Task]:
    last = _last_visits(clutches)
    wait = timedelta(days=AFTER_ROUNDS_DAYS)
    return [
        _day(TaskKind.AFTER_ROUNDS, male, (male,), day + wait) for male, day in sorted(last.items())
    ]


def _last_visits(clutches: Sequence[ClutchOutlook]) -> Mapping[str, date]:
    last: dict[str, date] = {}
    for clutch in clutches:
        for visit in clutch.visits:
            last[clutch.sire] = max(last.get(clutch.sire, visit.end), visit.end)
    return last


def _weigh_days(
    clutches: Sequence[ClutchOutlook],
    watched: Sequence[Watched],
    season: SeasonDates,
    checks: Checks,
) -> list[Task]:
    """Weigh males and watched animals through the window, females until they may have ovulated."""
    step = timedelta(days=checks.weigh_every_days)
    males = sorted({clutch.sire for clutch in clutches})
    others = [each.animal for each in watched]
    tasks: list[Task] = []
    day = season.pair_from
    while day <= season.pair_to:
        females = [clutch.dam for clutch in clutches if day <= clutch.ovulation.early]
        animals = tuple(dict.fromkeys((*females, *males, *others)))
        if animals:
            tasks.append(_day(TaskKind.WEIGH, "all", animals, day, len(tasks) + 1))
        day += step
    return tasks


def _day(
    kind: TaskKind, subject: str, animals: tuple[str, ...], day: date, number: int = 1
) -> Task:
    return Task(kind=kind, subject=subject, number=number, animals=animals, start=day, end=day)


def _after(kind: TaskKind, dam: str, window: Window, wait: tuple[int, int]) -> Task:
    """Return a task that is due so many days after her own day in a window."""
    return Task(
        kind=kind,
        subject=dam,
        number=1,
        animals=(dam,),
        start=window.early + timedelta(days=wait[0]),
        end=window.late + timedelta(days=wait[1]),
        wait=wait,
    )


def _window(kind: TaskKind, dam: str, window: Window, wait: tuple[int, int] | None = None) -> Task:
    return Task(
        kind=kind,
        subject=dam,
        number=1,
        animals=(dam,),
        start=window.early,
        end=window.late,
        middle=window.middle,
        wait=wait,
    )
