"""Branches of a search by the number of pairs made.

Where clutches take places of different sizes, parts of pairs fill the boxes to the brim and bound
plans badly: a few more small ones, or fewer large ones. Told how many pairs there are the bound is
close again, so the search branches on that number first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from brumal.planner.solver import model as models
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.model import Model
from brumal.planner.solver.runs import Relaxed

_NEARLY = 0.01


@dataclass(slots=True, kw_only=True, eq=False)
class Branch:
    """Plans of at least and at most so many pairs; none has a model objective over ``bound``.

    Another run to the gap ``done_at``, or to a wider one, would bring nothing new.
    """

    least: int
    most: int
    bound: float = math.inf
    done_at: float = math.inf

    def enter(self, model: Model) -> None:
        """Let the model make so many pairs only."""
        models.make_between(model, self.least, self.most)


def branches_of(model: Model, relaxed: Relaxed, clock: Clock) -> tuple[Branch, ...]:
    """Return the branches on either side of the number of pairs that a relaxation makes."""
    every, made = len(model.pairs), float(relaxed.amounts.sum())
    if abs(made - round(made)) <= _NEARLY:
        return (Branch(least=0, most=every),)
    models.count_pairs(model)
    low = math.floor(made)
    found = (Branch(least=0, most=low), Branch(least=low + 1, most=every))
    for branch in found:
        branch.enter(model)
        inside = models.relax(model, clock.left())
        branch.bound = -math.inf if inside is None else inside.bound
    models.make_between(model, 0, every)
    return found
