"""Why a season is impossible: the smallest set of the keeper's statements that clash."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from brumal.planner import model as models
from brumal.planner.answers import Outcome
from brumal.planner.chances import log_none
from brumal.planner.clock import Clock
from brumal.planner.problem import Problem
from brumal.planner.search import SLACK, Search
from brumal.planner.solve import SolveOptions, Verdict, solve
from brumal.planner.statements import (
    BOXES,
    KIN,
    RESTING,
    SPEND,
    TUBS,
    chance_statement,
    male_statement,
    must_statement,
    share_statement,
)

_SECONDS_A_QUESTION = 20.0
_ANY_GAP = 1e12
_SLACK = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One thing the keeper said; ``loosen`` is the least change of it that would be enough."""

    id: str
    words: str
    loosen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Statements that cannot all hold: take any one away and the others can.

    A clash of a *lock* is the lock first, then everything that forbids it: the lock cannot stand
    while any one of the others does. ``exact`` is false when a solver ran out of time on the way,
    so that the set may hold a statement more than it must.
    """

    statements: tuple[Statement, ...]
    exact: bool = True
    of_lock: bool = False


def find_clash(problem: Problem, solver: str, label: Callable[[str], str] = str) -> Clash:
    """Return a smallest clashing set of an impossible season, by deletion.

    ``label`` turns an id into the name that people read. Each statement is left out in turn; where
    the rest is still impossible it goes for good (Chinneck & Dravnieks 1991, ORSA J Comput
    3:157-168, from memory). A question the solver does not settle in time keeps its statement and
    clears ``exact``.
    """
    kept = [statement.id for statement in statements(problem, label)]
    gone: set[str] = set()
    exact = True
    for statement in list(kept):
        outcome = _outcome(problem, solver, gone | {statement})
        if outcome is Verdict.IMPOSSIBLE:
            gone.add(statement)
            kept.remove(statement)
        elif outcome is Verdict.STOPPED:
            exact = False
    words = {statement.id: statement.words for statement in statements(problem, label)}
    return Clash(
        statements=tuple(
            Statement(id=i, words=words[i], loosen=_loosen(problem, solver, i, gone)) for i in kept
        ),
        exact=exact,
    )


def _outcome(problem: Problem, solver: str, omit: set[str]) -> Verdict:
    """Say whether any plan is possible without some statements; any plan settles it."""
    options = SolveOptions(solver=solver, gap=_ANY_GAP, time_limit=_SECONDS_A_QUESTION)
    return solve(problem, options, omit=omit).verdict


def statements(problem: Problem, label: Callable[[str], str] = str) -> tuple[Statement, ...]:
    """List what the keeper said, the easiest to give up first: deletion keeps the later ones."""
    found = [
        Statement(id=male_statement(sire), words=f"{label(sire)} serves at most {limit}")
        for sire, limit in sorted(problem.male_limits.items())
    ]
    if problem.tubs is not None:
        found.append(
            Statement(
                id=TUBS,
                words=f"the season has {counted(problem.tubs, 'hatchling tub', 'hatchling tubs')}",
            )
        )
    if problem.boxes is not None:
        words = f"the season has {counted(problem.boxes, 'incubator box', 'incubator boxes')}"
        found.append(Statement(id=BOXES, words=words))
    if problem.spend is not None:
        words = f"at most {problem.spend:,.2f} may be spent before sales"
        found.append(Statement(id=SPEND, words=words))
    if problem.most_pairs is not None:
        words = f"at most {problem.most_pairs} females are paired, so that enough rest"
        found.append(Statement(id=RESTING, words=words))
    if problem.max_kin is not None:
        words = f"young held back have a mean kinship of at most {problem.max_kin:.4f}"
        found.append(Statement(id=KIN, words=words))
    if problem.sire_share is not None:
        found += [
            Statement(
                id=share_statement(sire),
                words=f"{label(sire)} sires at most {problem.sire_share:.0%} of young held back",
            )
            for sire in sorted({c.sire for c in problem.candidates if c.kept})
        ]
    found += [
        Statement(id=chance_statement(chance.id), words=chance.words) for chance in problem.chances
    ]
    found += [
        Statement(
            id=must_statement(*pair),
            words=f"{label(pair[0])} x {label(pair[1])} "
            + ("have been paired" if pair in problem.made else "must be paired"),
        )
        for pair in problem.must
    ]
    return tuple(found)


def _loosen(problem: Problem, solver: str, statement: str, gone: set[str]) -> str:
    """Say the least change of one statement that makes a plan possible.

    Where no change of it alone is enough, because other statements clash as well, the least that
    settles this clash is told, as that.
    """
    if statement in {must_statement(*pair) for pair in problem.made}:
        return ""
    least = _least_breach(problem, solver, statement, (), _SECONDS_A_QUESTION)
    enough = "would be enough"
    if least is None:
        least = _least_breach(problem, solver, statement, gone, _SECONDS_A_QUESTION)
        enough = "would settle this clash, but another remains"
    if least is None:
        return "leave it out"
    if statement == KIN or statement.startswith("sire_share"):
        return "raise the limit"
    if statement.startswith("chance"):
        best = -math.expm1(least)
        if best < _SLACK:
            return "no pair that may meet can bring one: leave it out"
        return f"the best chance that can be had is {best:.1%}"
    if statement == SPEND:
        return f"{least:,.2f} {enough}"
    if statement == BOXES:
        least = _boxes_for(problem, least)
    whole = math.ceil(least - _SLACK)
    names = {BOXES: ("box", "boxes"), TUBS: ("tub", "tubs")}
    name = names.get(statement, ("", ""))[whole != 1]
    return " ".join(filter(None, (str(whole), name, enough)))


def _least_breach(
    problem: Problem, solver: str, statement: str, omit: Collection[str], seconds: float
) -> float | None:
    """Return the least that the left side of a limit can be, every other statement kept.

    ``None`` for a statement that is no upper limit, or where the solver did not settle it in time.
    """
    search = Search.of(problem, {*omit, statement})
    if statement not in search.model.limited:
        return None
    models.minimise(search.model, statement)
    clock = Clock(seconds)
    while not clock.is_over():
        run = models.run(search.model, solver, 0.0, clock.left())
        if run.outcome is not Outcome.OPTIMAL or run.chosen is None:
            return None
        true = _left_side(search, statement, run.chosen)
        if search.keeps_chances(run.chosen) and true + run.bound <= SLACK:
            return true
        search.refine(run.chosen)
    return None


def _left_side(search: Search, statement: str, chosen: Sequence[int]) -> float:
    for number, wish in enumerate(search.problem.chances):
        if statement == chance_statement(wish.id):
            return log_none(search.chances[number], chosen)
    return models.left_side(search.model, statement)


def _boxes_for(problem: Problem, places: float) -> float:
    """Return the least number of boxes with so many places."""
    return next(
        boxes
        for boxes in itertools.count(problem.boxes or 0)
        if (replace(problem, boxes=boxes).box_places or 0) >= places - _SLACK
    )


def counted(number: int, one: str, many: str) -> str:
    """Write a number with the thing it counts."""
    return f"{number} {one if number == 1 else many}"
