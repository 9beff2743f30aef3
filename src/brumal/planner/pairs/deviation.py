"""How far the money of one pair may come out from what is expected."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.sale import square_of_sales
from brumal.forecast.sheets import Shares
from brumal.records.settings import Costs, Sale


def deviation(
    parts: Iterable[tuple[float, ClutchForecast, Shares]], costs: Costs, sale: Sale
) -> float:
    """Return the standard deviation of a pair's money, by the parts of its clutch.

    Each part is the chance of a sire, the clutch by him, and the shares of its young; the spread of
    the whole follows from those of its parts by the law of total variance.
    """
    found = [(p, *_moments(clutch, shares, costs, sale)) for p, clutch, shares in parts]
    mean = sum(p * own for p, own, _ in found)
    square = sum(p * (own**2 + spread) for p, own, spread in found)
    return math.sqrt(max(square - mean**2, 0.0))


def _moments(
    clutch: ClutchForecast, shares: Shares, costs: Costs, sale: Sale
) -> tuple[float, float]:
    """Return the mean and the variance of a pair's money, uncertain parents included.

    Income is a sum over a random number K of young that share their parents, less the cost of the
    eggs laid, of which a share hatches: Var = E[K] s2 + Var(K) m2 - 2 c m Cov(E, K) + c2 Var(E),
    averaged over what the parents may be, plus the variance of the means (law of total variance).
    ``shares`` are those of whole values, as money that comes in on average; whether a young finds
    a buyer is its own luck and part of s2.
    """
    per_egg, per_young = costs.egg, costs.hatchling
    young = clutch.young_pmf
    counts = np.arange(young.size)
    mean = float(young @ counts)
    spread = float(young @ counts**2) - mean**2
    eggs = np.arange(clutch.eggs_pmf.size)
    laid = clutch.goes * clutch.eggs
    laid_spread = clutch.goes * float(clutch.eggs_pmf @ eggs**2) - laid**2
    hatch = clutch.fertile * clutch.hatched
    chances = shares.weights.reshape(-1)
    each = shares.mean.reshape(-1) - per_young
    own = (square_of_sales(shares.square, sale) - shares.mean**2).reshape(-1)
    within = mean * own + spread * each**2 - 2 * per_egg * each * hatch * laid_spread
    means = mean * each
    between = float(chances @ means**2) - float(chances @ means) ** 2
    total = float(chances @ within) + per_egg**2 * laid_spread + between
    return float(chances @ means) - per_egg * laid - costs.pairing, total
