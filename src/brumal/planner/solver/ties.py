"""Ties: of plans worth the same the one of highest rank, drawn from the names of its pairs alone.

So neither the order of rows nor the path of a solver matters.
"""

from __future__ import annotations

import hashlib

from brumal.planner.problem import Problem
from brumal.planner.solver import model as models
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.master import Master
from brumal.planner.solver.runs import Effort, Outcome, Plan
from brumal.planner.solver.worth import SLACK

_ROUNDS = 20


def highest_ranked(master: Master, worth: float, solver: str, clock: Clock) -> Plan | None:
    """Return the plan of highest rank among those worth so much; ``None``: not settled.

    ``worth`` is the model's objective, income left out. From then on the master maximises ranks.
    """
    slack = SLACK * max(1.0, abs(worth))
    income = master.problem.fixed
    models.prefer(master.model, worth - slack, _ranks(master.problem))
    for _ in range(_ROUNDS):
        run = models.run(master.model, solver, 0.0, Effort(seconds=clock.left()))
        if run.outcome is not Outcome.OPTIMAL or run.chosen is None:
            return None
        true = master.value(run.chosen) - income
        if true >= worth - 2 * slack and master.keeps_chances(run.chosen):
            return run.chosen
        master.learn(run.chosen)
    return None


def _ranks(problem: Problem) -> tuple[int, ...]:
    """Return a whole number below zero for each pair, from a hash of its names.

    Each pair takes off between one and two millions, so that few pairs mostly go before many.
    """
    names = map("\n".join, problem.columns.pairs)
    return tuple(
        int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") % 1_000_000 - 2_000_000
        for name in names
    )
