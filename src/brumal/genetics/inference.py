"""Exact inference on a network of discrete variables: a bucket tree, calibrated in two passes.

Variable elimination (Dechter 1999, "Bucket elimination: a unifying framework for reasoning",
Artificial Intelligence 113:41-85) orders the variables greedily by the size of the table that
eliminating them makes; passing messages up and down the tree of buckets (Lauritzen & Spiegelhalter
1988, J R Stat Soc B 50:157-224) then gives every marginal. Both cited from memory. Time and memory
grow with the largest table, the product of the states of the variables in one bucket; it is known
before any table is made, so a caller can refuse.

Chances may carry an *order*: the pair (order k, value a) stands for ``a * eps**k`` with ``eps``
vanishing. Products add orders; sums keep the terms of the lowest order alone. All values are
non-negative, so this is exact leading-term arithmetic and not a numerical limit.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

LARGEST_TABLE = 5_000_000
"""Cells of the largest table that is worked exactly (40 MB of floats)."""

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_FAR = np.iinfo(np.int64).max // 4


@dataclass(frozen=True, slots=True, eq=False)
class Potential:
    """A non-negative table: one axis for each variable of ``scope``, which is sorted.

    ``orders`` holds the order of vanishing of each cell; ``None`` means zero everywhere.
    """

    scope: tuple[int, ...]
    values: FloatArray
    orders: IntArray | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """The order of elimination; ``clusters[i]`` is the sorted scope of the ``i``-th bucket."""

    order: tuple[int, ...]
    clusters: tuple[tuple[int, ...], ...]
    largest: int


def plan_elimination(
    scopes: Iterable[tuple[int, ...]], sizes: Mapping[int, int], keep: frozenset[int] = frozenset()
) -> Plan:
    """Order all variables but those to ``keep``, smallest resulting table first (ties by number).

    ``largest`` is the greatest number of cells of any bucket, what is kept included.
    """
    near: dict[int, set[int]] = {}
    for scope in scopes:
        for variable in scope:
            near.setdefault(variable, set()).update(scope)
    for variable, others in near.items():
        others.discard(variable)

    def cells(variable: int) -> int:
        return sizes[variable] * math.prod(sizes[other] for other in near[variable])

    cost = {variable: cells(variable) for variable in near if variable not in keep}
    heap = [(size, variable) for variable, size in cost.items()]
    heapq.heapify(heap)
    order, clusters = [], []
    while heap:
        size, variable = heapq.heappop(heap)
        if cost.get(variable) != size:
            continue
        del cost[variable]
        around = near.pop(variable)
        order.append(variable)
        clusters.append(tuple(sorted({variable, *around})))
        for other in around:
            near[other] |= around
            near[other] -= {variable, other}
            if other in cost and cost[other] != (fresh := cells(other)):
                cost[other] = fresh
                heapq.heappush(heap, (fresh, other))
    kept = math.prod(sizes[variable] for variable in keep)
    largest = max(
        (math.prod(sizes[variable] for variable in cluster) for cluster in clusters), default=1
    )
    return Plan(tuple(order), tuple(clusters), max(largest, kept))


def product(factors: Iterable[Potential]) -> Potential:
    """Return the product of the factors over the union of their scopes."""
    made = tuple(factors)
    scope = tuple(sorted({variable for factor in made for variable in factor.scope}))
    values: FloatArray = np.ones((1,) * len(scope))
    orders: IntArray | None = None
    for factor in made:
        shape = _stretched(factor, scope)
        values = values * factor.values.reshape(shape)
        if factor.orders is not None:
            own = factor.orders.reshape(shape)
            orders = own if orders is None else orders + own
    if orders is not None:
        orders = np.broadcast_to(orders, values.shape)
    return Potential(scope, values, orders)


def sum_onto(table: Potential, keep: Iterable[int]) -> Potential:
    """Return the table summed over every variable that is not in ``keep``."""
    kept = set(keep)
    axes = tuple(axis for axis, variable in enumerate(table.scope) if variable not in kept)
    scope = tuple(variable for variable in table.scope if variable in kept)
    if not axes:
        return table
    if table.orders is None:
        return Potential(scope, table.values.sum(axis=axes))
    orders = np.where(table.values > 0, table.orders, _FAR)
    lowest = orders.min(axis=axes, keepdims=True)
    values = np.where(orders == lowest, table.values, 0.0).sum(axis=axes)
    return Potential(scope, values, lowest.reshape(values.shape))


def divide(table: Potential, by: Potential) -> Potential:
    """Return ``table`` over ``by`` (of the same scope), with nothing over nothing as nothing."""
    values = np.divide(
        table.values, by.values, out=np.zeros_like(table.values), where=by.values > 0
    )
    if table.orders is None and by.orders is None:
        return Potential(table.scope, values)
    orders = _orders(table) - _orders(by)
    return Potential(table.scope, values, np.where(values > 0, orders, 0))


def scaled(table: Potential) -> Potential:
    """Return the table with its greatest value one and its lowest order zero."""
    top = table.values.max()
    if top <= 0:
        return table
    if table.orders is None:
        return Potential(table.scope, table.values / top)
    lowest = table.orders[table.values > 0].min()
    return Potential(table.scope, table.values / top, table.orders - lowest)


def distribution(table: Potential) -> FloatArray:
    """Return the table as probabilities: only the lowest order counts, and it sums to one."""
    values = table.values
    if table.orders is not None and values.any():
        lowest = table.orders[values > 0].min()
        values = np.where(table.orders == lowest, values, 0.0)
    return np.asarray(values / values.sum())


def eliminate(factors: Sequence[Potential], plan: Plan) -> Potential:
    """Return the product of the factors summed over every variable that the plan eliminates."""
    waiting = list(factors)
    for variable in plan.order:
        touched = [factor for factor in waiting if variable in factor.scope]
        waiting = [factor for factor in waiting if variable not in factor.scope]
        bucket = product(touched)
        waiting.append(scaled(sum_onto(bucket, set(bucket.scope) - {variable})))
    return product(waiting)


class BucketTree:
    """A calibrated bucket tree over the ``factors`` of one connected network.

    ``possible`` is false when the factors leave no state of all variables together; the marginals
    must then not be asked for.
    """

    def __init__(self, factors: Sequence[Potential], plan: Plan) -> None:
        self.bucket_of = {variable: place for place, variable in enumerate(plan.order)}
        count = len(plan.order)
        own: list[list[Potential]] = [[] for _ in range(count)]
        for factor in factors:
            own[min(self.bucket_of[variable] for variable in factor.scope)].append(factor)
        self.separators: list[tuple[int, ...]] = []
        self.parents: list[int | None] = []
        self.beliefs: list[Potential] = []
        upward: list[Potential] = []
        for place, (variable, cluster) in enumerate(zip(plan.order, plan.clusters, strict=True)):
            separator = tuple(other for other in cluster if other != variable)
            self.separators.append(separator)
            bucket = product(own[place])
            message = scaled(sum_onto(bucket, separator))
            upward.append(message)
            self.beliefs.append(bucket)
            target = min((self.bucket_of[other] for other in separator), default=None)
            self.parents.append(target)
            if target is not None:
                own[target].append(message)
        self.possible = all(message.values.any() for message in upward)
        if self.possible:
            for place in range(count - 1, -1, -1):
                self._take_from_parent(place, upward[place])
        self._joints: dict[int, list[Potential]] = {}

    def _take_from_parent(self, place: int, sent: Potential) -> None:
        parent = self.parents[place]
        belief = self.beliefs[place]
        if parent is not None:
            seen = sum_onto(self.beliefs[parent], self.separators[place])
            belief = product((belief, divide(seen, sent)))
        self.beliefs[place] = scaled(belief)

    def marginal(self, variable: int) -> FloatArray:
        """Return the probabilities of the states of ``variable``."""
        return distribution(sum_onto(self.beliefs[self.bucket_of[variable]], (variable,)))

    def joint(self, first: int, second: int) -> FloatArray:
        """Return the probabilities of the states of two variables; axis 0 is ``first``.

        All joints with ``second`` are made in one pass over the tree and kept.
        """
        if second not in self._joints:
            self._joints[second] = self._spread(second)
        table = self._joints[second][self.bucket_of[first]]
        pair = distribution(sum_onto(table, (_COPY, first)))
        return pair.T

    def _spread(self, variable: int) -> list[Potential]:
        """Return each bucket's belief together with a copy of ``variable``, by its bucket."""
        start = self.bucket_of[variable]
        size = self.beliefs[start].values.shape[self.beliefs[start].scope.index(variable)]
        same = Potential((_COPY, variable), np.eye(size))
        known: dict[int, Potential] = {start: product((same, self.beliefs[start]))}
        step: int | None = start
        while step is not None:
            parent = self.parents[step]
            if parent is not None:
                known[parent] = self._across(known[step], self.separators[step], parent)
            step = parent
        for place in range(len(self.beliefs) - 1, -1, -1):
            parent = self.parents[place]
            if place not in known and parent is not None:
                known[place] = self._across(known[parent], self.separators[place], place)
        return [known[place] for place in range(len(self.beliefs))]

    def _across(self, table: Potential, separator: tuple[int, ...], into: int) -> Potential:
        """Carry the copy over one edge: multiply in what it says of the edge's variables."""
        told = sum_onto(table, (_COPY, *separator))
        plain = sum_onto(told, separator)
        belief = self.beliefs[into]
        inverse = divide(Potential(plain.scope, np.ones_like(plain.values)), plain)
        return scaled(product((belief, told, inverse)))


_COPY = -1
"""The number of the variable that copies another while a joint is made; below all others."""


def loopy_marginals(
    factors: Sequence[Potential], sizes: Mapping[int, int], rounds: int = 300
) -> dict[int, FloatArray]:
    """Return approximate marginals by damped loopy belief propagation, for nets over the limit.

    Exact on trees, an approximation with loops (Murphy, Weiss & Jordan 1999, from memory). Orders
    of vanishing enter as powers of 1e-6. Deterministic; stops when messages move by less than
    1e-10 or after ``rounds``.
    """
    tables = [
        factor.values if factor.orders is None else factor.values * 1e-6**factor.orders
        for factor in factors
    ]
    edges = [(place, variable) for place, factor in enumerate(factors) for variable in factor.scope]
    messages = {edge: np.full(sizes[edge[1]], 1 / sizes[edge[1]]) for edge in edges}
    beliefs: dict[int, FloatArray] = {}
    for _ in range(rounds):
        beliefs = {variable: np.ones(size) for variable, size in sizes.items()}
        for (_, variable), message in messages.items():
            beliefs[variable] = _unit(beliefs[variable] * message)
        moved = 0.0
        fresh = {}
        for place, variable in edges:
            sent = _factor_message(
                factors[place].scope, tables[place], place, variable, messages, beliefs
            )
            fresh[place, variable] = _unit(0.5 * messages[place, variable] + 0.5 * sent)
            moved = max(
                moved, float(np.abs(fresh[place, variable] - messages[place, variable]).max())
            )
        messages = fresh
        if moved < 1e-10:
            break
    return beliefs


def _factor_message(
    scope: tuple[int, ...],
    table: FloatArray,
    place: int,
    target: int,
    messages: Mapping[tuple[int, int], FloatArray],
    beliefs: Mapping[int, FloatArray],
) -> FloatArray:
    total = table
    for axis, variable in enumerate(scope):
        if variable != target:
            message = messages[place, variable]
            rest = np.divide(
                beliefs[variable], message, out=np.zeros_like(message), where=message > 0
            )
            total = total * rest.reshape([-1 if a == axis else 1 for a in range(len(scope))])
    others = tuple(axis for axis, variable in enumerate(scope) if variable != target)
    return _unit(total.sum(axis=others))


def _unit(values: FloatArray) -> FloatArray:
    total = values.sum()
    return values / total if total > 0 else np.full_like(values, 1 / len(values))


def _orders(table: Potential) -> IntArray:
    return np.zeros(table.values.shape, np.int64) if table.orders is None else table.orders


def _stretched(factor: Potential, scope: tuple[int, ...]) -> list[int]:
    size = dict(zip(factor.scope, factor.values.shape, strict=True))
    return [size.get(variable, 1) for variable in scope]
