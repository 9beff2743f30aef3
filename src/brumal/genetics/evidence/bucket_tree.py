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
import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
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


def lowest_along(table: Potential, variable: int) -> FloatArray:
    """Return the table with only the terms of the lowest order along one variable."""
    if table.orders is None:
        return table.values
    orders = np.where(table.values > 0, table.orders, _FAR)
    lowest = orders.min(axis=table.scope.index(variable), keepdims=True)
    return np.where(orders == lowest, table.values, 0.0)


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

    ``possible`` is false when the factors leave no state of all variables together; nothing must
    then be asked of the tree.
    """

    def __init__(self, factors: Sequence[Potential], plan: Plan) -> None:
        self._variables = plan.order
        self._bucket_of = {variable: place for place, variable in enumerate(plan.order)}
        own: list[list[Potential]] = [[] for _ in plan.order]
        for factor in factors:
            own[min(self._bucket_of[variable] for variable in factor.scope)].append(factor)
        self._separators: list[tuple[int, ...]] = []
        self._parents: list[int | None] = []
        self._children: list[list[int]] = [[] for _ in plan.order]
        beliefs, upward = [], []
        for place, (variable, cluster) in enumerate(zip(plan.order, plan.clusters, strict=True)):
            separator = tuple(other for other in cluster if other != variable)
            beliefs.append(product(own[place]))
            upward.append(scaled(sum_onto(beliefs[place], separator)))
            parent = min((self._bucket_of[other] for other in separator), default=None)
            self._separators.append(separator)
            self._parents.append(parent)
            if parent is not None:
                own[parent].append(upward[place])
                self._children[parent].append(place)
        self._widest = max((message.values.size for message in upward), default=1)
        self.possible = all(message.values.any() for message in upward)
        self._steps: dict[tuple[int, int, int], _Step] = {}
        self._joints: dict[int, dict[int, FloatArray]] = {}
        if self.possible:
            self._pass_down(beliefs, upward)
        # Once calibrated a bucket holds true chances: what vanishes has none.
        self._chances = [
            Potential(belief.scope, distribution(belief)) if self.possible else belief
            for belief in beliefs
        ]

    def _pass_down(self, beliefs: list[Potential], upward: list[Potential]) -> None:
        for place in reversed(range(len(beliefs))):
            parent = self._parents[place]
            if parent is not None:
                seen = sum_onto(beliefs[parent], self._separators[place])
                told = divide(seen, upward[place])
                beliefs[place] = scaled(product((beliefs[place], told)))

    def marginal(self, variable: int) -> FloatArray:
        """Return the probabilities of the states of ``variable``, shape (states,)."""
        return sum_onto(self._chances[self._bucket_of[variable]], (variable,)).values

    def joint(self, first: int, second: int) -> FloatArray | None:
        """Return the probabilities of the states of two variables; axis 0 is ``first``.

        ``None`` means that they are independent to twelve digits. All joints with ``second`` are
        made at once and kept; see ``join``.
        """
        if second not in self._joints:
            self.join([second])
        return self._joints[second].get(first)

    def join(self, variables: Iterable[int]) -> None:
        """Make all joints with each of these variables, as many at once as memory allows."""
        new = sorted({each for each in variables if each not in self._joints})
        states = max((self.marginal(each).size for each in new), default=1)
        at_once = max(1, _MOST_NUMBERS // (states * self._widest))
        for first in range(0, len(new), at_once):
            self._join(new[first : first + at_once])

    def _join(self, variables: Sequence[int]) -> None:
        """Make all joints with these variables, in one walk up the tree and one down."""
        # What comes to each bucket, by where it comes from.
        coming: list[dict[int, _Stack]] = [{} for _ in self._variables]
        for variable in variables:
            diagonal = np.diag(self.marginal(variable))
            self._joints[variable] = {variable: diagonal}
            coming[self._bucket_of[variable]][_ITSELF] = _Stack((variable,), (0,), diagonal)
        for place, parent in enumerate(self._parents):
            if parent is not None:
                self._carry_on(coming, place, parent)
        for place in reversed(range(len(coming))):
            for child in self._children[place]:
                self._carry_on(coming, place, child)
            for source, stack in coming[place].items():
                if source != _ITSELF:
                    told = self._carried(stack, place, source, _ITSELF)
                    for variable, table in told.parts():
                        self._joints[variable][self._variables[place]] = table.T
            coming[place].clear()

    def _carry_on(self, coming: list[dict[int, _Stack]], place: int, target: int) -> None:
        """Carry what comes to a bucket from elsewhere on to a neighbour, as far as it tells."""
        told = [
            part
            for source, stack in coming[place].items()
            if source != target
            for part in self._carried(stack, place, source, target).telling()
        ]
        if told:
            coming[target][place] = _Stack.of(told)

    def _carried(self, stack: _Stack, place: int, source: int, target: int) -> _Stack:
        """Carry tables (axis 1: what joins ``place`` to ``source``) on towards ``target``.

        Axis 1 of the result runs over the states of the variables that join ``place`` to
        ``target``.
        """
        key = (place, source, target)
        step = self._steps.get(key)
        if step is None:
            entry, leaving = self._joining(place, source), self._joining(place, target)
            step = _Step.of(sum_onto(self._chances[place], (*entry, *leaving)), entry, leaving)
            if step.odds.size <= _STEP_CELLS:
                self._steps[key] = step
        return _Stack(stack.variables, stack.starts, step.taken(stack.tables))

    def _joining(self, place: int, other: int) -> tuple[int, ...]:
        """Return the variables shared with a neighbour (its own variable for the bucket itself)."""
        if other == _ITSELF:
            return (self._variables[place],)
        return self._separators[other if self._parents[other] == place else place]


@dataclass(frozen=True, slots=True, eq=False)
class _Stack:
    """Tables of several variables, one below the other: axis 0 runs over each one's states.

    The rows of ``variables[i]`` begin at ``starts[i]``.
    """

    variables: tuple[int, ...]
    starts: tuple[int, ...]
    tables: FloatArray

    @staticmethod
    def of(parts: Sequence[tuple[int, FloatArray]]) -> _Stack:
        """Stack the table of each variable."""
        starts = itertools.accumulate((len(table) for _, table in parts[:-1]), initial=0)
        variables, tables = zip(*parts, strict=True)
        return _Stack(variables, tuple(starts), np.concatenate(tables))

    def parts(self) -> Iterator[tuple[int, FloatArray]]:
        """Yield each variable with its table."""
        ends = (*self.starts[1:], len(self.tables))
        for variable, start, end in zip(self.variables, self.starts, ends, strict=True):
            yield variable, self.tables[start:end]

    def telling(self) -> list[tuple[int, FloatArray]]:
        """Return the parts whose two axes are not independent, to twelve digits."""
        along = np.add.reduceat(self.tables, self.starts, axis=0)
        heights = np.diff([*self.starts, len(self.tables)])
        apart = self.tables.sum(axis=1)[:, None] * np.repeat(along, heights, axis=0)
        most = np.abs(self.tables - apart).max(axis=1)
        tell = np.maximum.reduceat(most, self.starts) >= 1e-12
        return list(itertools.compress(self.parts(), tell.tolist()))


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """A step through a bucket: the odds of the variables it leaves by, given those it comes by.

    ``odds`` has the shape (states of those on both sides, of the others it comes by, of the others
    it leaves by). ``coming`` and ``leaving`` are the axes that bring tables into that order and
    their results into the one asked for, ``sizes`` the states of the variables come by.
    """

    odds: FloatArray
    sizes: tuple[int, ...]
    coming: tuple[int, ...]
    leaving: tuple[int, ...]
    shape: tuple[int, ...]

    @staticmethod
    def of(table: Potential, entry: Sequence[int], leaving: Sequence[int]) -> _Step:
        """Return the step through a bucket with these chances of all variables together."""
        size = dict(zip(table.scope, table.values.shape, strict=True))
        both = [each for each in entry if each in leaving]
        new = [each for each in leaving if each not in both]
        old = [each for each in entry if each not in both]
        order = [table.scope.index(each) for each in (*both, *old, *new)]
        counts = [math.prod(size[each] for each in some) for some in (both, old, new)]
        chances = table.values.transpose(order).reshape(counts)
        given = chances.sum(axis=2, keepdims=True)
        odds = np.divide(chances, given, out=np.zeros(counts), where=given > 0)
        # Axis 0 of a table is that of the states of other variables, carried along.
        made = [*both, None, *new]
        return _Step(
            odds=odds,
            sizes=tuple([size[each] for each in entry]),
            coming=(
                *[1 + entry.index(each) for each in both],
                0,
                *[1 + entry.index(each) for each in old],
            ),
            leaving=(len(both), *[made.index(each) for each in leaving]),
            shape=tuple([size[each] if each is not None else -1 for each in made]),
        )

    def taken(self, tables: FloatArray) -> FloatArray:
        """Carry tables, shape (rows, states come by), on: shape (rows, states left by)."""
        rows = len(tables)
        ready = tables.reshape(rows, *self.sizes).transpose(self.coming)
        told = ready.reshape(self.odds.shape[0], rows, self.odds.shape[1]) @ self.odds
        return told.reshape(self.shape).transpose(self.leaving).reshape(rows, -1)


_ITSELF = -1
_MOST_NUMBERS = 10_000_000
"""Joints are made for so many variables at once that no stack of tables holds more numbers."""
_STEP_CELLS = 20_000
"""Steps through buckets of no more cells are kept."""


def _orders(table: Potential) -> IntArray:
    return np.zeros(table.values.shape, np.int64) if table.orders is None else table.orders


def _stretched(factor: Potential, scope: tuple[int, ...]) -> list[int]:
    size = dict(zip(factor.scope, factor.values.shape, strict=True))
    return [size.get(variable, 1) for variable in scope]
