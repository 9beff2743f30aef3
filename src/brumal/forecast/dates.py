"""When things happen: ovulation, pre-lay shed, laying and hatching as windows of days.

Ovulation is the female's own (:mod:`brumal.forecast.ovulation`). Each stage after it takes a whole
number of days between a least and a most, all equally likely and independent of each other (common
practice, no source: no paper gives the distributions for this species). The sum of stages is then
exact by convolution.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from brumal.records.settings import StageDays

Floats = NDArray[np.float64]

WINDOW_SHARE = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class DayChances:
    """The chance of each day: ``chances[i]`` belongs to ``first`` plus i days."""

    first: date
    chances: Floats

    @staticmethod
    def sure(day: date) -> DayChances:
        """Return one certain day."""
        return DayChances(day, np.ones(1))

    @property
    def last(self) -> date:
        """Return the last day that has a place."""
        return self.first + timedelta(days=len(self.chances) - 1)

    @property
    def latest(self) -> date:
        """Return the last day that has a chance."""
        return self.first + timedelta(days=int(np.flatnonzero(self.chances)[-1]))

    def by(self, day: date) -> float:
        """Return the chance that it has happened by the end of ``day``."""
        return float(self.chances[: max((day - self.first).days + 1, 0)].sum())

    def not_by(self, day: date) -> DayChances:
        """Return the chances given that it has not happened by the end of ``day``.

        Where it should have, the next day is all that is left.
        """
        gone = (day - self.first).days + 1
        if gone <= 0:
            return self
        left = self.chances[gone:]
        if left.sum() <= 0:
            return DayChances.sure(day + timedelta(days=1))
        return DayChances(day + timedelta(days=1), left / left.sum())

    def later(self, days: tuple[int, int]) -> DayChances:
        """Return the chances after a further stage of (least, most) days."""
        least, most = days
        stage = np.full(most - least + 1, 1 / (most - least + 1))
        return DayChances(self.first + timedelta(days=least), np.convolve(self.chances, stage))


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """From ``early`` to ``late`` in 80 % of cases, half of them by ``middle``."""

    early: date
    middle: date
    late: date


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ClutchDates:
    """The dates of one female's clutch, if she goes."""

    ovulation: DayChances
    shed: DayChances
    laying: DayChances
    hatching: DayChances
    leaving: DayChances


def clutch_dates(
    ovulation: DayChances,
    stages: StageDays,
    *,
    shed: date | None = None,
    laid: date | None = None,
    hatched: date | None = None,
    seen: date | None = None,
) -> ClutchDates:
    """Return the chances of each date from those of her ovulation.

    A pre-lay shed, a laying or a hatching that was seen stands as the day it was; one that was not
    comes after ``seen``, the day of the season's view.
    """
    sheds = ovulation.later(stages.to_shed) if shed is None else DayChances.sure(shed)
    laying = _or_later(sheds.later(stages.shed_to_laying), laid, seen)
    hatching = _or_later(laying.later(stages.incubation), hatched, seen)
    return ClutchDates(
        ovulation=ovulation,
        shed=sheds,
        laying=laying,
        hatching=hatching,
        leaving=hatching.later(stages.raising),
    )


def _or_later(days: DayChances, known: date | None, seen: date | None) -> DayChances:
    if known is not None:
        return DayChances.sure(known)
    return days if seen is None else days.not_by(seen)


def window(days: DayChances, share: float = WINDOW_SHARE) -> Window:
    """Return the window that leaves equal chances, (1 - ``share``) / 2, on either side."""
    reached = np.cumsum(days.chances)

    def day_of(chance: float) -> date:
        return days.first + timedelta(days=int(np.searchsorted(reached, chance - 1e-12)))

    tail = (1 - share) / 2
    return Window(early=day_of(tail), middle=day_of(0.5), late=day_of(1 - tail))
