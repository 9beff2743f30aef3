"""A season's relaxed model kept in the solver between questions, each put to it and taken back.

A question changes bounds, limits or worths and adds a few rows; the solver starts from the basis of
the season itself, so that few steps lead to the new optimum. Everything is put back afterwards: an
answer does not depend on what was asked before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import NDArray

from brumal.planner import model as models
from brumal.planner.answers import Relaxed
from brumal.planner.model import Model
from brumal.planner.pair_columns import Numbers
from brumal.planner.pairing import Array

Places = NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Change:
    """How a season differs from the one kept; pairs by their indices in it.

    ``closed`` pairs are not made, ``made`` ones are; ``limits`` are new upper limits by statement,
    ``rows`` further rows as (coefficient of each pair, least sum), ``worth`` new worths of pairs.
    """

    closed: Sequence[int] = ()
    made: Sequence[int] = ()
    limits: Mapping[str, float] = field(default_factory=dict)
    rows: Sequence[tuple[Mapping[int, float], float]] = ()
    worth: Mapping[int, float] = field(default_factory=dict)


class Warm:
    """A relaxed model that answers one question after another."""

    def __init__(self, model: Model) -> None:
        """Take a model whose relaxed form has just been solved, and keep where that ended."""
        if model.kept is None:
            raise ValueError("the relaxed model has to be solved first")
        self._model = model
        self._engine: highspy.Highs = model.kept.engine
        self._pairs: Places = model.kept.pairs
        self._basis = self._engine.getBasis()
        lp = self._engine.getLp()
        self._cost, self._lower, self._upper = (
            np.array(each) for each in (lp.col_cost_, lp.col_lower_, lp.col_upper_)
        )
        self._limits = {name: lp.row_upper_[row] for name, row in model.places.items()}

    def ask(self, change: Change) -> Relaxed | None:
        """Return the relaxed model of the changed season; ``None``: nothing is possible.

        Pairs that are closed can be in no plan at all.
        """
        self._engine.setBasis(self._basis)
        rows = self._engine.getNumRow()
        self._set_columns(change, new=True)
        for statement, limit in change.limits.items():
            # A limit too wide to bind has no row; a wider one has none either.
            if statement in self._model.places:
                row = self._model.places[statement]
                self._engine.changeRowBounds(row, -highspy.kHighsInf, limit)
        for coefficients, least in change.rows:
            columns = self._pairs[list(coefficients)]
            values = np.array(list(coefficients.values()), dtype=float)
            self._engine.addRow(least, highspy.kHighsInf, columns.size, columns, values)
        relaxed = models.relax(self._model)
        self._put_back(change, rows)
        if relaxed is not None:
            relaxed.without[list(change.closed)] = np.inf
        return relaxed

    def _put_back(self, change: Change, rows: int) -> None:
        added = self._engine.getNumRow() - rows
        if added:
            self._engine.deleteRows(added, np.arange(rows, rows + added, dtype=np.int32))
        for statement in change.limits:
            if statement in self._model.places:
                row = self._model.places[statement]
                self._engine.changeRowBounds(row, -highspy.kHighsInf, self._limits[statement])
        self._set_columns(change, new=False)

    def _set_columns(self, change: Change, new: bool) -> None:
        """Set bounds and costs of columns as the question has them, or as they were."""
        for pairs, bound in ((change.closed, 0.0), (change.made, 1.0)):
            if pairs:
                columns = self._pairs[list(pairs)]
                ends = np.full(columns.size, bound)
                low, high = (ends, ends) if new else (self._lower[columns], self._upper[columns])
                self._engine.changeColsBounds(columns.size, columns, low, high)
        if change.worth:
            columns = self._pairs[list(change.worth)]
            worth: Array = -np.array(list(change.worth.values()), dtype=float)
            cost = worth if new else self._cost[columns]
            self._engine.changeColsCost(columns.size, columns, cost)


def let_in(model: Model, worth: Array, starts: Numbers, rows: Numbers, amounts: Array) -> None:
    """Let more pairs into a relaxed model that has been solved; the solver goes on with them.

    From then on the model can be asked relaxed questions alone.

    ``worth`` is what each adds to the objective, ``starts`` where its entries begin in ``rows`` and
    ``amounts``. Their indices follow those of the pairs before.
    """
    assert model.kept is not None
    kept = model.kept
    nothing, one = np.zeros(worth.size), np.ones(worth.size)
    first = kept.engine.getNumCol()
    kept.engine.addCols(worth.size, -worth, nothing, one, rows.size, starts, rows, amounts)
    kept.pairs = np.append(kept.pairs, np.arange(first, first + worth.size, dtype=np.int32))
