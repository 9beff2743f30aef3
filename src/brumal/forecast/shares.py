"""What share of eggs comes through: fertile of all laid, hatched of the fertile, by dam and sire.

Eggs of one clutch share their luck, so counts are beta-binomial: with mean m and correlation r
between eggs of a clutch, a clutch's own share has the variance r m (1 - m), of which one part is
the dam's, one the sire's and one the clutch's own. Dam and sire parts are linear Bayes estimates.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.shrinkage import linear_bayes

Floats = NDArray[np.float64]

CORRELATION = 0.15
CORRELATIONS = tuple(CORRELATION * math.exp(step / 4) for step in range(-8, 6))
CORRELATION_SD = 0.7
USUAL_EGGS = 6
SHARE_FLOOR, SHARE_CEILING = 0.02, 0.98
STRENGTH_FLOOR = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """How the variance between clutches divides: the dam's part, the sire's, the rest chance."""

    dam: float
    sire: float

    @property
    def clutch(self) -> float:
        """Return the part that is the single clutch's own."""
        return 1 - self.dam - self.sire


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """``through`` of ``eggs`` came through in one clutch of this dam and sire."""

    dam: str
    sire: str | None
    eggs: int
    through: int


@dataclass(frozen=True, eq=False, kw_only=True)
class ShareModel:
    """Share by dam and sire; a parent without a record stands in the last row or column.

    ``mean`` and ``variance`` (dams + 1, sires + 1) are of the share of a coming clutch.
    """

    dam_place: Mapping[str, int]
    sire_place: Mapping[str, int]
    mean: Floats
    strength: Floats
    correlation: float

    def of(self, dam: str, sire: str | None) -> tuple[float, float]:
        """Return mean and strength (a + b of the beta) of the share in the pair's next clutch."""
        row = self.dam_place.get(dam, len(self.dam_place))
        column = self.sire_place.get(sire or "", len(self.sire_place))
        return self._pairs[row][column]

    @cached_property
    def _pairs(self) -> list[list[tuple[float, float]]]:
        """Mean and strength by row and column; reading arrays number by number takes longer."""
        both = zip(self.mean.tolist(), self.strength.tolist(), strict=True)
        return [list(zip(*rows, strict=True)) for rows in both]


def fit_shares(
    counts: Sequence[Count], prior_mean: float, worth: float, split: Split
) -> ShareModel:
    """Fit shares to recorded clutches; the stated mean counts for ``worth`` clutches."""
    counts = [count for count in counts if count.eggs > 0]
    dams = sorted({count.dam for count in counts})
    sires = sorted({count.sire for count in counts if count.sire})
    dam_place = {dam: at for at, dam in enumerate(dams)}
    sire_place = {sire: at for at, sire in enumerate(sires)}
    pooled = min(max(_pooled(counts, prior_mean, worth), SHARE_FLOOR), SHARE_CEILING)
    correlation = _correlation(counts, pooled)
    wobble = pooled * (1 - pooled)
    between = correlation * wobble

    eggs = np.array([float(count.eggs) for count in counts])
    seen = np.array([count.through / count.eggs for count in counts])
    loadings = np.zeros((len(counts), 1 + len(dams) + len(sires)))
    loadings[:, 0] = 1.0
    for row, count in enumerate(counts):
        loadings[row, 1 + dam_place[count.dam]] = 1.0
        if count.sire:
            loadings[row, 1 + len(dams) + sire_place[count.sire]] = 1.0
    unnamed = np.array([count.sire in (None, "") for count in counts], dtype=bool)
    noise = between * (split.clutch + split.sire * unnamed) + (wobble - between) / np.maximum(
        eggs, 1
    )
    variance = np.concatenate(
        [
            [(between + (wobble - between) / USUAL_EGGS) / worth],
            np.full(len(dams), between * split.dam),
            np.full(len(sires), between * split.sire),
        ]
    )
    start = np.zeros(len(variance))
    start[0] = prior_mean
    effects = linear_bayes(seen, noise, loadings, start, variance)
    mean, spread = _tables(effects.mean, effects.covariance, len(dams), between, split)
    mean = np.clip(mean, SHARE_FLOOR, SHARE_CEILING)
    strength = np.maximum(mean * (1 - mean) / spread - 1, STRENGTH_FLOOR)
    return ShareModel(
        dam_place=dam_place,
        sire_place=sire_place,
        mean=mean,
        strength=strength,
        correlation=correlation,
    )


def _pooled(counts: Sequence[Count], prior_mean: float, worth: float) -> float:
    eggs = sum(count.eggs for count in counts)
    through = sum(count.through for count in counts)
    return (worth * USUAL_EGGS * prior_mean + through) / (worth * USUAL_EGGS + eggs)


def _correlation(counts: Sequence[Count], pooled: float) -> float:
    """Return the likeliest correlation between eggs of a clutch on a grid, given the prior."""

    def log_posterior(correlation: float) -> float:
        strength = 1 / correlation - 1
        prior = -((math.log(correlation / CORRELATION) / CORRELATION_SD) ** 2) / 2
        return prior + sum(
            log_beta_binomial(count.through, count.eggs, pooled, strength) for count in counts
        )

    return max(CORRELATIONS, key=log_posterior)


def log_beta_binomial(through: int, eggs: int, mean: float, strength: float) -> float:
    """Return the log chance of ``through`` of ``eggs`` (mean within 0..1, both ends excluded)."""
    a, b = mean * strength, (1 - mean) * strength
    lost = eggs - through
    ways = math.lgamma(eggs + 1) - math.lgamma(through + 1) - math.lgamma(lost + 1)
    seen = math.lgamma(a + through) + math.lgamma(b + lost) - math.lgamma(strength + eggs)
    return ways + seen + math.lgamma(strength) - math.lgamma(a) - math.lgamma(b)


def _tables(
    mean: Floats, covariance: Floats, dams: int, between: float, split: Split
) -> tuple[Floats, Floats]:
    """Return mean and variance of a clutch's share, (dams + 1, sires + 1), strangers last."""
    of_dam = np.concatenate([mean[1 : 1 + dams], [0.0]])
    of_sire = np.concatenate([mean[1 + dams :], [0.0]])
    total = mean[0] + of_dam[:, None] + of_sire[None, :]

    spread = np.full(total.shape, covariance[0, 0] + between * split.clutch)
    d, s = slice(1, 1 + dams), slice(1 + dams, None)
    variances = np.diag(covariance)
    spread[:-1] += (variances[d] + 2 * covariance[0, d])[:, None]
    spread[-1] += between * split.dam
    spread[:, :-1] += (variances[s] + 2 * covariance[0, s])[None, :]
    spread[:, -1] += between * split.sire
    spread[:-1, :-1] += 2 * covariance[d, s]
    return total, spread
