"""What a solve knows so far, and how far below a bound it has to look for better plans."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from brumal.planner.pairs.candidate import Array
from brumal.planner.problem import Problem
from brumal.planner.solver.answer import EXACT_GAP, Progress, SolveOptions
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.greedy import first_plans
from brumal.planner.solver.runs import Plan, Relaxed
from brumal.planner.solver.worth import SLACK, is_allowed, value_of
from brumal.planner.wishes.surplus import Cut

MARGIN = 1e-6
"""Relative to the bound: what solvers' tolerances may hide, and ties to be settled."""
GROWS = 3
"""A search from an earlier plan is among no more than so many pairs for each in the relaxation."""
_MORE_ROOM = 4.0


@dataclass(slots=True, eq=False)
class Proof:
    """What is known so far: the best plan with its true value, and a bound on every plan."""

    options: SolveOptions
    clock: Clock
    problem: Problem
    progress: Progress | None
    plan: Plan | None = None
    value: float = -math.inf
    bound: float = math.inf
    rounds: int = 0
    work: int = 0
    iterations: int = 0
    last: int = 0
    message: str = ""
    learnt: tuple[Cut, ...] = ()

    @property
    def asked(self) -> float:
        """Return the gap that is asked for, which is wider where a season turns out hard."""
        eased = [gap for work, gap in self.options.loose if self.iterations >= work]
        return max(self.options.gap, EXACT_GAP, *eased)

    @property
    def gap(self) -> float:
        """Return the gap to reach now: first the one asked for, then an exact one."""
        is_next = self.agrees(self.bound) and self.work + self.last < self.options.work
        is_next &= not any(self.iterations >= work for work, _ in self.options.loose)
        return EXACT_GAP if is_next else self.asked

    def lower(self, bound: float) -> None:
        """Take in a bound on every plan."""
        self.bound = min(self.bound, bound)

    def offer(self, plan: Plan, value: float) -> None:
        """Take in a plan with its true value."""
        if value > self.value:
            self.plan, self.value = plan, value

    def offer_first(self, amounts: Array, omit: Collection[str]) -> None:
        """Offer plans that need no solver, so that a solve never ends with less."""
        for plan in first_plans(self.problem, self.options.start, amounts, omit):
            if is_allowed(self.problem, plan, omit):
                self.offer(plan, value_of(self.problem, plan))

    def agrees(self, bound: float, gap: float | None = None, slack: float = SLACK) -> bool:
        """Say whether a bound on plans leaves nothing better than the best plan, but for a gap."""
        if self.plan is None:
            return False
        asked = self.asked if gap is None else gap
        scale = max(1.0, abs(self.value))
        return bound <= self.value + max(asked, slack) * scale

    @property
    def exact(self) -> float:
        """Return the bound at which the best plan is an exact one."""
        return self.value + EXACT_GAP * max(1.0, abs(self.value))

    def enough(self) -> float:
        """Return the objective of the model at which a bound is as low as is of use."""
        if self.plan is None:
            return -math.inf
        scale = max(1.0, abs(self.value))
        return self.value + (self.gap - EXACT_GAP) * scale - self.problem.fixed

    def report(self) -> None:
        """Tell whoever asked how far the solve is."""
        if self.progress:
            self.progress(self.rounds, self.value, self.bound)


def margin(value: float) -> float:
    """Return how little below the best value a plan may be a tie."""
    return MARGIN * max(1.0, abs(value))


def first_room(proof: Proof, relaxed: Relaxed, share: float, most: float) -> float:
    """Return how far below a bound plans are looked for at first: a share of the bound.

    A plan to start from says how far they matter, unless that is among more than ``most`` pairs.
    """
    room = share * max(1.0, abs(relaxed.bound))
    if proof.options.start and proof.plan is not None:
        needed = room_needed(proof, relaxed, room)
        if np.count_nonzero(relaxed.reduced <= needed) <= most:
            return needed
    return room


def room_needed(proof: Proof, relaxed: Relaxed, room: float) -> float:
    """Return how far below a bound on plans one can lie that is still of interest."""
    if proof.plan is None:
        return _MORE_ROOM * room
    needed = relaxed.bound + proof.problem.fixed - proof.value + margin(proof.value)
    if proof.gap > EXACT_GAP:
        needed -= proof.gap * max(1.0, abs(proof.value))
    # Never less than before, or a search would go round in a circle.
    return max(needed, room * (1 + MARGIN), margin(proof.value))
