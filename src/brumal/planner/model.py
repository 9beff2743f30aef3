"""The season's choice as a mixed-integer model: the one place that imports PuLP.

Maximise ``sum worth_p x_p - sum cost_t z_t`` over binary ``x_p`` (pair p is made) and ``z_t >= 0``
(expected surplus of wish term t), subject to

* one sire a female: ``sum of her x_p <= 1``;
* pairings a male: ``sum of his x_p <= limit``;
* incubator boxes: with ``c`` small clutches to a box, ``ceil(small / c) + large <= boxes``, which
  for whole numbers is ``small + c * large <= c * boxes``;
* hatchling tubs: ``sum young_p x_p <= tubs``;
* animals that cost once: ``x_p <= y_a`` with ``y_a`` binary, for a sire; a dam has one pair;
* money before sales, females that rest, and for the young held back the share of one sire and
  their mean kinship: linear in ``x`` and ``y``;
* locks: ``x_p = 1``;
* chance wishes in log space: ``e_c <= log(1 - chance)`` with ``e_c`` the log of P(none);
* lower bounds on ``z_t`` and ``e_c`` that are linear in ``x`` and hold for every plan (see
  :mod:`brumal.planner.surplus` and :mod:`brumal.planner.chances`);
* where bad seasons count, with weight ``w``, all but fees is times ``1 - w`` and ``w r`` is taken
  off, with lower bounds on the loss ``r`` of bad seasons (see :mod:`brumal.planner.risk`).

Every limit is a *statement* with an id, so that a model can be built without some of them when an
impossible season has to be explained.
"""

from __future__ import annotations

import math
import re
import tempfile
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import highspy
import numpy as np
import pulp
from numpy.typing import NDArray

from brumal.planner.answers import Outcome, Relaxed, Run
from brumal.planner.interrupt import is_watched, must_stop
from brumal.planner.limits import limits_of
from brumal.planner.pairing import Array
from brumal.planner.problem import Problem
from brumal.planner.statements import chance_statement, must_statement
from brumal.planner.surplus import Cut
from brumal.timings import timed

_Status = highspy.HighsModelStatus


@dataclass(slots=True, eq=False)
class Model:
    """A PuLP problem with the variables and rows that mean something to us.

    ``limited`` holds the left side of each statement that is an upper limit, whether or not the
    limit itself is in force, so that the least breach of it can be asked for. ``bounds`` are the
    lower bounds on wishes, the first ``written`` of them rows of ``lp`` already; ``kept`` is the
    model as HiGHS has it, kept between solves so that bounds can join it. ``places`` is the number
    of the row of each statement that is an upper limit in force, ``partners`` of the row that lets
    a dam have one sire.
    """

    lp: pulp.LpProblem
    pairs: tuple[pulp.LpVariable, ...]
    surplus: tuple[pulp.LpVariable, ...]
    log_none: tuple[pulp.LpVariable, ...]
    bad: tuple[pulp.LpVariable, ...]
    used: Mapping[str, pulp.LpVariable]
    nothing: pulp.LpVariable
    limited: dict[str, pulp.LpAffineExpression] = field(default_factory=dict)
    bounds: list[tuple[pulp.LpVariable, Cut]] = field(default_factory=list)
    kept: _Kept | None = None
    written: int = 0
    places: dict[str, int] = field(default_factory=dict)
    partners: dict[str, int] = field(default_factory=dict)


def build(problem: Problem, omit: Collection[str] = ()) -> Model:
    """Build the model of a season, leaving out the statements named in ``omit``."""
    lp = pulp.LpProblem("season", pulp.LpMaximize)
    pairs = tuple(
        lp.add_variable(f"x{index}", cat=pulp.LpBinary) for index in range(len(problem.candidates))
    )
    surplus = tuple(
        lp.add_variable(f"z{term}", lowBound=0) for term in range(len(problem.wish_terms))
    )
    log_none = tuple(
        lp.add_variable(f"e{number}", lowBound=None, upBound=0)
        for number in range(len(problem.chances))
    )
    weight = problem.risk.weight if problem.risk else 0.0
    bad = (lp.add_variable("r"),) if problem.risk else ()
    used = {
        sire: lp.add_variable(f"y{place}", cat=pulp.LpBinary)
        for place, sire in enumerate(problem.columns.sires)
        if sire in problem.use_costs
    }
    # Solvers refuse a model without variables.
    nothing = lp.add_variable("nothing", lowBound=0, upBound=0, cat=pulp.LpInteger)
    lp.setObjective(
        pulp.LpAffineExpression(
            [
                (x, (1 - weight) * worth - problem.use_costs.get(dam, 0.0))
                for x, worth, (dam, _) in zip(
                    pairs, problem.columns.worth.tolist(), problem.columns.pairs, strict=True
                )
            ]
            + [(y, -problem.use_costs[sire]) for sire, y in used.items()]
            + [
                (z, (weight - 1) * wish.cost)
                for z, wish in zip(surplus, problem.wish_terms, strict=True)
            ]
            + [(r, -weight) for r in bad]
            + [(nothing, 0.0)]
        )
    )
    model = Model(lp, pairs, surplus, log_none, bad, used, nothing)
    _add_partners(model, problem)
    _add_limits(model, problem, omit)
    _add_locks(model, problem, omit)
    _add_chances(model, problem, omit)
    _add_more(model, problem)
    return model


def bound_surplus(model: Model, cuts: Iterable[Cut]) -> None:
    """Add lower bounds on the expected surplus of wish terms."""
    model.bounds.extend((model.surplus[cut.number], cut) for cut in cuts)


def bound_log_none(model: Model, cuts: Iterable[Cut]) -> None:
    """Add lower bounds on the log of the chance that a wish gets nothing."""
    model.bounds.extend((model.log_none[cut.number], cut) for cut in cuts)


def bound_bad(model: Model, cuts: Iterable[Cut]) -> None:
    """Add lower bounds on what bad seasons lose, where they count."""
    model.bounds.extend((model.bad[cut.number], cut) for cut in cuts)


def close(model: Model, pairs: NDArray[np.intp]) -> None:
    """Leave these pairs out of every plan from now on."""
    for index in pairs.tolist():
        model.pairs[index].upBound = 0
    if model.kept:
        columns, nothing = model.kept.pairs[pairs], np.zeros(pairs.size)
        model.kept.engine.changeColsBounds(columns.size, columns, nothing, nothing)


def prefer(model: Model, at_least: float, ranks: Iterable[int]) -> None:
    """Hold the objective at ``at_least`` or more and maximise the pairs' ranks instead."""
    model.kept = None
    model.lp.addConstraint(model.lp.objective >= at_least)
    ranked = pulp.LpAffineExpression(list(zip(model.pairs, ranks, strict=True)))
    model.lp.setObjective(ranked)


def minimise(model: Model, statement: str) -> None:
    """Make the left side of a limit the objective: how little of it the season can do with."""
    model.kept = None
    model.lp.setObjective(-1 * model.limited[statement])


def left_side(model: Model, statement: str) -> float:
    """Return the left side of a limit at the plan last found."""
    return float(pulp.value(model.limited[statement]))


def _add_partners(model: Model, problem: Problem) -> None:
    by_dam: dict[str, list[int]] = {dam: [] for dam in problem.columns.dams}
    for index, (dam, _) in enumerate(problem.columns.pairs):
        by_dam[dam].append(index)
    for dam, hers in by_dam.items():
        if len(hers) > 1:
            model.partners[dam] = int(model.lp.numConstraints())
            model.lp.addConstraint(_sum(model, [(index, 1.0) for index in hers]) <= 1)
    for dam in problem.must_breed:
        model.lp.addConstraint(_sum(model, [(index, 1.0) for index in by_dam.get(dam, ())]) >= 1)
    for x, (_, sire) in zip(model.pairs, problem.columns.pairs, strict=True):
        if sire in model.used:
            model.lp.addConstraint(x - model.used[sire] <= 0)


def _sum(model: Model, terms: Iterable[tuple[int, float]]) -> pulp.LpAffineExpression:
    # Something has to stand in a sum of no pairs.
    pairs = [(model.pairs[index], amount) for index, amount in terms]
    return pulp.LpAffineExpression([(model.nothing, 1.0), *pairs])


def _add_limits(model: Model, problem: Problem, omit: Collection[str]) -> None:
    for limit in limits_of(problem):
        fees = [(model.used[sire], fee) for sire, fee in limit.fees.items()]
        terms = zip(limit.members.tolist(), limit.amounts.tolist(), strict=True)
        left = _sum(model, terms) + pulp.LpAffineExpression(fees)
        _limit(model, limit.statement, left, limit.most, omit)


def _limit(
    model: Model,
    statement: str,
    left: pulp.LpAffineExpression,
    limit: float,
    omit: Collection[str],
) -> None:
    """Add ``left <= limit`` under its statement's name, unless it is left out."""
    model.limited[statement] = left
    if statement not in omit:
        model.places[statement] = int(model.lp.numConstraints())
        model.lp.addConstraint(model.limited[statement] <= limit)


def _add_locks(model: Model, problem: Problem, omit: Collection[str]) -> None:
    place = {pair: index for index, pair in enumerate(problem.columns.pairs)}
    for pair in problem.must:
        if must_statement(*pair) not in omit:
            made = pulp.LpAffineExpression([(model.pairs[place[pair]], 1.0)])
            model.lp.addConstraint(made == 1)


def _add_chances(model: Model, problem: Problem, omit: Collection[str]) -> None:
    for variable, wish in zip(model.log_none, problem.chances, strict=True):
        left = pulp.LpAffineExpression([(variable, 1.0)])
        _limit(model, chance_statement(wish.id), left, wish.log_limit, omit)


def _add_more(model: Model, problem: Problem) -> None:
    for row in problem.more:
        terms = [
            (index, row.coefficients[pair])
            for index, pair in enumerate(problem.columns.pairs)
            if pair in row.coefficients
        ]
        model.lp.addConstraint(_sum(model, terms) >= row.at_least)


def rows(model: Model) -> int:
    """Return how many rows the model has."""
    return int(model.lp.numConstraints()) + len(model.bounds)


def relax(model: Model) -> Relaxed | None:
    """Solve the model without asking for whole pairs; ``None``: even so nothing is possible."""
    kept = _kept(model)
    kept.ask_for_whole(False)
    kept.engine.setOptionValue("time_limit", highspy.kHighsInf)
    kept.engine.run()
    if kept.engine.getModelStatus() != _Status.kOptimal:
        return None
    solution = kept.engine.getSolution()
    values, duals = np.array(solution.col_value), np.array(solution.col_dual)
    return Relaxed(
        bound=-float(kept.engine.getInfo().objective_function_value),
        without=np.maximum(duals[kept.pairs], 0.0),
        amounts=values[kept.pairs],
        surplus=values[[z.index for z in model.surplus]],
        log_none=values[[e.index for e in model.log_none]],
        bad=values[[r.index for r in model.bad]],
        prices=-np.array(solution.row_dual),
    )


def run(
    model: Model, solver: str, gap: float, seconds: float | None, nodes: int | None = None
) -> Run:
    """Solve the model with ``solver`` (a key of ``SOLVERS``) to a relative ``gap``.

    It stops early after so many seconds, or nodes of its search (HiGHS only); ``None``: never.
    """
    return SOLVERS[solver](model, gap, seconds, nodes)


class _Kept(pulp.HiGHS):  # type: ignore[misc]
    """The model as HiGHS has it; only bounds that are new since the last solve are added."""

    def __init__(self, model: Model) -> None:
        super().__init__(msg=False, gapAbs=0.0, threads=1)
        told = (*model.surplus, *model.log_none, *model.bad)
        self.variables = (*model.pairs, *told, *model.used.values(), model.nothing)
        self.createAndConfigureSolver(model.lp)
        self.hand_over(model.lp)
        self.engine: highspy.Highs = model.lp.solverModel
        self.pairs = np.arange(len(model.pairs), dtype=np.int32)
        whole = np.flatnonzero([each.cat == pulp.LpInteger for each in self.variables])
        self.whole, self.is_whole = whole.astype(np.int32), False
        self.known = model.written
        if is_watched():
            self.engine.cbMipInterrupt += _stop_if_asked

    def hand_over(self, lp: pulp.LpProblem) -> None:
        """Hand the model over in one go; PuLP would do so number by number."""
        for place, variable in enumerate(self.variables):
            variable.index = place
        rows = lp.constraints()
        entries = [(x.index, slope) for row in rows for x, slope in row.items()]
        told = highspy.HighsLp()
        told.num_col_, told.num_row_ = len(self.variables), len(rows)
        told.col_cost_ = np.array([-lp.objective.get(x, 0.0) for x in self.variables])
        told.col_lower_ = _limits([x.lowBound for x in self.variables], -highspy.kHighsInf)
        told.col_upper_ = _limits([x.upBound for x in self.variables], highspy.kHighsInf)
        told.row_lower_ = _limits([row.getLb() for row in rows], -highspy.kHighsInf)
        told.row_upper_ = _limits([row.getUb() for row in rows], highspy.kHighsInf)
        told.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        told.a_matrix_.start_ = np.cumsum([0, *map(len, rows)], dtype=np.int32)
        told.a_matrix_.index_ = np.array([place for place, _ in entries], dtype=np.int32)
        told.a_matrix_.value_ = np.array([slope for _, slope in entries], dtype=np.float64)
        lp.solverModel.passModel(told)

    def take_in(self, bounds: Sequence[tuple[pulp.LpVariable, Cut]]) -> None:
        for variable, cut in bounds[self.known :]:
            members = np.fromiter(cut.coefficients.keys(), dtype=np.intp)
            slopes = np.fromiter(cut.coefficients.values(), dtype=np.float64)
            some = slopes != 0
            columns = np.append(self.pairs[members[some]], np.int32(variable.index))
            values = np.append(-slopes[some], 1.0)
            self.engine.addRow(cut.constant, highspy.kHighsInf, columns.size, columns, values)
        self.known = len(bounds)

    def ask_for_whole(self, whole: bool) -> None:
        if whole != self.is_whole:
            kind = highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
            kinds = np.array([kind] * self.whole.size)
            self.engine.changeColsIntegrality(self.whole.size, self.whole, kinds)
            self.is_whole = whole


def _stop_if_asked(event: highspy.highs.HighsCallbackEvent) -> None:
    if must_stop(has_plan=math.isfinite(event.data_out.mip_primal_bound)):
        event.interrupt()


def _limits(given: Iterable[float | None], none: float) -> Array:
    return np.array([none if limit is None else limit for limit in given], dtype=np.float64)


@timed("building")
def _kept(model: Model) -> _Kept:
    if model.kept is None:
        model.kept = _Kept(model)
    model.kept.take_in(model.bounds)
    return model.kept


def _run_highs(model: Model, gap: float, seconds: float | None, nodes: int | None) -> Run:
    kept = _kept(model)
    engine = kept.engine
    kept.ask_for_whole(True)
    # What an earlier solve left behind must not steer this one.
    engine.clearSolver()
    engine.setOptionValue("mip_rel_gap", gap)
    engine.setOptionValue("time_limit", highspy.kHighsInf if seconds is None else seconds)
    engine.setOptionValue("mip_max_nodes", highspy.kHighsIInf if nodes is None else nodes)
    engine.run()
    status, info = engine.getModelStatus(), engine.getInfo()
    message = str(engine.modelStatusToString(status))
    if status in (_Status.kInfeasible, _Status.kUnboundedOrInfeasible):
        return Run(Outcome.INFEASIBLE, None, -math.inf, message)
    bound = -float(info.mip_dual_bound)
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Run(Outcome.STOPPED, None, bound, message)
    values = np.array(engine.getSolution().col_value)
    for variable, value in zip(kept.variables, values.tolist(), strict=True):
        variable.varValue = value
    chosen = tuple(np.flatnonzero(values[kept.pairs] > 0.5).tolist())
    proven = status == _Status.kOptimal
    return Run(Outcome.OPTIMAL if proven else Outcome.STOPPED, chosen, bound, message)


def _write(model: Model, variable: pulp.LpVariable, cut: Cut) -> None:
    terms = [(model.pairs[index], -slope) for index, slope in sorted(cut.coefficients.items())]
    row = pulp.LpAffineExpression([(variable, 1.0), *terms])
    model.lp.addConstraint(row >= cut.constant)


def _run_cbc(model: Model, gap: float, seconds: float | None, _: int | None) -> Run:
    for variable, cut in model.bounds[model.written :]:
        _write(model, variable, cut)
    model.written = len(model.bounds)
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "cbc.log"
        solver = pulp.COIN_CMD(
            path=pulp.PULP_CBC_CMD.pulp_cbc_path,
            msg=False,
            gapRel=gap,
            timeLimit=seconds,
            threads=1,
            logPath=str(log),
        )
        model.lp.solve(solver)
        text = log.read_text(encoding="utf-8", errors="replace")
    message = re.search(r"^Result - (.+)$", text, re.MULTILINE)
    stated = re.search(r"^Upper bound:\s+(\S+)$", text, re.MULTILINE)
    # CBC states a bound only where it differs from the objective it proved.
    objective = pulp.value(model.lp.objective)
    bound = float(stated[1]) if stated else math.inf if objective is None else float(objective)
    return _read(model, bound, message[1].strip() if message else "no result line")


SOLVERS: Mapping[str, Callable[[Model, float, float | None, int | None], Run]] = {
    "highs": _run_highs,
    "cbc": _run_cbc,
}


def _read(model: Model, bound: float, message: str) -> Run:
    """Map PuLP's two-level status; values left behind by a failed run are never read."""
    lp = model.lp
    if lp.status == pulp.LpStatusInfeasible:
        return Run(Outcome.INFEASIBLE, None, -math.inf, message)
    if lp.sol_status not in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible):
        return Run(Outcome.STOPPED, None, bound, message)
    # A pair that no row and no objective mentions has no value: nothing asks for it.
    chosen = tuple(index for index, x in enumerate(model.pairs) if (x.value() or 0.0) > 0.5)
    proven = lp.sol_status == pulp.LpSolutionOptimal
    return Run(Outcome.OPTIMAL if proven else Outcome.STOPPED, chosen, bound, message)
