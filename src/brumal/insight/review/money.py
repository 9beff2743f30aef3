"""Money of clutches that was to be expected, and the window of it, beside what they came to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brumal.forecast.distributions import p10_p50_p90
from brumal.insight.review.windows import Part
from brumal.insight.simulate.seasons import SEASONS, SEED, draw_parents_of
from brumal.pipeline import Prepared
from brumal.planner.risk.pair_draws import draw_pair
from brumal.planner.risk.parent_draws import Floats, choose, stream
from brumal.planner.risk.young_draws import takings, whole_prices


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyFigure:
    """Money that was to be expected, and the window that holds in 80 % of simulated seasons.

    ``came`` is what the young come to at the same prices, ``None`` while that is not known.
    """

    mean: float
    low: float
    high: float
    came: float | None

    @property
    def held(self) -> bool | None:
        """Say whether what came lies in the window."""
        return None if self.came is None else self.low <= self.came <= self.high


def money_figure(mean: float, drawn: Floats, came: float | None) -> MoneyFigure:
    """Return the figure of money drawn in many seasons."""
    low, _, high = p10_p50_p90(drawn)
    return MoneyFigure(mean=mean, low=low, high=high, came=came)


def drawn_money(before: Prepared, parts: Mapping[str, Sequence[Part]]) -> dict[str, Floats]:
    """Return what the clutch of each dam brings in each of many seasons, shape (SEASONS,).

    Uncertain parents are drawn once a season for all clutches, as for a plan; so is the male where
    several may be the sire.
    """
    forecasts = [part.forecast for each in parts.values() for part in each]
    pairs = [(forecast.dam, forecast.sire) for forecast in forecasts]
    prices, parents = whole_prices(before), draw_parents_of(before, pairs, SEED, SEASONS)
    found = {}
    for dam, own in parts.items():
        chances = np.array([part.chance for part in own])
        sire = choose(chances, stream(SEED, "sire", dam).random(SEASONS))
        money = np.zeros(SEASONS)
        for number in np.unique(sire):
            drawn = draw_pair(before, prices, parents, own[number].forecast, SEED, looks=False)
            his = sire == number
            money[his] = takings(before.costs, (), *drawn).money[his]
        found[dam] = money
    return found
