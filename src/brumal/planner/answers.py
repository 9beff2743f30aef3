"""What a solver run came to, in records that know no solver."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from brumal.planner.pairing import Array


@dataclass(frozen=True, eq=False)
class Relaxed:
    """The model with parts of pairs allowed.

    ``bound`` is above the objective of every plan, and ``bound - without[i]`` above that of every
    plan that makes pair ``i`` (shape (pairs,), none below zero). ``amounts``, shape (pairs,), is
    how much of each pair is made, ``surplus`` and ``log_none`` what wishes come to, ``bad`` what
    bad seasons lose (empty: they do not count). ``prices``,
    shape (rows,), is what one more of the right side of each row adds to the bound.
    """

    bound: float
    without: Array
    amounts: Array
    surplus: Array
    log_none: Array
    bad: Array
    prices: Array


class Outcome(StrEnum):
    """What a solver run came to; a run that stopped early may still have found a plan."""

    OPTIMAL = "optimal"
    STOPPED = "stopped"
    INFEASIBLE = "infeasible"


@dataclass(frozen=True)
class Run:
    """One solver run: ``chosen`` are candidate indices (``None``: no plan found).

    ``bound`` is the solver's own proven upper bound on the model's objective; ``message`` its own
    word for how it ended.
    """

    outcome: Outcome
    chosen: tuple[int, ...] | None
    bound: float
    message: str
