"""Clutches of one pair, drawn: eggs laid and young hatched in each season."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from brumal.forecast.clutch import ClutchForecast
from brumal.planner.risk.parent_draws import Places


@dataclass(frozen=True, slots=True, eq=False)
class ClutchDraws:
    """One pair's clutch in each season: eggs laid (0: she does not go) and young hatched."""

    eggs: Places
    hatched: Places


def draw_clutch(forecast: ClutchForecast, seasons: int, rng: np.random.Generator) -> ClutchDraws:
    """Draw one pair's clutch in each season."""
    goes = rng.random(seasons) < forecast.goes
    reached = np.cumsum(forecast.eggs_pmf)
    eggs = np.searchsorted(reached, rng.random(seasons) * reached[-1], side="right")
    eggs = np.minimum(eggs, reached.size - 1) * goes
    fertile = _through(eggs, forecast.fertile, forecast.fertile_strength, rng)
    hatched = _through(fertile, forecast.hatched, forecast.hatched_strength, rng)
    return ClutchDraws(eggs, hatched)


def _through(counts: Places, mean: float, strength: float, rng: np.random.Generator) -> Places:
    """Return how many come through, the share of each clutch drawn from its beta."""
    if math.isinf(strength) or mean in (0.0, 1.0):
        return rng.binomial(counts, mean)
    shares = rng.beta(mean * strength, (1 - mean) * strength, counts.size)
    return rng.binomial(counts, shares)
