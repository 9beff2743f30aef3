"""Females that rest: at most so many of them are paired."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from brumal.planner.limits.limit import Limit, More, counted, or_facts, whole
from brumal.planner.problem import Problem


def limits(problem: Problem) -> Iterator[Limit]:
    """Yield the row of pairs."""
    if problem.most_pairs is None:
        return
    count, most = len(problem.candidates), problem.most_pairs
    yield Limit(
        id="resting",
        setting="resting",
        problem=problem,
        members=np.arange(count),
        amounts=np.ones(count),
        most=or_facts(problem, most, np.arange(count), np.ones(count)),
        said=f"at most {most} females are paired, so that enough rest",
        named=f"at most {most} females paired",
        full=f"no more than {counted(most, 'female', 'females')} may be paired",
        without=partial(replace, problem, most_pairs=None),
        enough=lambda least: str(whole(least)),
    )


def more(problem: Problem) -> Iterator[More]:
    """Yield one female fewer that has to rest."""
    if problem.most_pairs is not None:
        yield More(
            thing="fewer females resting",
            step=1,
            words="one female fewer that must rest",
            problem=replace(problem, most_pairs=problem.most_pairs + 1),
        )
