"""Windows of a forecast beside what came: counts of a clutch, and the days of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from brumal.forecast.clutch import ClutchForecast, Floats, clutch_for
from brumal.forecast.dates import DayChances, window
from brumal.forecast.distributions import mean_count, percentile, share_tables
from brumal.planner.plan import Outcome
from brumal.planner.visiting import Visiting
from brumal.records.animals import EventKind
from brumal.records.season_facts import SeasonClutch
from brumal.records.season_state import FemaleState

SHARE = 0.8
"""Windows hold in so many cases, as those of the plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A forecast count beside what came: its mean, and the window that holds in 80 % of cases."""

    mean: float
    low: int
    high: int
    came: int

    @property
    def held(self) -> bool:
        """Say whether what came lies in the window."""
        return self.low <= self.came <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class DayFigure:
    """A forecast day beside the one that came: half of the cases by ``mean``, and the window."""

    mean: date
    low: date
    high: date
    came: date

    @property
    def held(self) -> bool:
        """Say whether the day that came lies in the window."""
        return self.low <= self.came <= self.high


@dataclass(frozen=True, slots=True)
class Part:
    """One of the males that may be the sire: his chance, the forecast, the looks of the young."""

    chance: float
    forecast: ClutchForecast
    looks: tuple[Outcome, ...]


def forecast_of(visiting: Visiting, dam: str, sire: str) -> ClutchForecast:
    """Return the forecast of a pair with ordinary visits from the day that it might meet."""
    before = visiting.prepared
    her, him = before.animals[dam], before.animals[sire]
    start = before.meetings.of(dam, sire) if {dam, sire} <= before.starts.keys() else None
    if start is None:
        return clutch_for(before.forecasts, her, him)
    return visiting.clutch(her, him, start)


def counts_of(
    parts: Sequence[Part], clutch: SeasonClutch | None
) -> tuple[Figure | None, Figure | None, Figure | None]:
    """Return eggs, fertile eggs of those laid, and young hatched of the fertile ones."""
    if clutch is None or clutch.eggs is None:
        return None, None, None
    law = parts[0].forecast.eggs_pmf
    most, eggs = len(law) - 1, _figure(law, clutch.eggs)
    if clutch.slugs is None or clutch.eggs > most:
        return eggs, None, None
    good = clutch.eggs - clutch.slugs
    fertile = _figure(_mixed(parts, "fertile", clutch.eggs), good)
    if clutch.hatched is None:
        return eggs, fertile, None
    return eggs, fertile, _figure(_mixed(parts, "hatched", good), clutch.hatched)


def _mixed(parts: Sequence[Part], share: str, count: int) -> Floats:
    """Return the law of how many of so many come through a share, whoever the sire is."""
    law = np.zeros(max(count, 1) + 1)
    for part in parts:
        mean, strength = (getattr(part.forecast, share + end) for end in ("", "_strength"))
        law += part.chance * share_tables(np.array(mean), np.array(strength), max(count, 1))[count]
    return law


def days_of(
    visiting: Visiting, state: FemaleState
) -> tuple[DayFigure | None, DayFigure | None, DayFigure | None]:
    """Return pre-lay shed and laying by the first day of pairing, hatching by the day she laid."""
    clutch, season = state.clutch, visiting.prepared.records.settings.season
    stages = visiting.prepared.records.settings.dates
    days = visiting.ordinary(state.animal, season.pair_from).ovulation
    foreseen = visiting.dates(state.animal, days)
    laid = clutch.laid if clutch else None
    hatching = DayChances.sure(laid).later(stages.incubation) if laid else foreseen.hatching
    return (
        _day(foreseen.shed, state.day_of(EventKind.SHED)),
        _day(foreseen.laying, laid),
        _day(hatching, clutch.hatched_on if clutch else None),
    )


def _day(days: DayChances, came: date | None) -> DayFigure | None:
    if came is None:
        return None
    told = window(days, SHARE)
    return DayFigure(mean=told.middle, low=told.early, high=told.late, came=came)


def _figure(law: Floats, came: int) -> Figure:
    tail = (1 - SHARE) / 2
    return Figure(
        mean=mean_count(law), low=percentile(law, tail), high=percentile(law, 1 - tail), came=came
    )
