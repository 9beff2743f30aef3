"""Incubator boxes: clutches take places, boxes have so many (:mod:`brumal.forecast.occupancy`)."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from brumal.planner.limits.limit import TOLERANCE, Limit, More, all_taken, counted, or_facts
from brumal.planner.problem import Problem


def limits(problem: Problem) -> Iterator[Limit]:
    """Yield the row of places taken by clutches."""
    places = problem.box_places
    if problem.boxes is None or places is None:
        return
    taken = problem.places
    boxes = counted(problem.boxes, "incubator box", "incubator boxes")
    yield Limit(
        id="boxes",
        setting="boxes",
        problem=problem,
        members=np.arange(taken.size),
        amounts=taken,
        most=or_facts(problem, places, np.arange(taken.size), taken),
        said=f"the season has {boxes}",
        named=boxes,
        full=all_taken(problem.boxes, "incubator box", "incubator boxes"),
        without=partial(replace, problem, boxes=None),
        enough=partial(_boxes_for, problem, problem.boxes),
    )


def more(problem: Problem) -> Iterator[More]:
    """Yield one more box."""
    if problem.boxes is not None:
        yield More(
            thing="incubator box",
            step=1,
            words="1 incubator box more",
            problem=replace(problem, boxes=problem.boxes + 1).with_room(),
        )


def _boxes_for(problem: Problem, present: int, places: float) -> str:
    """Say how many boxes have so many places."""
    least = next(
        boxes
        for boxes in itertools.count(present)
        if (replace(problem, boxes=boxes).box_places or 0) >= places - TOLERANCE
    )
    return counted(least, "box", "boxes")
