"""Approximate marginals for the rare pedigree whose exact tables would be too large.

Damped loopy belief propagation, known in animal breeding as iterative peeling (van Arendonk, Smith
& Kennedy 1989, Theor Appl Genet 78:735-740, from memory): exact without loops, an approximation
with them, best where animals far apart are loosely tied. Deterministic.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brumal.genetics.evidence.bucket_tree import FloatArray, IntArray, Potential

_FLOOR = 1e-300
_SETTLED = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class _Alike:
    """Factors of one shape, stacked: their tables, and for each axis the variables' rows."""

    tables: FloatArray
    sizes: tuple[int, ...]
    rows: tuple[IntArray, ...]


def loopy_marginals(
    factors: Sequence[Potential], sizes: Mapping[int, int], rounds: int = 200
) -> dict[int, FloatArray]:
    """Return approximate marginals of every variable of ``sizes`` (variable -> states).

    Every variable must stand in some factor. Orders of vanishing are not looked at. Stops when no
    message moves by more than 1e-9, or after ``rounds``.
    """
    row, stacks = _stacked(factors, sizes)
    counts = {size: sum(1 for s in sizes.values() if s == size) for size in set(sizes.values())}
    messages = [
        [np.full((len(rows), size), 1 / size) for size, rows in zip(s.sizes, s.rows, strict=True)]
        for s in stacks
    ]
    beliefs = _collected(stacks, messages, counts)
    for _ in range(rounds):
        moved = 0.0
        for stack, sent in zip(stacks, messages, strict=True):
            rests = [
                _unit(np.exp(_shifted(beliefs[size][rows] - np.log(np.maximum(old, _FLOOR)))))
                for size, rows, old in zip(stack.sizes, stack.rows, sent, strict=True)
            ]
            for axis in range(len(sent)):
                fresh = _towards(stack.tables, rests, axis)
                moved = max(moved, float(np.abs(fresh - sent[axis]).max()))
                sent[axis] = 0.5 * (sent[axis] + fresh)
        beliefs = _collected(stacks, messages, counts)
        if moved < _SETTLED:
            break
    found = {size: _unit(np.exp(_shifted(logs))) for size, logs in beliefs.items()}
    return {variable: found[size][row[variable]] for variable, size in sizes.items()}


def _stacked(
    factors: Sequence[Potential], sizes: Mapping[int, int]
) -> tuple[dict[int, int], list[_Alike]]:
    """Return a row number for each variable within its size, and the factors stacked by shape."""
    row: dict[int, int] = {}
    counts: dict[int, int] = {}
    for variable, size in sorted(sizes.items()):
        row[variable] = counts.get(size, 0)
        counts[size] = row[variable] + 1
    shapes: dict[tuple[int, ...], list[Potential]] = {}
    for factor in factors:
        shapes.setdefault(factor.values.shape, []).append(factor)
    return row, [
        _Alike(
            np.stack([factor.values for factor in alike]),
            shape,
            tuple(
                np.array([row[factor.scope[axis]] for factor in alike])
                for axis in range(len(shape))
            ),
        )
        for shape, alike in shapes.items()
    ]


def _collected(
    stacks: Sequence[_Alike], messages: Sequence[Sequence[FloatArray]], counts: Mapping[int, int]
) -> dict[int, FloatArray]:
    """Return the log of the product of all messages to each variable, by size and row."""
    logs = {size: np.zeros((count, size)) for size, count in counts.items()}
    for stack, sent in zip(stacks, messages, strict=True):
        for size, rows, message in zip(stack.sizes, stack.rows, sent, strict=True):
            np.add.at(logs[size], rows, np.log(np.maximum(message, _FLOOR)))
    return logs


def _towards(tables: FloatArray, rests: Sequence[FloatArray], axis: int) -> FloatArray:
    """Return the messages of stacked factors towards one of their axes."""
    total = tables
    for other, rest in enumerate(rests):
        if other != axis:
            shape = [len(rest)] + [rest.shape[1] if a == other else 1 for a in range(len(rests))]
            total = total * rest.reshape(shape)
    return _unit(total.sum(axis=tuple(a + 1 for a in range(len(rests)) if a != axis)))


def _shifted(logs: FloatArray) -> FloatArray:
    return np.asarray(logs - logs.max(axis=1, keepdims=True))


def _unit(values: FloatArray) -> FloatArray:
    totals = values.sum(axis=1, keepdims=True)
    return np.where(totals > 0, values / np.where(totals > 0, totals, 1), 1 / values.shape[1])
