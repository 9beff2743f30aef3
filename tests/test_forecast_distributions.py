"""Distributions of counts against SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from brumal.forecast.distributions import (
    lognormal_counts,
    mean_count,
    percentile,
    share_tables,
    two_point_counts,
)

MOST = 12
COUNTS = np.arange(MOST + 1)


@given(st.floats(0.01, 0.99), st.floats(0.3, 500))
def test_share_tables_equal_scipy_beta_binomial(mean: float, strength: float) -> None:
    table = share_tables(np.array(mean), np.array(strength), MOST)
    for n in range(1, MOST + 1):
        expected = stats.betabinom(n, mean * strength, (1 - mean) * strength).pmf(COUNTS)
        assert table[n] == pytest.approx(expected, abs=1e-10)


@given(st.one_of(st.just(0.0), st.floats(1e-6, 1)))
def test_infinite_strength_is_the_binomial(mean: float) -> None:
    table = share_tables(np.array(mean), np.array(np.inf), MOST)
    for n in range(MOST + 1):
        assert table[n] == pytest.approx(stats.binom(n, mean).pmf(COUNTS), abs=1e-12)


def test_share_tables_of_many_pairs_at_once() -> None:
    means, strengths = np.array([0.9, 0.5, 1.0]), np.array([8.0, np.inf, 3.0])
    tables = share_tables(means, strengths, MOST)
    assert tables.shape == (3, MOST + 1, MOST + 1)
    assert tables.sum(axis=2) == pytest.approx(np.ones((3, MOST + 1)))
    for at in range(3):
        assert tables[at] == pytest.approx(share_tables(means[at], strengths[at], MOST))
        assert tables[at] @ COUNTS == pytest.approx(means[at] * COUNTS)


@pytest.mark.parametrize(("mean_log", "variance_log"), [(1.8, 0.06), (2.3, 0.2), (0.1, 0.5)])
def test_egg_counts_equal_scipy_lognormal_in_whole_steps(
    mean_log: float, variance_log: float
) -> None:
    law = stats.lognorm(s=np.sqrt(variance_log), scale=np.exp(mean_log))
    steps = law.cdf(np.arange(1, 21) + 0.5) - law.cdf(np.arange(1, 21) - 0.5)
    found = lognormal_counts(mean_log, variance_log, 20)
    assert found[0] == 0
    assert found[1:] == pytest.approx(steps / steps.sum(), abs=1e-12)


@given(st.floats(0, MOST))
def test_stated_eggs_keep_their_mean(mean: float) -> None:
    chances = two_point_counts(mean, MOST)
    assert chances.sum() == pytest.approx(1)
    assert mean_count(chances) == pytest.approx(mean)
    assert np.count_nonzero(chances) <= 2


def test_percentile_is_scipys() -> None:
    law = stats.binom(12, 0.4)
    for share in (0.1, 0.5, 0.9, 0.99):
        assert percentile(law.pmf(COUNTS), share) == law.ppf(share)
