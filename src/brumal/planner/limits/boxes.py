"""Incubator boxes: small clutches share one, a larger clutch has its own.

With ``c`` small clutches to a box, ``ceil(small / c) + large <= boxes`` is for whole numbers
``small + c * large <= c * boxes``: the boxes have ``c * boxes`` places, or so many as are safe in
the fullest week (:func:`brumal.forecast.occupancy.clutch_places`).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from brumal.planner.limits.limit import TOLERANCE, Limit, More, all_taken, counted
from brumal.planner.problem import Problem


def limits(problem: Problem) -> Iterator[Limit]:
    """Yield the row of places taken by clutches."""
    places = problem.box_places
    if problem.boxes is None or places is None:
        return
    small = problem.columns.box_eggs <= problem.small_clutch
    boxes = counted(problem.boxes, "incubator box", "incubator boxes")
    yield Limit(
        id="boxes",
        setting="boxes",
        problem=problem,
        members=np.arange(small.size),
        amounts=np.where(small, 1.0, float(problem.box_clutches)),
        most=places,
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
            problem=replace(problem, boxes=problem.boxes + 1),
        )


def _boxes_for(problem: Problem, present: int, places: float) -> str:
    """Say how many boxes have so many places."""
    least = next(
        boxes
        for boxes in itertools.count(present)
        if (replace(problem, boxes=boxes).box_places or 0) >= places - TOLERANCE
    )
    return counted(least, "box", "boxes")
