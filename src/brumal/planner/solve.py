"""Solve a season to proof: model, cuts until its value is the true value, a settled tie."""

from __future__ import annotations

import hashlib
import math
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from brumal.planner import model as models
from brumal.planner.chances import ChanceLaws, all_chances, log_none, tangent
from brumal.planner.model import Model, Outcome, chance_statement
from brumal.planner.problem import Problem
from brumal.planner.surplus import Cut, TermLaws, all_terms, cuts_at, first_cuts, true_value

DEFAULT_GAP = 1e-6
_SLACK = 1e-7
_TOLERANCE = 1e-5
_TIE_ROUNDS = 20


class Verdict(StrEnum):
    """What is known of the plan: three different things, kept apart."""

    PROVEN = "proven"
    STOPPED = "stopped"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True, kw_only=True)
class SolveOptions:
    """``gap`` is relative; ``time_limit`` is seconds for all rounds together (``None``: none)."""

    solver: str = "highs"
    gap: float = DEFAULT_GAP
    time_limit: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """Bounds on what wishes come to, valid for every plan and exact at ``plan`` (indices)."""

    plan: tuple[int, ...]
    surplus: tuple[Cut, ...]
    log_none: tuple[Cut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """The best plan found: indices of chosen candidates, sorted (``None``: no plan).

    ``objective`` is the true expectation, ``bound`` a proven upper bound on any plan's, ``gap``
    their difference relative to the objective, ``rounds`` the solver runs it took. ``learnt`` is
    what another solve of much the same season may start from.
    """

    verdict: Verdict
    chosen: tuple[int, ...] | None
    objective: float
    bound: float
    rounds: int
    message: str
    learnt: tuple[Learnt, ...] = field(default=(), repr=False, compare=False)

    @property
    def gap(self) -> float:
        """Return (bound - objective) / max(1, |objective|), never below zero."""
        if self.chosen is None:
            return math.inf
        return max(0.0, self.bound - self.objective) / max(1.0, abs(self.objective))


Progress = Callable[[int, float, float], None]
"""Called after each round with (round, best true value so far, bound)."""


def solve(
    problem: Problem,
    options: SolveOptions | None = None,
    progress: Progress | None = None,
    omit: Collection[str] = (),
    known: Sequence[Learnt] = (),
) -> Solution:
    """Return the plan of greatest true expected value, with its proof.

    Each round solves the model, evaluates the plan exactly and, where a wish term's surplus was
    taken too low, adds bounds that are exact there. It ends when the bound and the best true value
    agree within the gap, or time is up. ``omit`` names statements left out (see
    :mod:`brumal.planner.model`); ``known`` are bounds to start from, by the candidates' indices.
    """
    options = options or SolveOptions()
    clock = _Clock(options.time_limit)
    search = _Search.of(problem, omit)
    for bounds in known:
        search.add(bounds)
    best: tuple[int, ...] | None = None
    value, bound, rounds, met = -math.inf, math.inf, 0, False
    met_plans: set[tuple[int, ...] | None] = set()
    while True:
        run = models.run(search.model, options.solver, options.gap / 2, clock.left())
        rounds += 1
        if run.outcome is Outcome.INFEASIBLE:
            return impossible(rounds, run.message)
        bound = min(bound, run.bound + problem.income)
        if run.chosen is not None and search.keeps_chances(run.chosen):
            found = true_value(problem, search.terms, run.chosen)
            if found > value:
                best, value = run.chosen, found
        if progress:
            progress(rounds, value, bound)
        # A plan met twice has its exact bounds already: what is left is the solver's tolerance.
        again = run.chosen in met_plans
        slack = _TOLERANCE if again else _SLACK
        met = best is not None and bound - value <= max(options.gap, slack) * max(1.0, abs(value))
        stopped = run.outcome is Outcome.STOPPED or clock.is_over()
        if met or again or stopped or run.chosen is None:
            break
        met_plans.add(run.chosen)
        search.refine(run.chosen)
    if met and best is not None and options.gap <= DEFAULT_GAP:
        best = _settle_tie(search, options, best, value, clock)
        value = true_value(problem, search.terms, best)
    return Solution(
        verdict=Verdict.PROVEN if met else Verdict.STOPPED,
        chosen=None if best is None else tuple(sorted(best)),
        objective=value,
        bound=max(bound, value),
        rounds=rounds,
        message=run.message,
        learnt=tuple(search.learnt),
    )


def least_breach(
    problem: Problem, solver: str, statement: str, omit: Collection[str], seconds: float
) -> float | None:
    """Return the least that the left side of a limit can be, every other statement kept.

    ``None`` for a statement that is no upper limit, or where the solver did not settle it in time.
    """
    search = _Search.of(problem, {*omit, statement})
    if statement not in search.model.limited:
        return None
    models.minimise(search.model, statement)
    clock = _Clock(seconds)
    while not clock.is_over():
        run = models.run(search.model, solver, 0.0, clock.left())
        if run.outcome is not Outcome.OPTIMAL or run.chosen is None:
            return None
        true = _left_side(search, statement, run.chosen)
        if search.keeps_chances(run.chosen) and true + run.bound <= _SLACK:
            return true
        search.refine(run.chosen)
    return None


def _left_side(search: _Search, statement: str, chosen: Sequence[int]) -> float:
    for number, wish in enumerate(search.problem.chances):
        if statement == chance_statement(wish.id):
            return log_none(search.chances[number], chosen)
    return models.left_side(search.model, statement)


def impossible(rounds: int = 0, message: str = "") -> Solution:
    """Return the answer for a season that no plan satisfies."""
    return Solution(
        verdict=Verdict.IMPOSSIBLE,
        chosen=None,
        objective=-math.inf,
        bound=-math.inf,
        rounds=rounds,
        message=message,
    )


@dataclass(frozen=True, slots=True)
class _Search:
    """A model under refinement with the exact laws of its wishes."""

    problem: Problem
    model: Model
    terms: tuple[TermLaws, ...]
    chances: tuple[ChanceLaws, ...]
    asked: tuple[int, ...]
    learnt: list[Learnt] = field(default_factory=list)

    @staticmethod
    def of(problem: Problem, omit: Collection[str]) -> _Search:
        terms, chances = all_terms(problem), all_chances(problem)
        asked = [n for n, w in enumerate(problem.chances) if chance_statement(w.id) not in omit]
        search = _Search(problem, models.build(problem, omit), terms, chances, tuple(asked))
        for number, laws in enumerate(terms):
            models.bound_surplus(search.model, first_cuts(laws, number))
        models.bound_log_none(
            search.model, [tangent(laws, n, ()) for n, laws in enumerate(chances)]
        )
        return search

    def keeps_chances(self, chosen: Sequence[int]) -> bool:
        return all(
            log_none(self.chances[number], chosen)
            <= self.problem.chances[number].log_limit + _SLACK
            for number in self.asked
        )

    def refine(self, chosen: Sequence[int]) -> None:
        """Add the bounds that are exact at this plan."""
        cuts = [cut for n, laws in enumerate(self.terms) for cut in cuts_at(laws, n, chosen)]
        tangents = [tangent(laws, number, chosen) for number, laws in enumerate(self.chances)]
        self.add(Learnt(plan=tuple(chosen), surplus=tuple(cuts), log_none=tuple(tangents)))

    def add(self, bounds: Learnt) -> None:
        """Add bounds that hold for every plan."""
        models.bound_surplus(self.model, bounds.surplus)
        models.bound_log_none(self.model, bounds.log_none)
        self.learnt.append(bounds)


def _settle_tie(
    search: _Search, options: SolveOptions, best: tuple[int, ...], value: float, clock: _Clock
) -> tuple[int, ...]:
    """Among plans as good as the best, take the one of highest rank, the same on every machine.

    A pair's rank is drawn from its names alone, so neither the order of rows nor the solver's path
    matters. With a loose gap there is no tie to settle: any plan within it may be returned.
    """
    slack = _SLACK * max(1.0, abs(value))
    models.prefer(search.model, value - search.problem.income - slack, _ranks(search.problem))
    for _ in range(_TIE_ROUNDS):
        run = models.run(search.model, options.solver, 0.0, clock.left())
        if run.outcome is not Outcome.OPTIMAL or run.chosen is None:
            break
        worth = true_value(search.problem, search.terms, run.chosen)
        if worth >= value - 2 * slack and search.keeps_chances(run.chosen):
            return run.chosen
        search.refine(run.chosen)
    return best


def _ranks(problem: Problem) -> tuple[int, ...]:
    """Return a whole number below a million for each pair, from a hash of its names."""
    names = ("\n".join(candidate.pair) for candidate in problem.candidates)
    return tuple(
        int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") % 1_000_000
        for name in names
    )


class _Clock:
    def __init__(self, seconds: float | None) -> None:
        self._end = None if seconds is None else time.monotonic() + seconds

    def left(self) -> float | None:
        return None if self._end is None else max(0.01, self._end - time.monotonic())

    def is_over(self) -> bool:
        return self._end is not None and time.monotonic() >= self._end
