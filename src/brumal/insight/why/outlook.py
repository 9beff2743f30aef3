"""What a plan means for the keeper's year: rounds, dates, room by week, kin, weights near a limit.

Computed once from the prepared season and its plan, so that every report reads the same figures.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from brumal.forecast.dates import window
from brumal.forecast.occupancy import WeekLoad
from brumal.forecast.rounds import ShortOfVisits
from brumal.forecast.weight import project
from brumal.insight.simulate.diary import ClutchOutlook, Task, Watched, diary
from brumal.insight.simulate.seasons import Simulation, simulate
from brumal.pedigree.pair import KinPair, examine_pair
from brumal.pipeline import Prepared
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason
from brumal.planner.visiting import Visiting
from brumal.records.animals import Sex
from brumal.records.season_state import MAY_MEET
from brumal.rules.pair_rules import ROUNDING
from brumal.rules.readiness import Readiness, State, ready_day
from brumal.rules.standing import WEIGHT_RULES
from brumal.timings import timed

MOST_REFUSED = 60
"""So many refused pairs are told of one by one; the rest are counted."""
MOST_WEIGHTS = 6
"""So many weight trends are shown of animals that rest, and as many of those that breed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """A plan day by day: what is to be done, and when each clutch should come.

    ``clutches`` are in the order of ``Plan.pairs``.
    """

    clutches: tuple[ClutchOutlook, ...]
    tasks: tuple[Task, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook(Days):
    """A plan carried through the year.

    ``short`` are pairs the calendar cannot give their visits. ``chosen`` are the plan's pairs of
    related animals, ``refused`` those that the cap on F keeps apart, closest first, of
    ``refused_count`` in all. ``near`` are animals whose weight stands close to what is asked, the
    resting before the breeding; ``soon`` are those that no rule should bar any more while pairing
    still runs, by that day. ``luck`` is the plan carried out in many simulated seasons.
    ``animals`` holds every animal of the collection by id.
    """

    short: tuple[ShortOfVisits, ...]
    weeks: tuple[WeekLoad, ...]
    chosen: tuple[KinPair, ...]
    refused: tuple[KinPair, ...]
    refused_count: int
    near: tuple[Readiness, ...]
    soon: tuple[Readiness, ...]
    luck: Simulation
    animals: Mapping[str, Readiness]


@timed("looking ahead")
def look_ahead(season: SolvedSeason, plan: Plan) -> Outlook:
    """Carry the plan of a solved season through the year, and through many seasons."""
    prepared, animals, days = season.prepared, season.ready, days_of(season, plan)
    found = tuple(animals.values())
    used = {animal for pair in plan.pairs for animal in (pair.dam, pair.sire)}
    resting = [one for one in found if _waits_for_weight(one) and one.animal.id not in used]
    refused = _refused(prepared, found)
    return Outlook(
        clutches=days.clutches,
        tasks=days.tasks,
        short=season.laid_out.calendar.short,
        weeks=season.weeks,
        chosen=tuple(
            examine_pair(prepared.pedigree, pair.dam, pair.sire)
            for pair in plan.pairs
            if pair.F > 0
        ),
        refused=tuple(
            examine_pair(prepared.pedigree, dam, sire) for _, dam, sire in refused[:MOST_REFUSED]
        ),
        refused_count=len(refused),
        near=(*resting[:MOST_WEIGHTS], *_breeding_near(plan, animals)),
        soon=_soon(found, prepared.records.settings.season.pair_to),
        luck=simulate(season),
        animals=animals,
    )


def days_of(season: SolvedSeason, plan: Plan) -> Days:
    """Return the days of a solved season's plan: all that a week of it needs."""
    prepared, laid_out = season.prepared, season.laid_out
    settings, females = prepared.records.settings, prepared.records.state.females
    visiting = Visiting.of(prepared)
    overdue = {pair.dam: visiting.overdue(pair.dam) for pair in plan.pairs}
    dates = {
        dam: found if overdue[dam] is None else visiting.foreseen(dam)
        for (dam, _), found in laid_out.dates.items()
    }
    clutches = tuple(
        ClutchOutlook(
            dam=pair.dam,
            sire=pair.sire,
            visits=laid_out.calendar.of(pair.dam, pair.sire),
            waits_for=pair.waits_for,
            state=pair.state,
            gone=females[pair.dam].gone if pair.dam in females else False,
            overdue=overdue[pair.dam],
            ovulation=window(dates[pair.dam].ovulation),
            shed=window(dates[pair.dam].shed),
            laying=window(dates[pair.dam].laying),
            hatching=window(dates[pair.dam].hatching),
        )
        for pair in plan.pairs
    )
    gone_on = {pair.dam for pair in plan.pairs if pair.state not in MAY_MEET}
    open_ = [one for name, one in season.ready.items() if name not in gone_on]
    watched = list(filter(None, (_watched(one, settings.season.pair_to) for one in open_)))
    return Days(clutches=clutches, tasks=diary(clutches, watched, settings, prepared.records.as_of))


def _waits_for_weight(one: Readiness) -> bool:
    """Say whether nothing but weight, or weight and time, keeps the animal from breeding."""
    failed = {verdict.rule for verdict in one.failed}
    return bool(failed & set(WEIGHT_RULES)) and failed <= {*WEIGHT_RULES, "age", "quarantine"}


def _watched(one: Readiness, last_day: date) -> Watched | None:
    """Return an animal that lacks only grams which it may have while pairing runs.

    One whose gain is not known may; another as far as the high end of where its line leads.
    """
    start = one.start
    if one.rests:
        return None
    if start.day is not None:
        asked = Watched(animal=start.animal, weigh_on=start.weigh_on, grams=start.asked_g)
        return asked if start.provisional else None
    if not _waits_for_weight(one) or not _could_have(one, last_day):
        return None
    likely = one.ready_on if one.ready_on is not None and one.ready_on <= last_day else None
    return Watched(animal=start.animal, weigh_on=likely, grams=one.limit_g)


def _could_have(one: Readiness, last_day: date) -> bool:
    others = [ready_day((each,)) for each in one.failed if each.rule not in WEIGHT_RULES]
    if any(day is None or day > last_day for day in others):
        return False
    coming = project(one.series, last_day)
    return coming is None or one.limit_g is None or coming.high >= one.limit_g


def _soon(found: Sequence[Readiness], last_day: date) -> tuple[Readiness, ...]:
    days = [
        (one.ready_on, one.animal.id, one)
        for one in found
        if one.state is State.NOT_READY and one.ready_on is not None and one.ready_on <= last_day
    ]
    return tuple(one for *_, one in sorted(days, key=lambda each: each[:2]))


def _breeding_near(plan: Plan, animals: Mapping[str, Readiness]) -> tuple[Readiness, ...]:
    """Return the animals of the plan that weigh least above what is asked, the nearest first."""
    used = sorted({pair.dam for pair in plan.pairs} | {pair.sire for pair in plan.pairs})
    margins = [
        (one.series.last.grams / one.limit_g, one.animal.id)
        for one in (animals[name] for name in used if name in animals)
        if one.limit_g and one.series.last is not None
    ]
    return tuple(animals[name] for _, name in sorted(margins)[:MOST_WEIGHTS])


def _refused(prepared: Prepared, found: Sequence[Readiness]) -> list[tuple[float, str, str]]:
    """Return the pairs of animals that may breed that the cap on F keeps apart, closest first."""
    cap = prepared.records.settings.limits.max_F
    able = [one.animal for one in found if one.start.day is not None]
    sires = [animal.id for animal in able if animal.sex is Sex.MALE]
    pairs = [
        (prepared.kinship.phi(dam.id, sire), dam.id, sire)
        for dam in able
        if dam.sex is Sex.FEMALE
        for sire in sires
        if (dam.id, sire) not in prepared.rules.exceptions
    ]
    over = [pair for pair in pairs if pair[0] > cap + ROUNDING]
    return sorted(over, key=lambda pair: (-pair[0], pair[1], pair[2]))
