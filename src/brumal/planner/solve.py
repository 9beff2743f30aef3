"""Solve a season to proof: model, cuts until its value is the true value, a settled tie."""

from __future__ import annotations

import hashlib
import math
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum

from brumal.planner import model as models
from brumal.planner.model import Model, Outcome
from brumal.planner.problem import Problem
from brumal.planner.surplus import Cut, cuts_at, true_value

DEFAULT_GAP = 1e-6
_SLACK = 1e-7
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
class Solution:
    """The best plan found: indices of chosen candidates, sorted (``None``: no plan).

    ``objective`` is the true expectation, ``bound`` a proven upper bound on any plan's, ``gap``
    their difference relative to the objective, ``rounds`` the solver runs it took.
    """

    verdict: Verdict
    chosen: tuple[int, ...] | None
    objective: float
    bound: float
    rounds: int
    message: str

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
) -> Solution:
    """Return the plan of greatest true expected value, with its proof.

    Each round solves the model, evaluates the plan exactly and, where a wish term's surplus was
    taken too low, adds bounds that are exact there. It ends when the bound and the best true value
    agree within the gap, or time is up. ``omit`` names statements left out (see
    :mod:`brumal.planner.model`).
    """
    options = options or SolveOptions()
    clock = _Clock(options.time_limit)
    model = models.build(problem, omit)
    best: tuple[int, ...] | None = None
    value, bound, rounds = -math.inf, math.inf, 0
    while True:
        run = models.run(model, options.solver, options.gap / 2, clock.left())
        rounds += 1
        if run.outcome is Outcome.INFEASIBLE:
            return Solution(
                verdict=Verdict.IMPOSSIBLE,
                chosen=None,
                objective=-math.inf,
                bound=-math.inf,
                rounds=rounds,
                message=run.message,
            )
        bound = min(bound, run.bound)
        if run.chosen is not None:
            found = true_value(problem, run.chosen)
            if found > value:
                best, value = run.chosen, found
        if progress:
            progress(rounds, value, bound)
        met = bound - value <= options.gap * max(1.0, abs(value)) + _SLACK
        if met or run.chosen is None or run.outcome is Outcome.STOPPED or clock.is_over():
            break
        models.add_cuts(model, _cuts(problem, run.chosen))
    verdict = Verdict.PROVEN if met else Verdict.STOPPED
    if verdict is Verdict.PROVEN and best is not None:
        best = _settle_tie(problem, model, options, best, value, clock)
        value = true_value(problem, best)
    return Solution(
        verdict=verdict,
        chosen=None if best is None else tuple(sorted(best)),
        objective=value,
        bound=max(bound, value),
        rounds=rounds,
        message=run.message,
    )


def _cuts(problem: Problem, chosen: Sequence[int]) -> list[Cut]:
    """Return bounds on the surplus of every wish term, exact at this plan."""
    return [
        cut for term in range(len(problem.wish_terms)) for cut in cuts_at(problem, term, chosen)
    ]


def _settle_tie(
    problem: Problem,
    model: Model,
    options: SolveOptions,
    best: Sequence[int],
    value: float,
    clock: _Clock,
) -> tuple[int, ...]:
    """Among plans as good as the best, take the one of highest rank, the same on every machine.

    A pair's rank is drawn from its names alone, so neither the order of rows nor the solver's path
    matters. With a loose gap there is no tie to settle: any plan within it may be returned.
    """
    if options.gap > DEFAULT_GAP:
        return tuple(best)
    models.prefer(model, value - _SLACK * max(1.0, abs(value)), _ranks(problem))
    for _ in range(_TIE_ROUNDS):
        run = models.run(model, options.solver, 0.0, clock.left())
        if run.outcome is not Outcome.OPTIMAL or run.chosen is None:
            break
        if true_value(problem, run.chosen) >= value - 2 * _SLACK * max(1.0, abs(value)):
            return run.chosen
        models.add_cuts(model, _cuts(problem, run.chosen))
    return tuple(best)


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
