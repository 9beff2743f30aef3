"""Laws of counted young against a walk over every case and every number of hatchlings."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from brumal.planner.wishes.laws import none_left, thinned


def walked(young: np.ndarray, weights: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """Return the law of counted young of one pair, by state: SciPy's binomial in every case."""
    counts = np.arange(young.size)
    law = np.zeros((weights.shape[0], young.size))
    for state, case in np.ndindex(*weights.shape):
        for hatched, chance in enumerate(young):
            share = min(shares[state, case], 1.0)
            law[state] += weights[state, case] * chance * binom.pmf(counts, hatched, share)
    return law


@pytest.mark.parametrize("seed", range(12))
def test_laws_of_many_pairs_are_those_of_each(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pairs, states, cases, most = 5, int(rng.integers(1, 5)), int(rng.integers(1, 6)), 9
    young = rng.dirichlet(np.ones(most + 1), size=pairs)
    weights = rng.dirichlet(np.ones(cases), size=(pairs, states))
    # Shares as crosses give them: few distinct ones, nothing and everything among them.
    shares = rng.choice([0.0, 0.25, 0.5, 1.0, float(rng.random())], size=(pairs, states, cases))
    laws = thinned(young, weights, shares)
    none = none_left(young, weights, shares)
    for pair in range(pairs):
        expected = walked(young[pair], weights[pair], shares[pair])
        assert laws[pair] == pytest.approx(expected, abs=1e-12)
        assert none[pair] == pytest.approx(expected[:, 0], abs=1e-12)


def test_cases_are_mixed_after_counting_not_before() -> None:
    """Half the time every young counts, half the time none: never half of them."""
    young = np.array([[0.0, 0.0, 1.0]])
    law = thinned(young, np.array([[[0.5, 0.5]]]), np.array([[[0.0, 1.0]]]))
    assert law[0, 0].tolist() == [0.5, 0.0, 0.5]


def test_a_share_a_rounding_above_one_is_one() -> None:
    young = np.array([[0.0, 0.0, 1.0]])
    law = thinned(young, np.ones((1, 1, 1)), np.full((1, 1, 1), 1.0 + 2e-16))
    assert law[0, 0] == pytest.approx([0.0, 0.0, 1.0], abs=1e-12)
