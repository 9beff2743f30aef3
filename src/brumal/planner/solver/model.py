"""The season's choice as a mixed-integer model: the one place that imports PuLP.

Maximise ``sum worth_p x_p - sum cost_t z_t`` over binary ``x_p`` (pair p is made; an agreed pair is
worth what giving it up would count besides) and ``z_t >= 0`` (expected surplus of wish term t),
subject to

* one sire a female: ``sum of her x_p <= 1``;
* every limit of :mod:`brumal.planner.limits.every`: linear in ``x`` and in the ``y_a`` of sires;
* animals that cost once: ``x_p <= y_a`` with ``y_a`` binary, for a sire; a dam has one pair;
* pairs that have to stand, ``x_p = 1``, females that have to be paired, and what a question asks of
  a plan besides (``Problem.more``);
* chance wishes in log space: ``e_c <= log(1 - chance)`` with ``e_c`` the log of P(none);
* wishes that may wait: a ``w_m >= 0`` for each set ``m`` of slots of a route that a plan can fill,
  ``sum of w_m = 1`` and ``sum of x_p in slot s = sum of w_m with s in m``, so that with whole pairs
  the one ``w_m`` of the plan is 1; each adds its gain;
* cuts: lower bounds on ``z_t`` and ``e_c`` that are linear in ``x`` and hold for every plan (see
  :mod:`brumal.planner.wishes.surplus` and :mod:`brumal.planner.wishes.chances`);
* where bad seasons count, with weight ``w``, all but fees is times ``1 - w`` and ``w r`` is taken
  off, with cuts on the loss ``r`` of bad seasons (see :mod:`brumal.planner.risk.cvar`).

Limits, pairs that have to stand and chance wishes have ids, so that a model can be built without
some of them when an impossible season has to be explained. The model is stated in PuLP and solved
by HiGHS in this process (:mod:`brumal.planner.solver.highs`) or by CBC as a program of its own.
"""

from __future__ import annotations

import math
import re
import tempfile
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pulp
from numpy.typing import NDArray

from brumal.planner.limits.every import limits_of, must_id
from brumal.planner.problem import Problem
from brumal.planner.solver.highs import Highs, ModelArrays
from brumal.planner.solver.runs import Effort, Outcome, Relaxed, Run
from brumal.planner.wishes.chances import chance_id
from brumal.planner.wishes.surplus import Cut
from brumal.timings import timed


@dataclass(slots=True, eq=False)
class Model:
    """A PuLP problem with the variables and rows that mean something to us.

    ``limited`` holds the left side of each statement that is an upper limit, whether or not the
    limit itself is in force, so that the least breach of it can be asked for. ``cuts`` are the
    lower bounds on wishes, each with its variable, the first ``written`` of them rows of ``lp``
    already; ``highs`` is the model as HiGHS has it, kept between solves so that cuts and columns
    can join it. ``row_of`` is the number of the row of each limit in force, ``row_of_dam`` of the
    row that lets a dam have one sire, ``row_of_slot`` of the row of each slot of a route. ``ways``
    holds for each route the ways to fill its slots. ``number`` is how many pairs are made, where
    that is counted.
    """

    lp: pulp.LpProblem
    pairs: tuple[pulp.LpVariable, ...]
    surplus: tuple[pulp.LpVariable, ...]
    log_none: tuple[pulp.LpVariable, ...]
    bad: tuple[pulp.LpVariable, ...]
    used: Mapping[str, pulp.LpVariable]
    ways: tuple[dict[frozenset[int], pulp.LpVariable], ...]
    nothing: pulp.LpVariable
    limited: dict[str, pulp.LpAffineExpression] = field(default_factory=dict)
    cuts: list[tuple[pulp.LpVariable, Cut]] = field(default_factory=list)
    highs: Highs | None = None
    written: int = 0
    row_of: dict[str, int] = field(default_factory=dict)
    row_of_dam: dict[str, int] = field(default_factory=dict)
    row_of_slot: dict[tuple[int, int], int] = field(default_factory=dict)
    number: pulp.LpVariable | None = None

    @property
    def wishes(self) -> tuple[pulp.LpVariable, ...]:
        """Return the variables that cuts bound."""
        return (*self.surplus, *self.log_none, *self.bad)


@timed("building")
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
    bad = (lp.add_variable("r"),) if problem.risk else ()
    used = {
        sire: lp.add_variable(f"y{place}", cat=pulp.LpBinary)
        for place, sire in enumerate(problem.columns.sires)
        if sire in problem.use_costs
    }
    ways = tuple(_ways(lp, number, problem) for number in range(len(problem.routes)))
    # Solvers refuse a model without variables.
    nothing = lp.add_variable("nothing", lowBound=0, upBound=0, cat=pulp.LpInteger)
    model = Model(lp, pairs, surplus, log_none, bad, used, ways, nothing)
    _set_objective(model, problem)
    _add_dams(model, problem)
    _add_routes(model, problem)
    for limit in limits_of(problem):
        fees = [(model.used[sire], fee) for sire, fee in limit.fees.items()]
        terms = zip(limit.members.tolist(), limit.amounts.tolist(), strict=True)
        left = _sum(model, terms) + pulp.LpAffineExpression(fees)
        _limit(model, limit.id, left, limit.most, omit)
    place = {pair: index for index, pair in enumerate(problem.columns.pairs)}
    for pair in problem.must:
        if must_id(pair) not in omit:
            lp.addConstraint(_sum(model, [(place[pair], 1.0)]) >= 1)
    for variable, wish in zip(log_none, problem.chances, strict=True):
        left = pulp.LpAffineExpression([(variable, 1.0)])
        _limit(model, chance_id(wish), left, wish.log_limit, omit)
    for row in problem.more:
        terms_of = [(place[pair], c) for pair, c in row.coefficients.items() if pair in place]
        lp.addConstraint(_sum(model, terms_of) >= row.at_least)
    return model


def _set_objective(model: Model, problem: Problem) -> None:
    weight = problem.risk.weight if problem.risk else 0.0
    worth = ((1 - weight) * problem.columns.worth + problem.standing).tolist()
    pairs = zip(model.pairs, worth, problem.columns.pairs, strict=True)
    lost = zip(model.surplus, problem.wish_terms, strict=True)
    model.lp.setObjective(
        pulp.LpAffineExpression(
            [
                *((x, own - problem.use_costs.get(dam, 0.0)) for x, own, (dam, _) in pairs),
                *((y, -problem.use_costs[sire]) for sire, y in model.used.items()),
                *((z, (weight - 1) * wish.cost) for z, wish in lost),
                *((r, -weight) for r in model.bad),
                *(
                    (w, route.value * route.gains[way])
                    for route, ways in zip(problem.routes, model.ways, strict=True)
                    for way, w in ways.items()
                ),
                (model.nothing, 0.0),
            ]
        )
    )


def _add_dams(model: Model, problem: Problem) -> None:
    by_dam: dict[str, list[int]] = {dam: [] for dam in problem.columns.dams}
    for index, (dam, _) in enumerate(problem.columns.pairs):
        by_dam[dam].append(index)
    for dam, hers in by_dam.items():
        if len(hers) > 1:
            model.row_of_dam[dam] = int(model.lp.numConstraints())
            model.lp.addConstraint(_sum(model, [(index, 1.0) for index in hers]) <= 1)
    for dam in problem.must_breed:
        model.lp.addConstraint(_sum(model, [(index, 1.0) for index in by_dam.get(dam, ())]) >= 1)
    for x, (_, sire) in zip(model.pairs, problem.columns.pairs, strict=True):
        if sire in model.used:
            model.lp.addConstraint(x - model.used[sire] <= 0)


def _ways(
    lp: pulp.LpProblem, number: int, problem: Problem
) -> dict[frozenset[int], pulp.LpVariable]:
    """Return a variable for each way in which the candidates can fill the slots of a route."""
    route = problem.routes[number]
    open_slots = route.made(problem.columns.pairs)
    return {
        way: lp.add_variable(f"w{number}_{place}", lowBound=0)
        for place, way in enumerate(route.gains)
        if way <= open_slots
    }


def _add_routes(model: Model, problem: Problem) -> None:
    place = {pair: index for index, pair in enumerate(problem.columns.pairs)}
    for number, (route, ways) in enumerate(zip(problem.routes, model.ways, strict=True)):
        model.lp.addConstraint(pulp.LpAffineExpression([(w, 1.0) for w in ways.values()]) == 1)
        for at in sorted(frozenset[int]().union(*ways)):
            there = [(place[pair], 1.0) for pair in sorted(route.slots[at]) if pair in place]
            filled = pulp.LpAffineExpression([(w, -1.0) for way, w in ways.items() if at in way])
            model.row_of_slot[number, at] = int(model.lp.numConstraints())
            model.lp.addConstraint(_sum(model, there) + filled == 0)


def _sum(model: Model, terms: Iterable[tuple[int, float]]) -> pulp.LpAffineExpression:
    # Something has to stand in a sum of no pairs.
    pairs = [(model.pairs[index], amount) for index, amount in terms]
    return pulp.LpAffineExpression([(model.nothing, 1.0), *pairs])


def _limit(
    model: Model,
    statement: str,
    left: pulp.LpAffineExpression,
    limit: float,
    omit: Collection[str],
) -> None:
    """Add ``left <= limit`` under its statement's id, unless it is left out."""
    model.limited[statement] = left
    if statement not in omit:
        model.row_of[statement] = int(model.lp.numConstraints())
        model.lp.addConstraint(left <= limit)


def cut_surplus(model: Model, cuts: Iterable[Cut]) -> None:
    """Add lower bounds on the expected surplus of wish terms."""
    model.cuts.extend((model.surplus[cut.number], cut) for cut in cuts)


def cut_log_none(model: Model, cuts: Iterable[Cut]) -> None:
    """Add lower bounds on the log of the chance that a wish gets nothing."""
    model.cuts.extend((model.log_none[cut.number], cut) for cut in cuts)


def cut_bad(model: Model, cuts: Iterable[Cut]) -> None:
    """Add lower bounds on what bad seasons lose, where they count."""
    model.cuts.extend((model.bad[cut.number], cut) for cut in cuts)


def open_only(model: Model, is_open: NDArray[np.bool_]) -> None:
    """Let only these pairs be made from now on; ``is_open`` has the shape (pairs,)."""
    for variable, may in zip(model.pairs, is_open.tolist(), strict=True):
        variable.upBound = 1 if may else 0
    if model.highs:
        model.highs.open_only(is_open)


def count_pairs(model: Model) -> None:
    """Count the pairs that are made, so that their number can be bounded."""
    if model.number is None:
        model.highs = None
        model.number = model.lp.add_variable("number", lowBound=0, upBound=len(model.pairs))
        made = [(index, 1.0) for index in range(len(model.pairs))]
        model.lp.addConstraint(_sum(model, made) - model.number == 0)


def make_between(model: Model, least: int, most: int) -> None:
    """Let so many pairs be made from now on, if they are counted."""
    if model.number is not None:
        model.number.lowBound, model.number.upBound = least, most
        in_highs(model).bound(model.number.index, least, most)


def prefer(model: Model, at_least: float, ranks: Iterable[int]) -> None:
    """Hold the objective at ``at_least`` or more and maximise the pairs' ranks instead."""
    model.highs = None
    model.lp.addConstraint(model.lp.objective >= at_least)
    model.lp.setObjective(pulp.LpAffineExpression(list(zip(model.pairs, ranks, strict=True))))


def minimise(model: Model, statement: str) -> None:
    """Make the left side of a limit the objective: how little of it the season can do with."""
    model.highs = None
    model.lp.setObjective(-1 * model.limited[statement])


def left_side(model: Model, statement: str) -> float:
    """Return the left side of a limit at the plan last found."""
    return float(pulp.value(model.limited[statement]))


def relax(model: Model, seconds: float | None = None) -> Relaxed | None:
    """Solve the model with parts of pairs allowed; ``None``: even so nothing is possible.

    Raises :class:`brumal.planner.solver.runs.OutOfTimeError` where the seconds do not suffice.
    """
    return in_highs(model).relax(seconds)


def run(model: Model, solver: str, gap: float, effort: Effort) -> Run:
    """Solve the model with ``solver`` (one of ``SOLVERS``) to a relative ``gap``."""
    if solver == "cbc":
        return _run_cbc(model, gap, effort.seconds)
    highs = in_highs(model)
    found = highs.run(gap, effort)
    if found.chosen is not None:
        for variable, value in zip(_variables(model), highs.values.tolist(), strict=False):
            variable.varValue = value
    return found


SOLVERS = ("cbc", "highs")


@timed("building")
def in_highs(model: Model) -> Highs:
    """Return the model as HiGHS has it, with all cuts known."""
    if model.highs is None:
        for place, variable in enumerate(_variables(model)):
            variable.index = place
        model.highs = Highs(_arrays(model))
        model.highs.cuts = model.written
    model.highs.take_in([(variable.index, cut) for variable, cut in model.cuts])
    return model.highs


def _variables(model: Model) -> tuple[pulp.LpVariable, ...]:
    ways = (w for ways in model.ways for w in ways.values())
    number = () if model.number is None else (model.number,)
    return (*model.pairs, *model.wishes, *model.used.values(), *ways, model.nothing, *number)


def _arrays(model: Model) -> ModelArrays:
    """Return the model in arrays, to be handed over in one go."""
    variables, rows = _variables(model), model.lp.constraints()
    entries = [(x.index, slope) for row in rows for x, slope in row.items()]
    return ModelArrays(
        pairs=len(model.pairs),
        wishes=tuple(map(len, (model.surplus, model.log_none, model.bad))),
        worth=np.array([model.lp.objective.get(x, 0.0) for x in variables]),
        lower=np.array([-math.inf if x.lowBound is None else x.lowBound for x in variables]),
        upper=np.array([math.inf if x.upBound is None else x.upBound for x in variables]),
        is_whole=np.array([x.cat == pulp.LpInteger for x in variables]),
        least=np.array([-math.inf if row.getLb() is None else row.getLb() for row in rows]),
        most=np.array([math.inf if row.getUb() is None else row.getUb() for row in rows]),
        starts=np.cumsum([0, *map(len, rows)], dtype=np.int32),
        places=np.array([place for place, _ in entries], dtype=np.int32),
        slopes=np.array([slope for _, slope in entries], dtype=np.float64),
    )


def _write(model: Model, variable: pulp.LpVariable, cut: Cut) -> None:
    terms = [(model.pairs[index], -slope) for index, slope in sorted(cut.coefficients.items())]
    row = pulp.LpAffineExpression([(variable, 1.0), *terms])
    model.lp.addConstraint(row >= cut.constant)


def _run_cbc(model: Model, gap: float, seconds: float | None) -> Run:
    for variable, cut in model.cuts[model.written :]:
        _write(model, variable, cut)
    model.written = len(model.cuts)
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
