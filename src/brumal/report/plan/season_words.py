"""The words for a plan carried through the year: the season told, the diary, kinship, settings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from brumal.forecast.dates import Window
from brumal.forecast.occupancy import WeekLoad
from brumal.insight.simulate.diary import Step, Task, TaskKind
from brumal.insight.why.outlook import Outlook
from brumal.pedigree.pair import KinPair
from brumal.planner.plan import Plan
from brumal.report.words import inbreeding
from brumal.rules.readiness import Readiness

SHOWN_FROM = 0.05
LOOK_WORDS = {
    TaskKind.WEIGH_FIRST: "enter the weight in weights.csv and plan again: visits are set down "
    "only once it is enough",
    TaskKind.BEFORE_PAIRING: "weight, body condition, breathing, mouth, skin, mites; only a sound "
    "animal is paired",
    TaskKind.VISIT: "note locks; part them if either is harassed or hurt",
    TaskKind.WEIGH: "enter the weights in weights.csv and plan again",
    TaskKind.AFTER_ROUNDS: "weight, body condition, feeding again",
    TaskKind.OVULATION: "a swelling of the middle of the body for a day or two; a shed follows",
    TaskKind.LAYING: "if she strains or stops mid-lay, a licensed vet at once",
    TaskKind.SHED: "look for her skin and write the day down",
    TaskKind.EGGS: "temperature and moisture as your incubator is set, water, mould, dents; write "
    "down what has changed",
    TaskKind.HATCHING: "let the young leave the egg by themselves",
    TaskKind.FIRST_SHED: "look for their first shed, offer a first meal after it, weigh each; one "
    "that is weak or deformed is for the vet",
}


WAIT_WORDS = {
    TaskKind.OVULATION: "Once you have seen it no further visits; her shed comes {days} later",
    TaskKind.SHED: "Once she has shed she should lay {days} later",
    TaskKind.LAYING: "Once she has laid, hatching is {days} later",
    TaskKind.AFTER_LAYING: "The look over is due {days} after she has laid, whatever the days here",
    TaskKind.FIRST_SHED: "Due {days} after they have hatched, whatever the days here",
}
"""What a sign, once seen, says of the days to come."""


def season_told(plan: Plan, outlook: Outlook) -> str:
    """Tell when the season runs and when eggs and young should come."""
    told = [f"Seen from {plan.as_of}."] if plan.as_of is not None else []
    told.append(f"Pairing runs from {plan.pair_from} to {plan.pair_to}.")
    coming = [each for each in outlook.clutches if each.overdue is None]
    if coming:
        laid = [each.laying for each in coming]
        hatched = [each.hatching for each in coming]
        told.append(
            f"Eggs should come between {min(each.early for each in laid)} and "
            f"{max(each.late for each in laid)}, young between "
            f"{min(each.early for each in hatched)} and {max(each.late for each in hatched)}."
        )
    return " ".join(told)


def window_words(window: Window) -> str:
    """Write a window as its two ends, what is seen already as its day."""
    if window.early == window.late:
        return f"{window.early}"
    return f"{window.early} to {window.late}"


def rounds(outlook: Outlook) -> list[tuple[str, list[tuple[date, str]]]]:
    """Return each male with the (first day, female) of his visits in order."""
    visits: dict[str, list[tuple[date, str]]] = {}
    for clutch in outlook.clutches:
        started = [(visit.start, visit.female) for visit in clutch.visits]
        visits.setdefault(clutch.sire, []).extend(started)
    return [(male, sorted(visits[male])) for male in sorted(visits)]


def visit_days(outlook: Outlook) -> int:
    """Return how many days a visit of the plan lasts, 0 where there is none."""
    lengths = {
        (visit.end - visit.start).days + 1 for each in outlook.clutches for visit in each.visits
    }
    return max(lengths, default=0)


def busy_weeks(outlook: Outlook) -> list[WeekLoad]:
    """Return the weeks in which anything is likely to be in use."""
    return [
        week
        for week in outlook.weeks
        if max(week.boxes.mean, week.eggs.mean, week.tubs.mean) >= SHOWN_FROM
    ]


def soon_line(one: Readiness) -> str:
    """Say what still bars an animal that should be ready while pairing runs, and until when."""
    bars = " ".join(verdict.text for verdict in one.failed)
    return f"{bars} Ready about {one.ready_on}."


def weigh_days(outlook: Outlook) -> list[date]:
    """Return the weigh days in order."""
    return [task.start for task in outlook.tasks if task.kind is TaskKind.WEIGH]


def task_title(task: Task, names: Mapping[str, str]) -> str:
    """Name an entry of the diary in a few words."""
    who = [names[animal] for animal in task.animals] or [""]
    titles = {
        TaskKind.WEIGH_FIRST: f"Weigh {who[0]}: at least {task.grams or 0:,.0f} g before any visit",
        TaskKind.BEFORE_PAIRING: f"Look over {' and '.join(who)} before they meet",
        TaskKind.VISIT: f"{who[-1]} visits {who[0]} (visit {task.number})",
        TaskKind.WEIGH: f"Weigh {len(who)} animal{'' if len(who) == 1 else 's'}",
        TaskKind.AFTER_ROUNDS: f"Look over {who[0]} after his rounds",
        TaskKind.OVULATION: f"{who[0]} may ovulate",
        TaskKind.LAYING: f"{who[0]} may lay",
        TaskKind.SHED: f"{who[0]} may shed before laying",
        TaskKind.AFTER_LAYING: f"{who[0]} after laying: {_steps_title(task.steps)}",
        TaskKind.EGGS: "Check incubator and eggs"
        if task.animals
        else "Check the incubator before eggs come",
        TaskKind.HATCHING: f"Young of {who[0]} may hatch",
        TaskKind.FIRST_SHED: f"Young of {who[0]}: first shed and meal",
    }
    return titles[task.kind]


def task_note(task: Task, names: Mapping[str, str]) -> str:
    """Say what to look at, whom to weigh, and where the middle of a window lies."""
    look = LOOK_WORDS[task.kind] if task.kind in LOOK_WORDS else _steps_words(task.steps)
    told = [f"{look[0].upper()}{look[1:]}."]
    if task.kind is TaskKind.WEIGH:
        told.insert(0, f"{', '.join(names[animal] for animal in task.animals)}.")
    if task.kind is TaskKind.EGGS and task.animals:
        there = ", ".join(names[animal] for animal in task.animals)
        told.append(f"There may be eggs of {there}.")
    if task.middle is not None:
        told.insert(0, f"If she goes: in four cases of five in these days, half by {task.middle}.")
    if task.wait is not None:
        told.append(f"{WAIT_WORDS[task.kind].format(days=_days_words(task.wait))}.")
    return " ".join(told)


def _steps_title(steps: Sequence[Step]) -> str:
    """Name a day's tasks; where they are of several days, the look over."""
    several = len({step.days for step in steps}) > 1
    return "look over, feed" if several else ", ".join(step.what for step in steps)


def _steps_words(steps: Sequence[Step]) -> str:
    """Say what is to be done after a laying, by day where there are several."""
    days: dict[int, list[str]] = {}
    for step in steps:
        what = f"{step.what} ({step.why})" if step.why else step.what
        days.setdefault(step.days, []).append(what)
    if len(days) == 1:
        return "; ".join(*days.values())
    return ". ".join(f"Day {day}: {'; '.join(what)}" for day, what in days.items())


def _days_words(days: tuple[int, int]) -> str:
    least, most = days
    return f"{least} days" if least == most else f"{least} to {most} days"


def kin_line(kin: KinPair) -> str:
    """Say how closely a pair is related and through whom."""
    through = "; ".join(
        " and ".join(kin.names[end] for end in source.ends) for source in kin.paths.sources
    )
    return f"F {inbreeding(kin.phi)}, {kin.relation.words}, through {through}"


def refused_by_dam(kins: Sequence[KinPair]) -> list[tuple[str, list[KinPair]]]:
    """Group refused pairs by female, the closest first."""
    groups: dict[str, list[KinPair]] = {}
    for kin in kins:
        groups.setdefault(kin.one.id, []).append(kin)
    return list(groups.items())


def chosen_words(plan: Plan, outlook: Outlook) -> str:
    """Say how closely the plan's pairs are related."""
    cap = _cap(plan)
    if not plan.pairs:
        return f"No pairs. The cap on F of the young is {cap}."
    if not outlook.chosen:
        return (
            f"No two animals of any pair are related as far as recorded (the cap on F is {cap}). "
            "An unknown parent is not known to be unrelated."
        )
    return (
        f"{len(plan.pairs) - len(outlook.chosen)} of {len(plan.pairs)} pairs are unrelated as far "
        f"as recorded; mean F of the young {inbreeding(plan.mean_inbreeding)}, the cap is {cap}. "
        "An unknown parent is not known to be unrelated."
    )


def refused_words(outlook: Outlook) -> str:
    """Say how many pairs kinship refuses, and how many of them are shown."""
    count, shown = outlook.refused_count, len(outlook.refused)
    if not count:
        return "No two animals fit to breed are kept apart by kinship."
    more = f"; the {shown} closest are shown" if shown < count else ""
    pairs = "1 pair" if count == 1 else f"{count} pairs"
    return f"Of the animals fit to breed, kinship refuses {pairs}{more}."


def settings_lines(settings: Mapping[str, object]) -> list[tuple[str, str]]:
    """Return every setting as (key, value) in the order of ``season.yaml``; empty ones left out."""
    return [line for key, value in settings.items() for line in _lines(key, value)]


def _lines(key: str, value: object) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for name, part in value.items():
            yield from _lines(f"{key}.{name}", part)
    elif isinstance(value, list) and any(isinstance(part, Mapping) for part in value):
        for number, part in enumerate(value, start=1):
            yield from _lines(f"{key}[{number}]", part)
    elif value not in (None, []):
        yield key, _plain(value)


def _plain(value: object) -> str:
    if isinstance(value, list | tuple):
        return f"[{', '.join(_plain(part) for part in value)}]"
    if isinstance(value, float):
        return f"{value:.12g}"
    return str(value)


def _cap(plan: Plan) -> str:
    limits = plan.inputs.settings["limits"]
    cap = limits["max_F"] if isinstance(limits, Mapping) else 0
    return inbreeding(float(cap))
