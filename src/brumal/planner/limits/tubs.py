"""Hatchling tubs: the young expected, all at once or those of the fullest week."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from brumal.planner.limits.limit import Limit, More, counted, or_facts, whole
from brumal.planner.problem import Problem


def limits(problem: Problem) -> Iterator[Limit]:
    """Yield the row of young in tubs."""
    if problem.tubs is None:
        return
    tubs = counted(problem.tubs, "hatchling tub", "hatchling tubs")
    every, amounts = np.arange(len(problem.candidates)), problem.in_tub * problem.columns.young
    yield Limit(
        id="tubs",
        setting="tubs",
        problem=problem,
        members=every,
        amounts=amounts,
        most=or_facts(problem, problem.tubs, every, amounts),
        said=f"the season has {tubs}",
        named=tubs,
        full=f"{{taken:.1f}} of {tubs} are taken",
        without=partial(replace, problem, tubs=None),
        enough=lambda least: counted(whole(least), "tub", "tubs"),
    )


def more(problem: Problem) -> Iterator[More]:
    """Yield one more tub, and tubs for a whole clutch."""
    if problem.tubs is None:
        return
    young = problem.columns.young
    clutch = math.ceil(float(np.median(young))) if young.size else 1
    for step in dict.fromkeys((1, max(1, clutch))):
        yield More(
            thing="hatchling tub",
            step=step,
            words=f"{counted(step, 'hatchling tub', 'hatchling tubs')} more",
            problem=replace(problem, tubs=problem.tubs + step),
        )
