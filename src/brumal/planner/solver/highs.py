"""A model kept in HiGHS, in this process: rows and columns join it between solves."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from weakref import proxy

import highspy
import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array
from brumal.planner.pairs.columns import Numbers
from brumal.planner.solver.interrupt import must_stop
from brumal.planner.solver.runs import Effort, Outcome, OutOfTimeError, Plan, Relaxed, Run
from brumal.planner.wishes.surplus import Cut

_Status = highspy.HighsModelStatus
_OPTIONS = {
    "output_flag": False,
    "threads": 1,
    "mip_abs_gap": 0.0,
    # A restarted search forgets its tree: measured on seasons of 70 to 100 females it costs time.
    "mip_allow_restart": False,
}
_MOST_OTHERS = 3
"""So many plans met on the way to the last one are kept: cuts at them save rounds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModelArrays:
    """A model in arrays: maximise ``worth`` within bounds of variables and rows.

    Variables are the pairs, then wishes of three sorts (surplus, log of none, bad seasons), then
    others; rows are sparse, row ``r`` having its entries from ``starts[r]`` on.
    """

    pairs: int
    wishes: tuple[int, ...]
    worth: Array
    lower: Array
    upper: Array
    is_whole: NDArray[np.bool_]
    least: Array
    most: Array
    starts: NDArray[np.int32]
    places: NDArray[np.int32]
    slopes: Array


class Highs:
    """A model in HiGHS; ``cuts`` counts those that are in it, ``values`` holds the last plan."""

    def __init__(self, model: ModelArrays) -> None:
        """Hand a model over; it is minimised with its worth negated."""
        self._engine = highspy.Highs()  # type: ignore[no-untyped-call]
        for option, value in _OPTIONS.items():
            self._engine.setOptionValue(option, value)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = model.worth.size, model.least.size
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = -model.worth, model.lower, model.upper
        lp.row_lower_, lp.row_upper_ = model.least, model.most
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_, lp.a_matrix_.index_ = model.starts, model.places
        lp.a_matrix_.value_ = model.slopes
        self._engine.passModel(lp)
        self.cuts = 0
        self.values: Array = np.zeros(model.worth.size)
        self._pairs = np.arange(model.pairs, dtype=np.int32)
        ends = np.cumsum([model.pairs, *model.wishes]).tolist()
        self._wishes = [np.arange(a, b) for a, b in itertools.pairwise(ends)]
        self._whole = np.flatnonzero(model.is_whole).astype(np.int32)
        self._is_whole = False
        self._effort, self._is_eased = Effort(), False
        self._others: list[Plan] = []
        # Held weakly: a model, megabytes of it, would else live on until cycles are looked for.
        own = proxy(self)
        self._engine.cbMipInterrupt += lambda event: own._stop_if_done(event)
        self._engine.cbMipImprovingSolution += lambda event: own._keep(event)

    def take_in(self, cuts: Sequence[tuple[int, Cut]]) -> None:
        """Add those of all cuts, each with the place of its variable, that are new."""
        for place, cut in cuts[self.cuts :]:
            members = np.fromiter(cut.coefficients.keys(), dtype=np.intp)
            slopes = np.fromiter(cut.coefficients.values(), dtype=np.float64)
            some = slopes != 0
            columns = np.append(self._pairs[members[some]], np.int32(place))
            values = np.append(-slopes[some], 1.0)
            self._engine.addRow(cut.constant, highspy.kHighsInf, columns.size, columns, values)
        self.cuts = len(cuts)

    def add_pairs(self, worth: Array, starts: Numbers, rows: Numbers, amounts: Array) -> None:
        """Add columns to a relaxed model; the solver goes on with them from where it stands.

        ``worth`` is what each adds to the objective, ``starts`` where its entries begin in ``rows``
        and ``amounts``. Their indices follow those of the pairs before; from then on the model can
        be solved relaxed alone.
        """
        nothing, one = np.zeros(worth.size), np.ones(worth.size)
        first = self._engine.getNumCol()
        self._engine.addCols(worth.size, -worth, nothing, one, rows.size, starts, rows, amounts)
        new = np.arange(first, first + worth.size, dtype=np.int32)
        self._pairs = np.append(self._pairs, new)

    def open_only(self, is_open: NDArray[np.bool_]) -> None:
        """Let only these pairs be made."""
        upper = is_open.astype(np.float64)
        self._engine.changeColsBounds(upper.size, self._pairs, np.zeros(upper.size), upper)

    def bound(self, place: int, least: float, most: float) -> None:
        """Hold a variable within bounds."""
        self._engine.changeColBounds(place, least, most)

    def relax(self, seconds: float | None) -> Relaxed | None:
        """Solve the linear relaxation; see :func:`brumal.planner.solver.model.relax`."""
        engine = self._engine
        self._ask_for_whole(False)
        # For a linear programme HiGHS counts the time of all earlier runs too.
        until = highspy.kHighsInf if seconds is None else engine.getRunTime() + seconds
        engine.setOptionValue("time_limit", until)
        engine.run()
        status = engine.getModelStatus()
        if status == _Status.kTimeLimit:
            raise OutOfTimeError
        if status != _Status.kOptimal:
            return None
        solution = engine.getSolution()
        values, duals = np.array(solution.col_value), np.array(solution.col_dual)
        surplus, log_none, bad = (values[places] for places in self._wishes)
        return Relaxed(
            bound=-float(engine.getInfo().objective_function_value),
            reduced=np.maximum(duals[self._pairs], 0.0),
            amounts=values[self._pairs],
            surplus=surplus,
            log_none=log_none,
            bad=bad,
            duals=-np.array(solution.row_dual),
        )

    def run(self, gap: float, effort: Effort) -> Run:
        """Solve for whole pairs to a relative gap, or until the effort ends."""
        engine = self._engine
        self._ask_for_whole(True)
        self._effort, self._others, self._is_eased = effort, [], False
        # What an earlier solve left behind must not steer this one.
        engine.clearSolver()
        seconds = highspy.kHighsInf if effort.seconds is None else effort.seconds
        engine.setOptionValue("mip_rel_gap", gap)
        engine.setOptionValue("time_limit", seconds)
        nodes = highspy.kHighsIInf if effort.nodes is None else effort.nodes
        engine.setOptionValue("mip_max_nodes", nodes)
        engine.run()
        status, info = engine.getModelStatus(), engine.getInfo()
        message = str(engine.modelStatusToString(status))
        taken = max(0, int(info.simplex_iteration_count))
        if status in (_Status.kInfeasible, _Status.kUnboundedOrInfeasible):
            return Run(Outcome.INFEASIBLE, None, -math.inf, message, iterations=taken)
        bound = -float(info.mip_dual_bound)
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            is_low = math.isfinite(bound) and bound <= effort.enough
            outcome = Outcome.OPTIMAL if is_low else Outcome.STOPPED
            return Run(outcome, None, bound, message, iterations=taken)
        self.values = np.array(engine.getSolution().col_value)
        chosen = tuple(np.flatnonzero(self.values[self._pairs] > 0.5).tolist())
        others = [plan for plan in dict.fromkeys(reversed(self._others)) if plan != chosen]
        proven = status == _Status.kOptimal or bound <= effort.enough or self._is_eased
        outcome = Outcome.OPTIMAL if proven else Outcome.STOPPED
        return Run(outcome, chosen, bound, message, tuple(others[:_MOST_OTHERS]), taken)

    def _ask_for_whole(self, whole: bool) -> None:
        if whole != self._is_whole:
            kind = highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
            kinds = np.array([kind] * self._whole.size)
            self._engine.changeColsIntegrality(self._whole.size, self._whole, kinds)
            self._is_whole = whole

    def _stop_if_done(self, event: highspy.highs.HighsCallbackEvent) -> None:
        told = event.data_out
        bound = -told.mip_dual_bound
        is_low = math.isfinite(bound) and bound <= self._effort.enough
        for eased in self._effort.eased:
            self._is_eased |= told.mip_node_count >= eased.after and told.mip_gap <= eased.gap
        assert event.data_in is not None
        # HiGHS remembers an interrupt from one solve to the next: it is said each time.
        has_plan = math.isfinite(told.mip_primal_bound)
        event.data_in.user_interrupt = is_low or self._is_eased or must_stop(has_plan)

    def _keep(self, event: highspy.highs.HighsCallbackEvent) -> None:
        values = np.array(event.data_out.mip_solution)
        self._others.append(tuple(np.flatnonzero(values[self._pairs] > 0.5).tolist()))
