"""Why a season is impossible: an irreducible infeasible set of the keeper's statements."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from brumal.planner.limits.every import limits_of, must_id
from brumal.planner.limits.limit import Limit
from brumal.planner.problem import Problem
from brumal.planner.solver import model as models
from brumal.planner.solver.answer import SolveOptions, Verdict
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.master import Master
from brumal.planner.solver.runs import Effort, Outcome
from brumal.planner.solver.solve import solve
from brumal.planner.solver.worth import SLACK
from brumal.planner.wishes.chances import chance_id, log_none

_SECONDS_A_QUESTION = 20.0
_ANY_GAP = 1e12
_NO_CHANCE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One thing the keeper said; ``loosen`` is the least change of it that would be enough."""

    id: str
    words: str
    loosen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class InfeasibleSet:
    """Statements that cannot all hold: take any one away and the others can.

    For a pair that has to stand (``of_pair``) its statement comes first, then everything that
    forbids it: the pair cannot stand while any one of the others does. ``exact`` is false when a
    solver ran out of time on the way, so that the set may hold a statement more than it must.
    """

    statements: tuple[Statement, ...]
    exact: bool = True
    of_pair: bool = False


def infeasible_set(
    problem: Problem, solver: str, label: Callable[[str], str] = str
) -> InfeasibleSet:
    """Return an irreducible infeasible set of an impossible season, by the deletion filter.

    ``label`` turns an id into the name that people read. Each statement is left out in turn; where
    the rest is still impossible it goes for good (Chinneck & Dravnieks 1991, ORSA J Comput
    3:157-168, from memory). A question the solver does not settle in time keeps its statement and
    clears ``exact``.
    """
    said = _statements(problem, label)
    kept = dict(said)
    gone: set[str] = set()
    exact = True
    for name, statement in said.items():
        outcome = _outcome(problem, solver, gone | statement.ids)
        if outcome is Verdict.IMPOSSIBLE:
            gone |= statement.ids
            del kept[name]
        elif outcome is Verdict.STOPPED:
            exact = False
    return InfeasibleSet(
        statements=tuple(
            Statement(id=name, words=each.words, loosen=_loosen(problem, solver, each.ids, gone))
            for name, each in kept.items()
        ),
        exact=exact,
    )


@dataclass(frozen=True, slots=True)
class _Said:
    """One setting of the keeper's: its words, and the ids of the rows that it puts on a plan."""

    words: str
    ids: frozenset[str]


def _statements(problem: Problem, label: Callable[[str], str]) -> dict[str, _Said]:
    """Return what the keeper said by name, the easiest to give up first: the filter keeps the last.

    These are the limits, then chance wishes, then pairs that have to stand.
    """
    rows: dict[str, list[Limit]] = {}
    for limit in limits_of(problem):
        rows.setdefault(limit.setting, []).append(limit)
    found = {
        name: _Said(_words(limits, label), frozenset(limit.id for limit in limits))
        for name, limits in rows.items()
    }
    for wish in problem.chances:
        found[chance_id(wish)] = _Said(wish.words, frozenset([chance_id(wish)]))
    for pair in problem.must:
        said = "have been paired" if pair in problem.made else "must be paired"
        words = f"{label(pair[0])} x {label(pair[1])} {said}"
        found[must_id(pair)] = _Said(words, frozenset([must_id(pair)]))
    return found


def _words(limits: Sequence[Limit], label: Callable[[str], str]) -> str:
    first = limits[0]
    return first.tell(first.said if len(limits) == 1 else first.named, label)


def _outcome(problem: Problem, solver: str, omit: set[str]) -> Verdict:
    """Say whether any plan is possible without some statements; any plan settles it."""
    options = SolveOptions(solver=solver, gap=_ANY_GAP, work=0, time_limit=_SECONDS_A_QUESTION)
    return solve(problem, options, omit=omit).verdict


def _loosen(problem: Problem, solver: str, ids: frozenset[str], gone: set[str]) -> str:
    """Say the least change of one statement that makes a plan possible.

    Where no change of it alone is enough, because other statements clash as well, the least that
    settles this set is told, as that.
    """
    if ids <= {must_id(pair) for pair in problem.made}:
        return ""
    if len(ids) > 1:
        return "raise the limit"
    statement = min(ids)
    least = _least_breach(problem, solver, statement, ())
    enough = "would be enough"
    if least is None:
        least = _least_breach(problem, solver, statement, gone)
        enough = "would settle this clash, but another remains"
    if least is None:
        return "leave it out"
    if statement in map(chance_id, problem.chances):
        best = -math.expm1(least)
        if best < _NO_CHANCE:
            return (
                "no pair that may meet can bring one: leave it out, or write by (a later year) in "
                "place of chance"
            )
        return f"the best chance that can be had is {best:.1%}"
    figure = _limit_of(problem, statement).enough(least)
    return f"{figure} {enough}" if figure else "raise the limit"


def _limit_of(problem: Problem, statement: str) -> Limit:
    return next(limit for limit in limits_of(problem) if limit.id == statement)


def _least_breach(
    problem: Problem, solver: str, statement: str, omit: Collection[str]
) -> float | None:
    """Return the least that the left side of a limit can be, every other statement kept.

    ``None`` for a statement that is no upper limit, or where the solver did not settle it in time.
    """
    master = Master.of(problem, {*omit, statement})
    if statement not in master.model.limited:
        return None
    models.minimise(master.model, statement)
    clock = Clock(_SECONDS_A_QUESTION)
    while not clock.is_over():
        run = models.run(master.model, solver, 0.0, Effort(seconds=clock.left()))
        if run.outcome is not Outcome.OPTIMAL or run.chosen is None:
            return None
        true = _left_side(master, statement, run.chosen)
        if master.keeps_chances(run.chosen) and true + run.bound <= SLACK:
            return true
        master.learn(run.chosen)
    return None


def _left_side(master: Master, statement: str, plan: Sequence[int]) -> float:
    for number, wish in enumerate(master.problem.chances):
        if statement == chance_id(wish):
            return log_none(master.chances[number], plan)
    return models.left_side(master.model, statement)
