"""When things happen: ovulation, laying and hatching as windows of days.

Each stage takes a whole number of days between a least and a most, all equally likely and
independent of each other (common practice, no source: no paper gives the distributions for this
species). The sum of stages is then exact by convolution.
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

    def by(self, day: date) -> float:
        """Return the chance that it has happened by the end of ``day``."""
        return float(self.chances[: max((day - self.first).days + 1, 0)].sum())

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
    """The dates of one pair's clutch, if she goes, from the day of the first visit."""

    first_visit: date
    ovulation: DayChances
    laying: DayChances
    hatching: DayChances
    leaving: DayChances


def clutch_dates(first_visit: date, stages: StageDays) -> ClutchDates:
    """Return the chances of each date for a pair that first meets on ``first_visit``."""
    met = DayChances(first_visit, np.ones(1))
    ovulation = met.later(stages.to_ovulation)
    laying = ovulation.later(stages.to_lay)
    hatching = laying.later(stages.incubation)
    return ClutchDates(
        first_visit=first_visit,
        ovulation=ovulation,
        laying=laying,
        hatching=hatching,
        leaving=hatching.later(stages.raising),
    )


def window(days: DayChances, share: float = WINDOW_SHARE) -> Window:
    """Return the window that leaves equal chances, (1 - ``share``) / 2, on either side."""
    reached = np.cumsum(days.chances)

    def day_of(chance: float) -> date:
        return days.first + timedelta(days=int(np.searchsorted(reached, chance - 1e-12)))

    tail = (1 - share) / 2
    return Window(early=day_of(tail), middle=day_of(0.5), late=day_of(1 - tail))
