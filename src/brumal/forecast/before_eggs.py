"""What a female weighed before the eggs of a clutch: what she must be back near to breed again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from brumal.forecast.weight import (
    BEFORE_EGGS_DAYS,
    GRAVID_DAYS,
    Point,
    WeighingKind,
    WeightSeries,
)

MOST_GAIN_G = 5.0
"""So many grams a day a female may gain at most: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeEggs:
    """The most that a female weighed before a clutch, as far as a weighing tells.

    ``gained_g`` is what she may have gained from the weighing until the eggs grew; ``gravid`` says
    that it weighed eggs along with her, as no earlier one tells as much.
    """

    point: Point
    gained_g: float
    gravid: bool

    @property
    def grams(self) -> float:
        """Return the weight with what she may have gained since."""
        return self.point.grams + self.gained_g


def weight_before_eggs(series: WeightSeries, laid: date) -> BeforeEggs | None:
    """Return the most she weighed before the clutch of the day ``laid``; ``None``: not known.

    Each weighing bounds it: what she weighed, eggs and all, and ``MOST_GAIN_G`` for each day until
    the eggs grew. The closest bound counts, so that with fewer weighings it never falls.
    """
    grown = laid - timedelta(days=GRAVID_DAYS + 1)
    bounds = [
        BeforeEggs(
            point=point,
            gained_g=MOST_GAIN_G * max((grown - point.on).days, 0),
            gravid=point.on > grown,
        )
        for point in series.points
        if point.on is not None
        and point.kind is not WeighingKind.OFF_BY_TEN
        and grown - timedelta(days=BEFORE_EGGS_DAYS) <= point.on <= laid
    ]
    return min(reversed(bounds), key=lambda bound: bound.grams, default=None)
