"""The spread of a plan's money in simulated seasons."""

from __future__ import annotations

import math

import numpy as np

from brumal.insight.seasons import SEASONS, SEED, draw_seasons, money_of
from brumal.insight.solved import SolvedSeason
from brumal.insight.spread import Spread


def simulated_spread(season: SolvedSeason, seasons: int = SEASONS, seed: int = SEED) -> Spread:
    """Return what one simulated season in ten stays at or under, half of them do, nine in ten do.

    Every scenario of a comparison is drawn with the same seed. Soft rules take no money here, so a
    plan that bends them lies lower in its objective than in its spread.
    """
    money = np.sort(money_of(season, draw_seasons(season, seasons, seed), seasons))
    places = [max(0, math.ceil(level * money.size) - 1) for level in (0.1, 0.5, 0.9)]
    p10, p50, p90 = money[places].tolist()
    return Spread(p10=p10, p50=p50, p90=p90)
