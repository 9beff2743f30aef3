"""Shrinkage: what a few records of one animal say, pulled towards the collection and the prior.

Linear Bayes estimation (best linear unbiased prediction with prior means for the fixed effects:
Henderson 1975, Biometrics 31:423-447, from memory; for one group and known variances it is the
credibility formula Z = n / (n + k) of Buhlmann & Straub 1970, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Posterior mean (q,) and covariance (q, q) of the effects."""

    mean: Floats
    covariance: Floats


def linear_bayes(
    seen: Floats, noise: Floats, loadings: Floats, prior_mean: Floats, prior_variance: Floats
) -> Posterior:
    """Return the posterior of the effects behind ``seen = loadings @ effects + error``.

    ``seen`` (n,), ``noise`` (n,) the error variances, ``loadings`` (n, q), ``prior_mean`` and
    ``prior_variance`` (q,) of independent effects, every variance above 0. With n = 0 the prior
    comes back.
    """
    weighted = loadings / noise[:, None]
    precision = np.diag(1 / prior_variance) + loadings.T @ weighted
    covariance = np.linalg.inv(precision)
    mean = prior_mean + covariance @ (weighted.T @ (seen - loadings @ prior_mean))
    return Posterior(mean, (covariance + covariance.T) / 2)


def grouped_evidence(
    surprise: Floats,
    fixed: Floats,
    fixed_variance: Floats,
    group: NDArray[np.intp],
    between: float,
    within: float,
) -> float:
    """Return the log density of ``surprise`` (n,), seen less prior mean.

    Its covariance is ``within * I + between * (same group) + fixed @ diag(fixed_variance) @
    fixed.T``, with ``fixed`` (n, p) and ``group`` (n,) of group numbers from 0. Groups are
    summed out one by one, so that the cost grows with n, not its cube.
    """
    sizes = np.bincount(group)
    # The inverse of within * I + between * J on a group of n is (I - shrink * J) / within.
    shrink = between / (within + sizes * between)
    stacked = np.column_stack([surprise, fixed])
    sums = np.stack([np.bincount(group, weights=column) for column in stacked.T], axis=1)
    products = (stacked.T @ stacked - sums.T @ (shrink[:, None] * sums)) / within
    precision = np.diag(1 / fixed_variance) + products[1:, 1:]
    pull = products[1:, 0]
    squares = products[0, 0] - pull @ np.linalg.solve(precision, pull)
    log_determinant = (
        (len(surprise) - len(sizes)) * np.log(within)
        + float(np.log(within + sizes * between).sum())
        + float(np.linalg.slogdet(precision)[1])
        + float(np.log(fixed_variance).sum())
    )
    return float(-0.5 * (squares + log_determinant + len(surprise) * np.log(2 * np.pi)))
