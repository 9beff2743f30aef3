"""One limit on the plan, and a season with a little more of something."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array
from brumal.planner.pairs.columns import Numbers
from brumal.planner.problem import Problem

TOLERANCE = 1e-6
"""By how much a plan of the solvers may pass a limit."""
Label = Callable[[str], str]
"""Turns the id of an animal into the name that people read."""


def no_figure(_: float) -> str:
    """Return no words: no one figure says how far a limit has to be loosened."""
    return ""


def or_facts(
    problem: Problem,
    most: float,
    members: Numbers,
    amounts: Array,
    fees: Mapping[str, float] = MappingProxyType({}),
) -> float:
    """Return a limit, or what the pairs that stand as facts count where that is more.

    Arguments as the fields of ``Limit``.
    """
    if not problem.facts:
        return most
    pairs = problem.columns.pairs
    held = [float(a) for m, a in zip(members, amounts, strict=True) if pairs[m] in problem.facts]
    paid = [fees.get(sire, 0.0) for sire in sorted({sire for _, sire in problem.facts})]
    return max(most, sum(held) + sum(paid))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limit:
    """The pairs made may count at most ``most`` together, fees of the sires used included.

    ``members`` are indices of candidates in order, ``amounts``, shape (members,), what each counts;
    others count nothing. ``fees`` is what a sire counts for being used at all, by his id. ``owner``
    is the animal whose limit it is, empty where it is the season's. ``setting`` names what the
    keeper set: limits of one setting are loosened together.

    The words have ``{owner}`` where the owner's name goes and ``{taken}`` where a plan's count
    does: ``said`` states the limit (the season has 9 incubator boxes), ``named`` what it is (9
    incubator boxes), ``full`` that there is no room under it. ``without`` is the season without it;
    ``enough`` says the least setting that allows a count, empty where no figure does.
    """

    id: str
    setting: str
    problem: Problem
    members: Numbers
    amounts: Array
    most: float
    said: str
    named: str
    full: str
    without: Callable[[], Problem]
    enough: Callable[[float], str] = no_figure
    fees: Mapping[str, float] = field(default_factory=dict)
    owner: str = ""

    def tell(self, words: str, label: Label, plan: Sequence[int] = ()) -> str:
        """Fill in some of the words; a plan is a sequence of indices of candidates."""
        return words.format(owner=label(self.owner), taken=self.taken(plan))

    def taken(self, plan: Sequence[int]) -> float:
        """Return what a plan counts."""
        fees = 0.0
        if self.fees:
            sires = {self.problem.columns.pairs[index][1] for index in plan}
            fees = sum(fee for sire, fee in self.fees.items() if sire in sires)
        return float(self._amounts(np.array(plan, dtype=np.intp)).sum()) + fees

    def counts(self, index: int) -> bool:
        """Say whether a pair bears on this limit, by itself or by the fee of its sire."""
        at = int(self.members.searchsorted(index))
        is_member = at < self.members.size and bool(self.members[at] == index)
        return is_member or self.problem.columns.pairs[index][1] in self.fees

    def is_kept(self, plan: Sequence[int]) -> bool:
        """Say whether a plan does not pass this limit."""
        return self.taken(plan) <= self.most + TOLERANCE

    def fits(self, plan: Sequence[int], among: Numbers) -> NDArray[np.bool_]:
        """Say of some candidates whether each may join a plan it is not in, shape (among,)."""
        new = self._amounts(among)
        if self.fees:
            new = new + self._unpaid(plan)[among]
        may: NDArray[np.bool_] = new <= self.most + TOLERANCE - self.taken(plan)
        return may

    def holds_back(self, plan: Sequence[int]) -> bool:
        """Say whether some pair outside a plan does not fit, in place of its dam's own if any.

        The fee of a sire who would then not be used any more counts as paid all the same.
        """
        columns, made = self.problem.columns, list(plan)
        amounts = self._amounts(np.arange(len(columns)))
        own = np.zeros(len(columns.dams))
        own[columns.dam[made]] = amounts[made]
        new = amounts - own[columns.dam] + self._unpaid(made)
        new[made] = 0.0
        return bool((new > max(self.most + TOLERANCE - self.taken(plan), TOLERANCE)).any())

    def _unpaid(self, plan: Sequence[int]) -> Array:
        """Return the fee that each candidate's sire adds to a plan, shape (candidates,)."""
        columns = self.problem.columns
        fees = np.array([self.fees.get(sire, 0.0) for sire in columns.sires])
        fees[columns.sire[list(plan)]] = 0.0
        return fees[columns.sire]

    def _amounts(self, pairs: Numbers) -> Array:
        """Return what each of some candidates counts, fees apart, shape (pairs,)."""
        order = np.searchsorted(self.members, pairs)
        own = np.append(self.members, -1)[order] == pairs
        amounts: Array = np.append(self.amounts, 0.0)[np.where(own, order, -1)]
        return amounts


@dataclass(frozen=True, slots=True, kw_only=True)
class More:
    """A season with a little more of something: what, how much, whose, and in words.

    The words have ``{owner}`` where the owner's name goes.
    """

    thing: str
    step: float
    words: str
    problem: Problem
    owner: str = ""


def counted(number: float, one: str, many: str) -> str:
    """Write a number with the thing it counts."""
    return f"{number:g} {one if number == 1 else many}"


def all_taken(count: int, one: str, many: str, whose: str = "") -> str:
    """Say that all there is of a thing is taken."""
    if count == 0:
        return f"there is no {one}{whose}"
    if count == 1:
        return f"the one {one}{whose} is taken"
    return f"all {count} {many}{whose} are taken"


def whole(least: float) -> int:
    """Return the least whole number that is enough, solvers' tolerance allowed for."""
    return math.ceil(least - TOLERANCE)
