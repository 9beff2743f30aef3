"""Shrinkage against closed forms, generalised least squares and SciPy's normal density."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from brumal.forecast.shrinkage import grouped_evidence, linear_bayes


def test_one_group_is_the_credibility_formula() -> None:
    """Buhlmann & Straub 1970 (from memory): Z = n / (n + within / between)."""
    seen = np.array([7.0, 9.0, 8.0])
    between, within, prior = 1.5, 4.0, 6.0
    result = linear_bayes(
        seen, np.full(3, within), np.ones((3, 1)), np.array([prior]), np.array([between])
    )
    credibility = 3 / (3 + within / between)
    assert result.mean[0] == pytest.approx(credibility * 8.0 + (1 - credibility) * prior)
    assert result.covariance[0, 0] == pytest.approx((1 - credibility) * between)


def test_nothing_seen_gives_the_prior_back() -> None:
    mean, variance = np.array([1.0, 2.0]), np.array([3.0, 4.0])
    result = linear_bayes(np.zeros(0), np.zeros(0), np.zeros((0, 2)), mean, variance)
    assert result.mean == pytest.approx(mean)
    assert result.covariance == pytest.approx(np.diag(variance))


@pytest.mark.parametrize("seed", range(5))
def test_effects_equal_conditioning_of_the_joint_normal(seed: int) -> None:
    """The same answer by conditioning (effects, seen) as one normal: any multivariate text."""
    rng = np.random.default_rng(seed)
    loadings = rng.normal(size=(12, 4))
    mean, variance = rng.normal(size=4), rng.uniform(0.2, 2, 4)
    noise, seen = rng.uniform(0.1, 1, 12), rng.normal(size=12)
    total = loadings @ np.diag(variance) @ loadings.T + np.diag(noise)
    gain = np.diag(variance) @ loadings.T @ np.linalg.inv(total)
    result = linear_bayes(seen, noise, loadings, mean, variance)
    assert result.mean == pytest.approx(mean + gain @ (seen - loadings @ mean))
    assert result.covariance == pytest.approx(
        np.diag(variance) - gain @ loadings @ np.diag(variance)
    )


@pytest.mark.parametrize("seed", range(5))
def test_evidence_equals_scipy_normal_density(seed: int) -> None:
    rng = np.random.default_rng(seed)
    group = np.sort(rng.integers(0, 4, size=11))
    group = np.unique(group, return_inverse=True)[1]
    fixed, fixed_variance = rng.normal(size=(11, 3)), rng.uniform(0.1, 1, 3)
    surprise = rng.normal(size=11)
    between, within = 0.3, 0.5
    covariance = (
        within * np.eye(11)
        + between * (group[:, None] == group[None, :])
        + fixed @ np.diag(fixed_variance) @ fixed.T
    )
    expected = stats.multivariate_normal(np.zeros(11), covariance).logpdf(surprise)
    found = grouped_evidence(surprise, fixed, fixed_variance, group, between, within)
    assert found == pytest.approx(expected)
