"""Money that goes out before any young is sold: pairings, eggs, raising, animals taken in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from brumal.planner.limits.limit import Limit, More, or_facts
from brumal.planner.problem import Problem

STEP = 100.0


def limits(problem: Problem) -> Iterator[Limit]:
    """Yield the row of money; a sire's fee or price is paid once."""
    if problem.spend is None:
        return
    columns, costs = problem.columns, problem.use_costs
    prices = [costs.get(dam, 0.0) if dam in problem.paid else 0.0 for dam in columns.dams]
    fees = {sire: costs[sire] for sire in columns.sires if sire in problem.paid}
    every, amounts = np.arange(len(columns)), columns.spend + np.array(prices)[columns.dam]
    yield Limit(
        id="spend",
        setting="spend",
        problem=problem,
        members=every,
        amounts=amounts,
        most=or_facts(problem, problem.spend, every, amounts, fees),
        said=f"at most {problem.spend:,.2f} may be spent before sales",
        named=f"{problem.spend:,.2f} to spend before sales",
        full=f"no more than {problem.spend:,.2f} may be spent before sales",
        without=partial(replace, problem, spend=None),
        enough=lambda least: f"{least:,.2f}",
        fees=fees,
    )


def more(problem: Problem) -> Iterator[More]:
    """Yield a round sum more."""
    if problem.spend is not None:
        yield More(
            thing="money before sales",
            step=STEP,
            words=f"{STEP:g} more to spend before sales",
            problem=replace(problem, spend=problem.spend + STEP),
        )
