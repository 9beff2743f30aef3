"""Association of a sire's clutches, against sums worked out state by state."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.planner.wishes.association import are_associated
from small_seasons import binomial


def laws(*shares: tuple[float, ...]) -> np.ndarray:
    """Return laws of shape (states, clutches, young + 1), one tuple of shares a clutch."""
    return np.array(
        [[binomial(6, share) for share in state] for state in zip(*shares, strict=True)]
    )


def surplus(law: np.ndarray, threshold: int) -> float:
    return float(law @ np.maximum(np.arange(law.size) - threshold, 0))


def together(weights: np.ndarray, each: np.ndarray) -> np.ndarray:
    """Return the law of the sum of all clutches, state by state."""
    total = np.zeros(1)
    for weight, state in zip(weights, each, strict=True):
        law = np.ones(1)
        for clutch in state:
            law = np.convolve(law, clutch)
        total = weight * law + np.pad(total, (0, law.size - total.size))
    return total


def independent(weights: np.ndarray, each: np.ndarray) -> np.ndarray:
    law = np.ones(1)
    for clutch in np.einsum("s,sck->ck", weights, each):
        law = np.convolve(law, clutch)
    return law


def test_clutches_that_rise_together_are_associated() -> None:
    assert are_associated(np.array([0.3, 0.7]), laws((0.1, 0.5), (0.2, 0.4)), 3)


def test_clutches_that_rise_apart_are_not() -> None:
    assert not are_associated(np.array([0.3, 0.7]), laws((0.1, 0.5), (0.4, 0.2)), 3)


def test_a_certain_sire_has_independent_clutches() -> None:
    assert are_associated(np.ones(1), laws((0.1,), (0.6,)), 3)


def test_two_independent_genes_are_associated_though_not_ordered() -> None:
    """One clutch asks more of the first gene, the other more of the second (Harris 1960)."""
    p, q = 0.3, 0.6
    weights = np.array([(1 - p) * (1 - q), (1 - p) * q, p * (1 - q), p * q])
    assert are_associated(weights, laws((0.0, 0.1, 0.4, 0.5), (0.0, 0.4, 0.1, 0.5)), 3)


def test_two_genes_of_which_he_has_one_are_not_associated() -> None:
    weights = np.array([0.0001, 0.4999, 0.4999, 0.0001])
    assert not are_associated(weights, laws((0.0, 0.1, 0.4, 0.5), (0.0, 0.4, 0.1, 0.5)), 3)


def test_differences_past_the_counts_that_matter_are_not_looked_at() -> None:
    """Two laws that differ only between three and four young, at a threshold of two."""
    one = np.array([[0.2, 0.3, 0.1, 0.4, 0.0], [0.2, 0.3, 0.1, 0.0, 0.4]])
    each = np.stack([one, one[::-1]], axis=1)
    weights = np.array([0.5, 0.5])
    assert are_associated(weights, each, 2)
    assert not are_associated(weights, each, 4)


def test_too_many_genes_are_not_shown_and_so_not_claimed() -> None:
    """Five genes are independent, hence associated, but have more upper sets than are looked at."""
    states = list(itertools.product((0, 1), repeat=5))
    shares = [tuple(0.1 + 0.15 * state[n] for state in states) for n in range(5)]
    assert are_associated(np.full(16, 1 / 16), laws(*(each[::2] for each in shares[:4])), 3)
    assert not are_associated(np.full(32, 1 / 32), laws(*shares), 3)


@given(st.integers(0, 10**6))
@settings(max_examples=150, deadline=None)
def test_sums_of_associated_clutches_are_the_more_spread(seed: int) -> None:
    rng = np.random.default_rng(seed)
    states, clutches = int(rng.integers(2, 5)), int(rng.integers(2, 4))
    weights = rng.dirichlet(np.ones(states))
    shares = rng.random((clutches, states))
    if rng.random() < 0.5:
        shares = np.sort(shares, axis=1)
    each = laws(*map(tuple, shares))
    threshold = int(rng.integers(1, 8))
    if are_associated(weights, each, threshold):
        spread = surplus(together(weights, each), threshold)
        assert spread >= surplus(independent(weights, each), threshold) - 1e-12


@pytest.mark.parametrize("seed", range(20))
def test_shared_states_are_merged(seed: int) -> None:
    """A gene that no clutch can tell apart changes nothing."""
    rng = np.random.default_rng(seed)
    weights, shares = rng.dirichlet(np.ones(3)), rng.random((2, 3))
    each = laws(*map(tuple, shares))
    twice = np.concatenate([each, each])
    split = np.concatenate([0.25 * weights, 0.75 * weights])
    assert are_associated(weights, each, 4) == are_associated(split, twice, 4)
