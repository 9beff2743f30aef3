"""The next seven days: who goes to whom, who comes out, what to weigh, look for, fill and empty."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from brumal.forecast.dates import Window, window
from brumal.forecast.occupancy import places_taken
from brumal.insight.simulate.diary import Task, TaskKind
from brumal.insight.why.outlook import Days
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason
from brumal.planner.visiting import Visiting
from brumal.records.animals import EventKind
from brumal.records.folder import SeasonRecords
from brumal.records.season_facts import SeasonClutch
from brumal.records.season_state import Stage
from brumal.records.settings import Box

DAYS = 7
FOR_A_VET = ("illness", "wasting")
"""The rules whose bar only a vet can lift, told each week until it is."""
CANDLE_DAYS = (10, 30)
"""Days after the laying on which eggs are candled (common practice, no source)."""
USUALLY_LOST = "30 to 40% lost at laying is usual"
"""Of her weight before the eggs (common practice, no source: no figure of the species verified)."""
WINDOWS = {
    TaskKind.OVULATION: "look for ovulation",
    TaskKind.SHED: "look for the shed before laying",
    TaskKind.LAYING: "look for eggs",
    TaskKind.HATCHING: "look for hatching",
    TaskKind.FIRST_SHED: "look for the first shed of the young",
}
_OF_EGGS = (TaskKind.HATCHING, TaskKind.FIRST_SHED)
NOTED = {
    TaskKind.VISIT: ("visit", "lock", "refusal"),
    TaskKind.OVULATION: ("ovulation",),
    TaskKind.SHED: ("shed",),
    TaskKind.LAYING: ("laid",),
    TaskKind.HATCHING: ("hatched",),
    TaskKind.WEIGH_FIRST: ("weight",),
    TaskKind.WEIGH: ("weight",),
    TaskKind.BEFORE_PAIRING: ("ill",),
    TaskKind.AFTER_ROUNDS: ("ill",),
}
"""What may be noted when a task is done: events of the events table, or a weight."""
DAILY = {
    TaskKind.WEIGH_FIRST: "weigh before any visit",
    TaskKind.BEFORE_PAIRING: "look over before pairing",
    TaskKind.WEIGH: "weigh",
    TaskKind.AFTER_ROUNDS: "look over after his rounds",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekTask:
    """One thing to do: the day, the animal, what, the other animal, and why.

    An empty ``animal`` or ``mate`` is none. ``noted`` are the events that may be noted of it
    (``weight``: a row among the weights).
    """

    day: date
    animal: str
    task: str
    mate: str = ""
    why: str = ""
    noted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxLabel:
    """A clutch in the incubator as its box is labelled.

    ``number`` is the clutch's number of the season, by day of laying; ``box`` the box that has
    room for it, from 1 (``None``: none has, or their number is not stated).
    """

    number: int
    box: int | None
    dam: str
    sires: tuple[str, ...]
    laid: date
    eggs: int | None
    slugs: int | None
    hatching: Window
    candle: tuple[date, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """The days from ``first`` to ``last``, both counted, and the clutches in their boxes."""

    season: str
    first: date
    last: date
    tasks: tuple[WeekTask, ...]
    labels: tuple[BoxLabel, ...]
    names: Mapping[str, str]

    @property
    def days(self) -> list[tuple[date, list[WeekTask]]]:
        """Return every day with its tasks."""
        days = [self.first + timedelta(days=at) for at in range((self.last - self.first).days + 1)]
        return [(day, [task for task in self.tasks if task.day == day]) for day in days]


def week_of(season: SolvedSeason, plan: Plan, days: Days) -> Week:
    """Return the week from the day the season is seen from."""
    records = season.prepared.records
    first = records.as_of or plan.pair_from
    last = first + timedelta(days=DAYS - 1)
    labels = box_labels(season)
    tasks = [task for each in days.tasks for task in _of_diary(each, first, last)]
    tasks += _coming_out(season, days)
    tasks += _for_a_vet(season, first)
    tasks += _overdue(days, first)
    tasks += [task for label in labels for task in _of_label(label)]
    laid = {label.dam: label for label in labels}
    tasks += [task for each in days.tasks for task in _after_laying(each, laid, records)]
    inside = {task for task in tasks if first <= task.day <= last}
    return Week(
        season=plan.season,
        first=first,
        last=last,
        tasks=tuple(sorted(inside, key=lambda task: (task.day, task.animal, task.task, task.mate))),
        labels=labels,
        names=plan.names,
    )


def _of_diary(task: Task, first: date, last: date) -> Iterator[WeekTask]:
    """Yield a task of the season's diary by its days in the week; weigh days animal by animal."""
    noted = NOTED.get(task.kind, ())
    if task.kind is TaskKind.VISIT:
        dam, sire = task.animals
        yield WeekTask(
            day=task.start,
            animal=dam,
            task="male goes to her",
            mate=sire,
            why=f"visit {task.number}",
            noted=noted,
        )
    elif task.kind in WINDOWS and task.start <= last and task.end >= first:
        open_yet = "" if task.kind in _OF_EGGS else "if she goes, "
        why = f"{open_yet}in four cases of five from {task.start} to {task.end}"
        day = max(task.start, first)
        yield WeekTask(day=day, animal=task.subject, task=WINDOWS[task.kind], why=why, noted=noted)
    elif task.kind is TaskKind.EGGS:
        yield WeekTask(day=task.start, animal="", task="look at incubator and eggs")
    elif task.kind in DAILY:
        # Who meets today is looked over today, where yesterday has gone by.
        before = task.kind is TaskKind.BEFORE_PAIRING and task.start == first - timedelta(days=1)
        day = first if before else task.start
        why = f"at least {task.grams:,.0f} g" if task.grams else ""
        for animal in task.animals:
            yield WeekTask(day=day, animal=animal, task=DAILY[task.kind], why=why, noted=noted)


def _for_a_vet(season: SolvedSeason, first: date) -> Iterator[WeekTask]:
    """Yield the animals whose illness or loss of weight is open: they come before all else."""
    for animal, verdicts in sorted(season.found.verdicts.items()):
        for verdict in verdicts:
            if verdict.rule in FOR_A_VET and not verdict.passed:
                why = "ill or tested, not cleared" if verdict.rule == "illness" else "loses weight"
                noted = ("tested", "cleared")
                yield WeekTask(day=first, animal=animal, task="ask a vet", why=why, noted=noted)


def _overdue(days: Days, first: date) -> Iterator[WeekTask]:
    """Yield what is overdue, each week until it is entered: a female, or eggs in the incubator."""
    for clutch in days.clutches:
        if clutch.overdue is None:
            continue
        since = f"overdue since {clutch.overdue}"
        if clutch.state is Stage.LAID:
            task, why = f"her eggs are {since}: look at them", "enter what has hatched"
            noted: tuple[str, ...] = ("candled", "hatched")
        else:
            task, why = f"{since}: a licensed vet", "if she has laid, enter it"
            noted = ("laid",)
        yield WeekTask(day=first, animal=clutch.dam, task=task, why=why, noted=noted)


def _coming_out(season: SolvedSeason, days: Days) -> Iterator[WeekTask]:
    """Yield the last day of each visit, of those under way too."""
    records = season.prepared.records
    more = timedelta(days=records.settings.visits.days - 1)
    stays = {
        (visit.female, visit.male, visit.end) for each in days.clutches for visit in each.visits
    }
    stays |= {
        (dam, event.mate or "", event.date + more)
        for dam, her in records.state.females.items()
        for event in her.meetings
        if event.kind is EventKind.VISIT and not her.gone
    }
    for dam, sire, end in stays:
        yield WeekTask(
            day=end, animal=dam, task="male comes out", mate=sire, noted=("lock", "refusal")
        )


def _after_laying(
    task: Task, laid: Mapping[str, BoxLabel], records: SeasonRecords
) -> Iterator[WeekTask]:
    """Yield what follows the laying of a female whose clutch is there."""
    if task.kind is not TaskKind.AFTER_LAYING or task.subject not in laid:
        return
    for step in task.steps:
        yield WeekTask(
            day=task.start,
            animal=task.subject,
            task=step.what,
            why=_recovery(laid[task.subject], records) if step.weighs else step.why,
            noted=("weight",) if step.weighs else (),
        )


def _of_label(label: BoxLabel) -> Iterator[WeekTask]:
    """Yield what to do with the eggs: their box, the candling."""
    box = f"box {label.box}" if label.box is not None else "no box has room: see where it can go"
    called = f"clutch {label.number}"
    yield WeekTask(day=label.laid, animal=label.dam, task="eggs into their box", why=box)
    for day in label.candle:
        noted = ("candled",)
        yield WeekTask(day=day, animal=label.dam, task=f"candle {called}", why=box, noted=noted)


def _recovery(label: BoxLabel, records: SeasonRecords) -> str:
    """Say what she weighed before the eggs, what she has lost, and what is usual."""
    hers = sorted(
        (each for each in records.weighings if each.animal == label.dam), key=lambda w: w.date
    )
    before = [each for each in hers if each.date < label.laid]
    after = [each for each in hers if each.date > label.laid]
    if not before:
        return USUALLY_LOST
    told = f"{before[-1].grams:,.0f} g before the eggs ({before[-1].date}); {USUALLY_LOST}"
    if not after:
        return told
    lost = 1 - after[-1].grams / before[-1].grams
    return f"{told}; {after[-1].grams:,.0f} g on {after[-1].date}, {max(lost, 0.0):.0%} below"


def box_labels(season: SolvedSeason) -> tuple[BoxLabel, ...]:
    """Return the clutches of the season that are in the incubator, by their day of laying.

    A clutch gets the first box that has room and keeps it until it hatches: small ones share, a
    large one has a box alone. What its label says of hatching goes by the day of laying alone.
    """
    prepared = season.prepared
    records, settings = prepared.records, prepared.records.settings
    clutches = sorted(
        (each for each in records.this_season if each.laid is not None),
        key=lambda each: (each.laid or date.max, each.dam),
    )
    boxes = _boxes(clutches, settings.limits.boxes or 0, settings.box)
    kept = {dam for dam, _ in season.laid_out.dates}
    visiting = Visiting.of(prepared)
    found = []
    for number, clutch in enumerate(clutches, start=1):
        if clutch.has_hatched or clutch.laid is None or clutch.dam not in kept:
            continue
        found.append(
            BoxLabel(
                number=number,
                box=boxes[clutch.dam],
                dam=clutch.dam,
                sires=tuple(sire.id for sire in records.state.females[clutch.dam].sires),
                laid=clutch.laid,
                eggs=clutch.eggs,
                slugs=clutch.slugs,
                hatching=window(visiting.foreseen(clutch.dam).hatching),
                candle=tuple(clutch.laid + timedelta(days=days) for days in CANDLE_DAYS),
            )
        )
    return tuple(found)


def _boxes(clutches: Sequence[SeasonClutch], boxes: int, box: Box) -> dict[str, int | None]:
    """Return the box of each clutch, laid one after the other; a shared box before an empty one."""
    eggs = np.array([_good(each) for each in clutches])
    places = dict(zip(clutches, places_taken(eggs, box.small_clutch, box.clutches), strict=True))
    inside: dict[int, list[SeasonClutch]] = {at: [] for at in range(1, boxes + 1)}
    found: dict[str, int | None] = {}
    for clutch in clutches:
        for at, there in inside.items():
            inside[at] = [each for each in there if _is_in(each, clutch)]
        room = [
            at
            for at, there in inside.items()
            if sum(places[each] for each in (*there, clutch)) <= box.clutches
        ]
        first = min(room, key=lambda at: (not inside[at], at), default=None)
        found[clutch.dam] = first
        if first is not None:
            inside[first].append(clutch)
    return found


def _is_in(clutch: SeasonClutch, later: SeasonClutch) -> bool:
    """Say whether a clutch is still in its box when a later one is laid."""
    if not clutch.has_hatched or later.laid is None:
        return True
    return clutch.hatched_on is not None and clutch.hatched_on > later.laid


def _good(clutch: SeasonClutch) -> float:
    """Return the eggs that go into a box; where they were not counted, more than share one."""
    if clutch.eggs is None:
        return float("inf")
    return clutch.eggs - (clutch.slugs or 0)
