"""Chance wishes, exactly: at least one young of a morph, uncertain parents and their kin included.

The chance that a plan brings none is a product over families of clutches
(:mod:`brumal.planner.pairs.families`), and for each family a sum over its states of the product
over its clutches. Its logarithm is a sum of log-sum-exp functions of the plan, hence convex in it,
so the limit ``log P(none) <= log(1 - chance)`` is kept by tangents (Kelley 1960, J SIAM 8:703-712,
from memory): each is valid for every plan and exact at the plan where it was taken. For families of
one state the function is linear and one tangent says it all.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array, Candidate
from brumal.planner.problem import ChanceWish, Problem
from brumal.planner.wishes.law_book import work_out
from brumal.planner.wishes.surplus import Cut, by_family

_LEAST = 1e-15
"""A chance of none below this counts as this, so that its logarithm is finite."""


def chance_id(wish: ChanceWish) -> str:
    """Return the id of the statement that a chance wish must be met."""
    return f"chance[{wish.id}]"


@dataclass(frozen=True)
class FamilyNone:
    """Log of the chance that each clutch of a family brings none, shape (states, candidates).

    ``known`` holds the log of the chance of none of each set of members asked for.
    """

    weights: Array
    members: NDArray[np.intp]
    logs: Array
    known: dict[frozenset[int], float] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def group(self) -> frozenset[int]:
        """Return the members as a set."""
        return frozenset(self.members.tolist())

    def log_none(self, made: frozenset[int]) -> float:
        """Return the natural log of the chance that some members bring none."""
        if made not in self.known:
            inside = [at for at, index in enumerate(self.members.tolist()) if index in made]
            states = np.log(self.weights) + self.logs[:, inside].sum(axis=1)
            self.known[made] = _log_sum(states)
        return self.known[made]


@dataclass(frozen=True, slots=True)
class ChanceLaws:
    """Everything that bears on one chance wish, by family."""

    families: tuple[FamilyNone, ...]


def all_chances(problem: Problem) -> tuple[ChanceLaws, ...]:
    """Gather every chance wish once, for repeated questions."""
    work_out(problem.candidates)
    found = by_family(problem, lambda pair: pair.none, Candidate.family_of_none)
    return tuple(_gathered(found[number]) for number in range(len(problem.chances)))


def log_none(laws: ChanceLaws, chosen: Iterable[int]) -> float:
    """Return the natural log of the chance that a plan brings no young of the wish."""
    wanted = frozenset(chosen)
    return sum(family.log_none(family.group & wanted) for family in laws.families)


def chance(laws: ChanceLaws, chosen: Iterable[int]) -> float:
    """Return the chance that a plan brings one young of the wish or more."""
    return -math.expm1(log_none(laws, chosen))


def tangent(laws: ChanceLaws, number: int, chosen: Iterable[int]) -> Cut:
    """Return the tangent of log P(none) at a plan: a lower bound on it for every plan."""
    wanted = set(chosen)
    inside = ([index in wanted for index in family.members.tolist()] for family in laws.families)
    return _tangent(laws, number, [np.array(each, dtype=float) for each in inside])


def tangent_at(laws: ChanceLaws, number: int, amounts: Array) -> tuple[Cut, float]:
    """Return the tangent where ``amounts``, shape (candidates,), are made, and log P(none) there.

    Amounts are from 0 to 1: log P(none) as a convex function reaches beyond whole pairs.
    """
    taken = [amounts[family.members] for family in laws.families]
    states = (
        np.log(family.weights) + family.logs @ t
        for family, t in zip(laws.families, taken, strict=True)
    )
    return _tangent(laws, number, taken), sum(_log_sum(each) for each in states)


def _tangent(laws: ChanceLaws, number: int, taken: Sequence[Array]) -> Cut:
    constant = 0.0
    slopes: dict[int, float] = {}
    for family, amounts in zip(laws.families, taken, strict=True):
        states = np.log(family.weights) + family.logs @ amounts
        at_plan = _log_sum(states)
        slope = np.exp(states - at_plan) @ family.logs
        constant += at_plan - float(slope @ amounts)
        slopes |= zip(family.members.tolist(), slope.tolist(), strict=True)
    return Cut(number, constant, slopes)


def _gathered(found: Sequence[tuple[Array, NDArray[np.intp], Array]]) -> ChanceLaws:
    return ChanceLaws(
        tuple(
            FamilyNone(weights, members, np.log(np.maximum(none, _LEAST)))
            for weights, members, none in found
        )
    )


def _log_sum(logs: Array) -> float:
    most = float(logs.max())
    return most + math.log(float(np.exp(logs - most).sum()))
