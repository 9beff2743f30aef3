"""What a solver run may take and what it comes to, in records that know no solver."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from brumal.planner.pairs.candidate import Array

Plan = tuple[int, ...]
"""A plan: indices of the candidates that are made, in order."""


class OutOfTimeError(Exception):
    """The seconds of a solve were up before its first bound was known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Eased:
    """A run will do short of its proof after so many nodes with this gap or less of its own.

    The gap is that between its best plan and its bound, relative to the plan.
    """

    after: int
    gap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """When a run may stop early: after so many seconds or nodes of its search, or at a bound.

    ``enough`` is the objective below which no better plan matters: a run whose bound has come down
    to it is done, and so is one for which one of ``eased`` holds.
    """

    seconds: float | None = None
    nodes: int | None = None
    enough: float = -math.inf
    eased: tuple[Eased, ...] = ()


@dataclass(frozen=True, eq=False)
class Relaxed:
    """The model with parts of pairs allowed: its linear relaxation.

    ``bound`` is above the objective of every plan, and ``bound - reduced[i]`` above that of every
    plan that makes pair ``i`` (``reduced`` are reduced costs, shape (pairs,), none below zero).
    ``amounts``, shape (pairs,), is how much of each pair is made, ``surplus`` and ``log_none`` what
    wishes come to, ``bad`` what bad seasons lose (empty: they do not count). ``duals``, shape
    (rows,), is what one more of the right side of each row adds to the bound.
    """

    bound: float
    reduced: Array
    amounts: Array
    surplus: Array
    log_none: Array
    bad: Array
    duals: Array


class Outcome(StrEnum):
    """What a solver run came to; a run that stopped early may still have found a plan."""

    OPTIMAL = "optimal"
    STOPPED = "stopped"
    INFEASIBLE = "infeasible"


@dataclass(frozen=True, kw_only=False)
class Run:
    """One solver run: ``chosen`` is its plan (``None``: none found).

    ``bound`` is the solver's own proven upper bound on the model's objective; ``message`` its own
    word for how it ended. ``others`` are plans met on the way, the last first; ``iterations``
    counts the simplex iterations that it took, a measure of effort that is the same on every
    machine.
    """

    outcome: Outcome
    chosen: Plan | None
    bound: float
    message: str
    others: tuple[Plan, ...] = ()
    iterations: int = 0
