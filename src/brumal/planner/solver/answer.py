"""What is asked of a solve and what it answers."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from brumal.planner.pairs.candidate import Pair
from brumal.planner.solver.runs import Plan
from brumal.planner.wishes.surplus import Cut

DEFAULT_GAP = 1e-3
EXACT_GAP = 1e-6
"""No proof is closer than this: solvers' tolerances hide what is left."""
EXACT_WORK = 1000
"""Work worth spending on an exact plan where a gap is reached already."""
LOOSE = ((3000, 5e-3), (6000, 1e-2), (12_000, 2e-2))
"""Where the default gap takes more work, a season is hard: from so much on this gap will do."""


class Verdict(StrEnum):
    """What is known of the plan: three different things, kept apart."""

    PROVEN = "proven"
    STOPPED = "stopped"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True, kw_only=True)
class SolveOptions:
    """How exact a plan has to be, and what it may take.

    ``gap`` is relative: within it a plan is proven. ``work`` is what may be spent on an exact plan
    beyond that: simplex iterations, and pairs that join the master problem. ``loose``
    are steps (iterations, gap): from so many on that gap takes the place of ``gap``, where it is
    larger. ``time_limit`` is seconds
    for everything together (``None``: none). ``start`` are the pairs of a plan to start from. Of
    exact plans worth the same one is settled on by name, unless it is the ``value_only`` that is
    asked for.
    """

    solver: str = "highs"
    gap: float = DEFAULT_GAP
    work: int = EXACT_WORK
    loose: tuple[tuple[int, float], ...] = ()
    time_limit: float | None = None
    start: tuple[Pair, ...] = ()
    value_only: bool = False


USUAL = SolveOptions(loose=LOOSE)
EXACT = SolveOptions(gap=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """The best plan found: indices of chosen candidates, sorted (``None``: no plan).

    ``objective`` is the true expectation, ``bound`` a proven upper bound on any plan's, ``gap``
    their difference relative to the objective, ``rounds`` the solver runs it took. ``learnt`` are
    cuts on surplus that another solve of much the same season may start from.
    """

    verdict: Verdict
    chosen: Plan | None
    objective: float
    bound: float
    rounds: int
    message: str
    learnt: tuple[Cut, ...] = field(default=(), repr=False, compare=False)

    @property
    def gap(self) -> float:
        """Return (bound - objective) / max(1, |objective|), never below zero."""
        if self.chosen is None:
            return math.inf
        return max(0.0, self.bound - self.objective) / max(1.0, abs(self.objective))


Progress = Callable[[int, float, float], None]
"""Called after each round with (round, best true value so far, bound)."""


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
