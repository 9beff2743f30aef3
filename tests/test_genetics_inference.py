"""The bucket tree against the sum over every state of every variable together."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.evidence import bucket_tree as inference
from brumal.genetics.evidence.bucket_tree import (
    BucketTree,
    Potential,
    distribution,
    eliminate,
    plan_elimination,
    product,
)
from brumal.genetics.evidence.iterative_peeling import loopy_marginals

Network = tuple[list[Potential], dict[int, int]]


@st.composite
def networks(draw: st.DrawFn, *, orders: bool) -> Network:
    """Draw a connected network of up to six variables with zeros in its tables."""
    count = draw(st.integers(1, 6))
    sizes = {variable: draw(st.integers(1, 3)) for variable in range(count)}
    scopes = [(0,)] + [
        tuple(sorted({variable, draw(st.integers(0, variable - 1))}))
        for variable in range(1, count)
    ]
    extra = st.sets(st.integers(0, count - 1), min_size=1, max_size=3)
    scopes += [tuple(sorted(scope)) for scope in draw(st.lists(extra, max_size=3))]
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    factors = []
    for scope in scopes:
        shape = tuple(sizes[variable] for variable in scope)
        values = rng.random(shape) * (rng.random(shape) < 0.8)
        vanishing = rng.integers(0, 3, shape) if orders else None
        factors.append(Potential(scope, values, vanishing))
    return factors, sizes


def summed(factors: list[Potential], sizes: dict[int, int]) -> np.ndarray | None:
    """Return the joint of all variables by enumeration, of the lowest order; ``None`` if none."""
    cells: dict[tuple[int, ...], tuple[int, float]] = {}
    for state in itertools.product(*(range(sizes[v]) for v in sorted(sizes))):
        order, value = 0, 1.0
        for factor in factors:
            at = tuple(state[variable] for variable in factor.scope)
            value *= float(factor.values[at])
            order += 0 if factor.orders is None else int(factor.orders[at])
        if value > 0:
            cells[state] = (order, value)
    if not cells:
        return None
    lowest = min(order for order, _ in cells.values())
    table = np.zeros([sizes[v] for v in sorted(sizes)])
    for state, (order, value) in cells.items():
        table[state] = value if order == lowest else 0
    return table / table.sum()


@settings(max_examples=100, deadline=None)
@given(st.booleans().flatmap(lambda orders: networks(orders=orders)))
def test_marginals_and_joints_against_enumeration(network: Network) -> None:
    factors, sizes = network
    expected = summed(factors, sizes)
    plan = plan_elimination((factor.scope for factor in factors), sizes)
    tree = BucketTree(factors, plan)
    assert tree.possible == (expected is not None)
    if expected is None:
        return
    count = len(sizes)
    for v in range(count):
        others = tuple(a for a in range(count) if a != v)
        assert tree.marginal(v) == pytest.approx(expected.sum(axis=others), abs=1e-12)
    for v, w in itertools.permutations(range(count), 2):
        others = tuple(a for a in range(count) if a not in (v, w))
        joint = expected.sum(axis=others)
        joint = joint if v < w else joint.T
        found = tree.joint(v, w)
        if found is None:
            found = np.outer(joint.sum(axis=1), joint.sum(axis=0))
        assert found == pytest.approx(joint, abs=1e-11)
    together = BucketTree(factors, plan)
    together.join(range(count))
    for v, w in itertools.permutations(range(count), 2):
        one, other = tree.joint(v, w), together.joint(v, w)
        assert (one is None) == (other is None)
        assert one is None or one == pytest.approx(other, abs=1e-13)
    keep = frozenset(range(0, count, 2))
    kept = eliminate(factors, plan_elimination((f.scope for f in factors), sizes, keep))
    others = tuple(a for a in range(count) if a not in keep)
    assert distribution(kept) == pytest.approx(expected.sum(axis=others), abs=1e-12)


def test_joints_of_many_variables_are_made_a_few_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no room for more than one variable, and no step kept, the joints are the same."""
    rng = np.random.default_rng(5)
    sizes = dict.fromkeys(range(12), 3)
    scopes = [(0,), *((v // 2, v) for v in range(1, 12)), (3, 7, 11), (5, 10)]
    factors = [Potential(scope, rng.random([3] * len(scope))) for scope in scopes]
    plan = plan_elimination(scopes, sizes)
    at_once = BucketTree(factors, plan)
    at_once.join(range(12))
    monkeypatch.setattr(inference, "_MOST_NUMBERS", 1)
    monkeypatch.setattr(inference, "_STEP_CELLS", 0)
    by_one = BucketTree(factors, plan)
    by_one.join(range(12))
    assert not by_one._steps
    for v, w in itertools.permutations(range(12), 2):
        assert by_one.joint(v, w) == pytest.approx(at_once.joint(v, w), abs=1e-13)


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 7), st.integers(0, 2**32))
def test_loopy_propagation_is_exact_on_trees(count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    sizes = dict.fromkeys(range(count), 3)
    factors = [Potential((0,), rng.random(3) + 0.1)]
    for v in range(1, count):
        factors.append(Potential((int(rng.integers(v)), v), rng.random((3, 3)) + 0.1))
    tree = BucketTree(factors, plan_elimination((f.scope for f in factors), sizes))
    found = loopy_marginals(factors, sizes)
    for v in range(count):
        assert found[v] == pytest.approx(tree.marginal(v), abs=1e-7)


def test_largest_table_is_known_beforehand() -> None:
    # A loop of four three-state variables needs a bucket of three of them.
    sizes = dict.fromkeys(range(4), 3)
    plan = plan_elimination([(0, 1), (1, 2), (2, 3), (0, 3)], sizes)
    assert plan.largest == 27
    assert plan.order == (0, 1, 2, 3)


def test_long_products_do_not_underflow() -> None:
    # 2000 factors of 1e-3 each would be 1e-6000 if multiplied as they are.
    factors = [Potential((0, v), np.array([[1e-3, 1e-3], [1e-3, 2e-3]])) for v in range(1, 2001)]
    sizes = dict.fromkeys(range(2001), 2)
    tree = BucketTree(factors, plan_elimination((f.scope for f in factors), sizes))
    assert tree.possible
    assert math.isclose(tree.marginal(1).sum(), 1)


def test_product_stretches_scopes() -> None:
    table = product([Potential((0,), np.array([1.0, 2.0])), Potential((1,), np.array([3.0, 5.0]))])
    assert table.scope == (0, 1)
    assert table.values.tolist() == [[3, 5], [6, 10]]
