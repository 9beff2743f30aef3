"""Distributions of counts: eggs in a clutch, and how many of so many eggs come through."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def lognormal_counts(mean_log: float, variance_log: float, most: int) -> Floats:
    """Return the chance of 0, 1, ... ``most`` (array of most + 1, its first entry 0).

    A count k has the mass of a lognormal from k - 1/2 to k + 1/2, cut at 1 and ``most`` and made
    to sum to one; where none of it lies between, the nearer end has all.
    """
    scale = math.sqrt(2 * variance_log)
    below = np.array([math.erf((math.log(k + 0.5) - mean_log) / scale) for k in range(most + 1)])
    chances = np.concatenate([[0.0], np.diff(below)])
    if not chances.any():
        chances[most if mean_log > 0 else 1] = 1.0
    return _shut(chances / chances.sum())


def two_point_counts(mean: float, most: int) -> Floats:
    """Return the chance of 0 ... ``most`` with all mass on the two counts next to ``mean``."""
    low = math.floor(mean)
    chances = np.zeros(most + 1)
    chances[low] = 1 - (mean - low)
    if mean > low:
        chances[low + 1] = mean - low
    return _shut(chances)


def share_tables(mean: Floats, strength: Floats, most: int) -> Floats:
    """Return the chance that k of n eggs come through, shape (..., most + 1, most + 1) as [n, k].

    Beta-binomial with parts ``mean * strength`` and ``(1 - mean) * strength``, both of shape
    (...); an infinite strength is the binomial. Written as products of (mean + j / strength), which
    holds for a mean of 0 or 1 too. Johnson, Kemp & Kotz, Univariate Discrete Distributions, 3rd
    ed. 2005, sec. 6.9.2 (from memory).
    """
    step = np.arange(most) / np.asarray(strength, dtype=float)[..., None]
    share = np.asarray(mean, dtype=float)[..., None]
    through, lost, total = (_running(part + step) for part in (share, 1 - share, 1.0))
    ways = np.array([[math.comb(n, k) for k in range(most + 1)] for n in range(most + 1)], float)
    n, k = np.indices((most + 1, most + 1))
    left = np.maximum(n - k, 0)
    tables: Floats = ways * through[..., k] * lost[..., left] / total[..., n]
    return tables


def percentile(chances: Floats, share: float) -> int:
    """Return the least count whose cumulative chance reaches ``share``."""
    return int(np.searchsorted(np.cumsum(chances), share - 1e-12))


def p10_p50_p90(values: NDArray[np.generic]) -> tuple[float, float, float]:
    """Return the least figures that a tenth, half and nine tenths of drawn values stay at or under.

    ``values`` has the shape (draws,).
    """
    ordered = np.sort(values)
    places = [max(0, math.ceil(level * ordered.size) - 1) for level in (0.1, 0.5, 0.9)]
    low, middle, high = (float(each) for each in ordered[places])
    return low, middle, high


def mean_count(chances: Floats) -> float:
    """Return the expected count of a distribution over 0, 1, 2 ..."""
    return float(chances @ np.arange(len(chances)))


def _running(factors: Floats) -> Floats:
    """Return the running products with a leading 1 along the last axis."""
    ones = np.ones((*factors.shape[:-1], 1))
    return np.concatenate([ones, np.cumprod(factors, axis=-1)], axis=-1)


def _shut(values: Floats) -> Floats:
    values.setflags(write=False)
    return values
