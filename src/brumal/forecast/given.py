"""A female's forecast given what has happened to her this season.

Common practice, no source: of females that were seen to ovulate nine in ten lay, of those in the
pre-lay shed nearly all.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.dates import ClutchDates, DayChances, clutch_dates
from brumal.forecast.service import Stay
from brumal.forecast.signs import Sign, SignKind, days_given
from brumal.records.animals import EventKind
from brumal.records.season_facts import SeasonClutch
from brumal.records.season_state import MAY_MEET, FemaleState, Stage
from brumal.records.settings import StageDays, Visits

GOES = {Stage.OVULATED: 0.9, Stage.SHED: 0.97, Stage.LAID: 1.0, Stage.HATCHED: 1.0}
"""The chance that she lays, once she has come so far."""

MAY_LAY = (Stage.OVULATED, Stage.SHED)
"""How far a female has come of which eggs are awaited."""

NO_CYCLE = {SignKind.FOLLICLES: 0.2}
"""How likely a sign is of a female that does not cycle this season (1 where it is not named)."""

_SIGNS = {
    EventKind.LOCK: SignKind.LOCK,
    EventKind.FOLLICLES: SignKind.FOLLICLES,
    EventKind.OVULATION: SignKind.OVULATION,
    EventKind.SHED: SignKind.SHED,
    EventKind.LAID: SignKind.LAID,
}


def signs_of(her: FemaleState, seen: date | None, pair_from: date) -> tuple[Sign, ...]:
    """Return what was seen of her, that nothing was by the day ``seen`` among it.

    The sign nearest to her ovulation decides: the day itself, else the shed, else the laying.
    Before any of them locks and follicles count, and that nothing more was seen.
    """
    found = list(_told(her))
    if her.clutch is not None and her.clutch.laid is not None and not her.day_of(EventKind.LAID):
        found.append(Sign(kind=SignKind.LAID, day=her.clutch.laid))
    for kind in (SignKind.OVULATION, SignKind.SHED, SignKind.LAID):
        decisive = [sign for sign in found if sign.kind is kind]
        if decisive:
            return tuple(decisive)
    if seen is not None and seen >= pair_from and her.stage in MAY_MEET:
        found.append(Sign(kind=SignKind.NOTHING, day=seen))
    return tuple(found)


def _told(her: FemaleState) -> Iterator[Sign]:
    firsts = set()
    for event in her.events:
        kind = _SIGNS.get(event.kind)
        if kind is None or kind in firsts:
            continue
        if kind not in (SignKind.LOCK, SignKind.FOLLICLES):
            firsts.add(kind)
        yield Sign(kind=kind, day=event.date, mm=event.mm)


def given_signs(
    cycles: float, days: DayChances, signs: tuple[Sign, ...], stages: StageDays
) -> tuple[float, DayChances]:
    """Return the chance that she cycles and the days of her ovulation, given what was seen."""
    sharper, likely = days_given(days, signs, stages)
    other = math.prod(NO_CYCLE.get(sign.kind, 1.0) for sign in signs)
    total = cycles * likely + (1 - cycles) * other
    return (cycles * likely / total if total > 0 else 0.0), sharper


def stays_made(her: FemaleState, visits: Visits) -> tuple[Stay, ...]:
    """Return the visits that she has had; one with a lock counts as two."""
    more = timedelta(days=visits.days - 1)
    return tuple(
        (event.date, event.date if event.kind is EventKind.LOCK else event.date + more)
        for event in her.meetings
        if event.mate not in her.refused
    )


def dates_given(
    days: DayChances, her: FemaleState | None, seen: date | None, stages: StageDays
) -> ClutchDates:
    """Return the dates of her clutch, those that were seen as they were."""
    if her is None:
        return clutch_dates(days, stages, seen=seen)
    clutch = her.clutch
    return clutch_dates(
        days,
        stages,
        shed=her.day_of(EventKind.SHED),
        laid=clutch.laid if clutch else None,
        hatched=clutch.hatched_on if clutch else None,
        seen=seen,
    )


def overdue_since(
    days: DayChances, her: FemaleState | None, seen: date | None, stages: StageDays
) -> date | None:
    """Return the day from which her eggs, or the young of her clutch, are overdue.

    That is the day after the last that the stages leave; ``None`` where that has not come, where it
    is not known whether she ovulated, or where no egg of hers may still hatch.
    """
    if her is None or seen is None or her.stage not in (*MAY_LAY, Stage.LAID):
        return None
    foreseen = dates_given(days, her, None, stages)
    due = foreseen.laying
    if her.stage is Stage.LAID:
        if her.clutch is None or her.clutch.laid is None or not _may_hatch(her.clutch):
            return None
        due = foreseen.hatching
    return due.latest + timedelta(days=1) if seen > due.latest else None


def _may_hatch(clutch: SeasonClutch) -> bool:
    if clutch.good is not None:
        return clutch.good > 0
    return clutch.eggs is None or clutch.eggs > (clutch.slugs or 0)


def clutch_given(forecast: ClutchForecast, clutch: SeasonClutch | None) -> ClutchForecast:
    """Return the forecast of a clutch that was laid: of the eggs that may still hatch.

    Slugs and eggs that went bad are left out of it; once it has hatched, it is its young.
    """
    if clutch is None:
        return forecast
    left, fertile, hatched = clutch.eggs, False, False
    if clutch.hatched is not None:
        left, fertile, hatched = clutch.hatched, True, True
    elif clutch.good is not None:
        left, fertile = clutch.good, True
    elif clutch.eggs is not None and clutch.slugs is not None:
        left, fertile = clutch.eggs - clutch.slugs, True
    if left is None:
        return forecast
    law = np.zeros(len(forecast.eggs_pmf))
    law[min(left, len(law) - 1)] = 1.0
    made = replace(forecast, eggs=float(left), eggs_p90=float(left), eggs_pmf=law)
    if fertile:
        made = replace(made, fertile=1.0, fertile_strength=math.inf)
    if hatched:
        made = replace(made, hatched=1.0, hatched_strength=math.inf, eggs_p90=0.0)
    return made
