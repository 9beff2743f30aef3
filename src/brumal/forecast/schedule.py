"""The season of a set of pairs in days: rounds, dates of each clutch, boxes and tubs by week."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.dates import ClutchDates, Window, clutch_dates, window
from brumal.forecast.occupancy import ExpectedClutch, WeekLoad, week_loads
from brumal.forecast.rounds import Calendar, RoundPair, rounds_for
from brumal.records.settings import Settings


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PairDates:
    """When one pair's season should happen; the windows hold if she goes."""

    dam: str
    sire: str
    dates: ClutchDates
    ovulation: Window
    laying: Window
    hatching: Window


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Schedule:
    """The visits, the dates of each pair (by dam, then sire), and the load of each week."""

    calendar: Calendar
    pairs: tuple[PairDates, ...]
    weeks: tuple[WeekLoad, ...]


def schedule(
    clutches: Sequence[ClutchForecast],
    settings: Settings,
    need: Mapping[tuple[str, str], float] | None = None,
) -> Schedule:
    """Lay a season out in days for the pairs of a plan.

    ``need`` orders the females of one male, by (dam, sire), the highest first (the value of the
    pair, say). A pair that gets no visit is dated from the first day of pairing.
    """
    order = need or {}
    rounds = [
        RoundPair(dam=each.dam, sire=each.sire, need=order.get((each.dam, each.sire), 0.0))
        for each in clutches
    ]
    calendar = rounds_for(rounds, settings.season, settings.visits)
    ordered = sorted(clutches, key=lambda each: (each.dam, each.sire))
    expected = []
    for clutch in ordered:
        first = calendar.first_visit(clutch.dam, clutch.sire) or settings.season.pair_from
        expected.append(ExpectedClutch(clutch=clutch, dates=clutch_dates(first, settings.dates)))
    return Schedule(
        calendar=calendar,
        pairs=tuple(_pair_dates(each) for each in expected),
        weeks=week_loads(expected, settings.box),
    )


def _pair_dates(expected: ExpectedClutch) -> PairDates:
    return PairDates(
        dam=expected.clutch.dam,
        sire=expected.clutch.sire,
        dates=expected.dates,
        ovulation=window(expected.dates.ovulation),
        laying=window(expected.dates.laying),
        hatching=window(expected.dates.hatching),
    )
