"""Questions about a solved season: the answer of a fresh solve, at a fraction of its cost.

A question is the season with something changed. What the first solve has learnt is used again, and
nothing else is assumed, so that the answer is the one a fresh solve gives:

* the season's relaxed model is kept in the solver (:mod:`brumal.planner.warm`). The change put to
  it bounds every plan, and by its reduced costs every plan that makes a given pair (reduced-cost
  fixing; Crowder, Johnson & Padberg 1983, Oper Res 31:803-834, from memory). A pair whose bound
  lies below the best plan found is in no better plan and in none as good, and the season is solved
  without it. How far below the bound that plan will lie is guessed first; where the guess was too
  small the season is solved again with the right one;
* bounds on wishes hold for every plan. They carry over to a season in which a pair counts the same
  young or more, and, with nothing for pairs that are new, to one in which pairs come in: more young
  never make a surplus smaller.

A change of another kind is solved from the start, with the bounds that carry over.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Collection, Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from brumal.planner import model as models
from brumal.planner.answers import Relaxed
from brumal.planner.chances import all_chances, log_none
from brumal.planner.differences import Difference, difference, same_wishes, same_young
from brumal.planner.limits import keeps_limits
from brumal.planner.pairing import Array
from brumal.planner.problem import Problem
from brumal.planner.search import SLACK, Learnt, Search, among, for_part, renamed
from brumal.planner.solve import (
    DEFAULT_GAP,
    Solution,
    SolveOptions,
    Verdict,
    impossible,
    solve,
)
from brumal.planner.statements import chance_statement
from brumal.planner.surplus import Cut, all_terms
from brumal.planner.swaps import swaps
from brumal.planner.warm import Warm
from brumal.planner.worth import true_value

_MARGIN = 3 * DEFAULT_GAP
"""Relative to the bound: what solvers' tolerances may hide, and ties to be settled."""
_WIDER = 1.25
"""The first guess of how far a plan lies below its bound, times what it was in the base season."""
_LEAST_ROOM = 1e-4
_MOST_STEPS = 8
"""So many plans one step from the base season's are tried where a gap leaves room."""
_FEW_PAIRS = 40
_PRICED = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """The relaxed model of the base season, and the bounds on wishes that matter in it."""

    warm: Warm
    bound: float
    surplus: tuple[Cut, ...]
    log_none: tuple[Cut, ...]
    bad: tuple[Cut, ...]


class Resolver:
    """A solved season kept ready for questions."""

    def __init__(
        self, problem: Problem, solution: Solution, options: SolveOptions | None = None
    ) -> None:
        """Take a season and its solution; without a plan in it every question is solved afresh."""
        self.problem = problem
        self.solution = solution
        self.options = options or SolveOptions()
        self._place = {each.pair: index for index, each in enumerate(problem.candidates)}
        self._kept = None if solution.chosen is None else _keep(problem, solution, self.options)

    def within(self, gap: float) -> Resolver:
        """Return one that answers within another gap, where the season itself was not exact."""
        if self.options.gap <= DEFAULT_GAP or gap <= self.options.gap:
            return self
        other = copy(self)
        other.options = replace(self.options, gap=gap)
        return other

    def for_values(self) -> Resolver:
        """Return one that is asked what seasons are worth, not by which of equal plans."""
        other = copy(self)
        other.options = replace(self.options, value_only=True)
        return other

    def ask(
        self, changed: Problem, at_least: float = -math.inf, omit: Collection[str] = ()
    ) -> Solution:
        """Return the solution of the changed season: verdict, plan and value of a fresh solve.

        Indices are those of ``changed``. A season that can bring no ``at_least`` may be answered by
        its bound alone: stopped, without a plan. ``omit`` names statements left out, as in
        ``solve``.
        """
        if self._kept is None:
            return solve(changed, self.options, omit=omit)
        found = difference(self.problem, changed, omit)
        relaxed = None if found is None else self._kept.warm.ask(found.change)
        if found is None or relaxed is None:
            return solve(changed, self.options, omit=omit, known=self._carried(changed))
        bound = relaxed.bound + changed.income
        if bound < at_least:
            return replace(impossible(0, "bounded"), verdict=Verdict.STOPPED, bound=bound)
        return self._solved(changed, omit, found, relaxed)

    def _solved(
        self, changed: Problem, omit: Collection[str], found: Difference, relaxed: Relaxed
    ) -> Solution:
        """Solve the changed season among the pairs that can be in its best plan."""
        bound = relaxed.bound + changed.income
        order = [self._place[each.pair] for each in changed.candidates]
        without: Array = relaxed.without[order]
        wanted = changed.must_stand()
        wanted |= relaxed.amounts[order] > _PRICED
        if self.options.gap > DEFAULT_GAP:
            near = np.flatnonzero(without <= self._allowed(bound)).tolist()
            plan = self._at_hand(changed, near, bound, omit)
            if plan is not None:
                return _found(changed, plan, bound)
        room = self._first_room(bound)
        while True:
            margin = _MARGIN * max(1.0, abs(bound))
            keep = np.flatnonzero((without <= room + margin) | wanted).tolist()
            outside = -math.inf if len(keep) == len(order) else bound - room
            known = self._for_part(found, [order[index] for index in keep])
            part = solve(among(changed, keep), self.options, omit=omit, known=known)
            answer = _for_whole(part, keep, bound, outside)
            if part.verdict is Verdict.STOPPED or self._is_settled(answer, outside):
                return answer
            room = self._room_needed(answer, bound, room)

    def _at_hand(
        self, changed: Problem, near: Sequence[int], bound: float, omit: Collection[str]
    ) -> list[int] | None:
        """Return a plan within the gap of a bound if one is at hand.

        That is the plan of the base season where it is still allowed, or else a plan one step from
        it by pairs ``near`` the bound.
        """
        assert self._kept is not None
        place = {each.pair: index for index, each in enumerate(changed.candidates)}
        pairs = [self.problem.candidates[index].pair for index in self.solution.chosen or ()]
        if not all(pair in place for pair in pairs):
            return None
        plan = [place[pair] for pair in pairs]
        if not is_allowed(changed, plan, omit):
            return None
        least = bound - self._allowed(bound)
        if value_of(changed, plan) >= least:
            return plan
        names = {self._place[pair]: index for pair, index in place.items()}
        bounds = [renamed(cut, names) for cut in self._kept.surplus]
        adds = [index for index in near if index not in set(plan)]
        for step in itertools.islice(swaps(changed, plan, adds, bounds, least), _MOST_STEPS):
            if value_of(changed, step) >= least and is_allowed(changed, step, omit):
                return step
        return None

    def _is_settled(self, answer: Solution, outside: float) -> bool:
        """Say whether no plan of pairs left out matters."""
        if answer.chosen is None:
            return outside == -math.inf
        value = answer.objective
        return outside <= value + max(self.options.gap, DEFAULT_GAP) * max(1.0, abs(value))

    def _first_room(self, bound: float) -> float:
        """Guess how far below its bound the plan of a changed season lies."""
        if len(self.problem.candidates) <= _FEW_PAIRS:
            return math.inf
        assert self._kept is not None
        room = _WIDER * (self._kept.bound + self.problem.income - self.solution.objective)
        least = max(_LEAST_ROOM, min(self.options.gap, 1.0) / 4) * max(1.0, abs(bound))
        return max(room - self._allowed(bound), least)

    def _allowed(self, value: float) -> float:
        """Return how much a plan may lie below the best one."""
        return self.options.gap * max(1.0, abs(value)) if self.options.gap > DEFAULT_GAP else 0.0

    def _room_needed(self, answer: Solution, bound: float, room: float) -> float:
        """Return how far below the bound a plan can lie that is still of interest."""
        if answer.chosen is None:
            return math.inf
        value = answer.objective
        needed = bound - value + _MARGIN * max(1.0, abs(value)) - self._allowed(value)
        return needed if needed > room else math.inf

    def _for_part(self, found: Difference, keep: Sequence[int]) -> list[Learnt]:
        """Return the bounds that matter for some of the pairs, by their places among these."""
        assert self._kept is not None
        log_none = () if found.likelier else self._kept.log_none
        kept = self._kept
        bounds = Learnt(plan=(), surplus=kept.surplus, log_none=log_none, bad=kept.bad)
        return for_part([bounds], keep)

    def _carried(self, changed: Problem) -> list[Learnt]:
        """Return the bounds that hold in any season in which the same pairs count the same."""
        if self._kept is None or not same_wishes(self.problem, changed):
            return []
        same = {
            self._place[each.pair]: index
            for index, each in enumerate(changed.candidates)
            if each.pair in self._place
            and same_young(self.problem.candidates[self._place[each.pair]], each)
        }
        surplus = tuple(renamed(cut, same) for cut in self._kept.surplus)
        return [Learnt(plan=(), surplus=surplus, log_none=())]


def _keep(problem: Problem, solution: Solution, options: SolveOptions) -> _Kept | None:
    """Solve the relaxed model of a season with all that its solve has learnt."""
    assert solution.chosen is not None
    search = Search.of(problem)
    for learnt in solution.learnt:
        search.add(learnt)
    search.refine(solution.chosen)
    relaxed = search.tighten(max(min(options.gap, 1.0) / 20, 5 * _MARGIN))
    if relaxed is None:
        return None
    first = models.rows(search.model) - len(search.model.bounds)
    priced: dict[int, list[Cut]] = defaultdict(list)
    for row, (variable, cut) in enumerate(search.model.bounds, start=first):
        if abs(relaxed.prices[row]) > _PRICED:
            priced[id(variable)].append(cut)
    exact = search.learnt[-1]

    def of(variables: Sequence[object], more: Sequence[Cut]) -> tuple[Cut, ...]:
        return (*(cut for each in variables for cut in priced[id(each)]), *more)

    return _Kept(
        warm=Warm(search.model),
        bound=relaxed.bound,
        surplus=of(search.model.surplus, exact.surplus),
        log_none=of(search.model.log_none, exact.log_none),
        bad=tuple(cut for learnt in search.learnt for cut in learnt.bad),
    )


def value_of(problem: Problem, plan: Sequence[int]) -> float:
    """Return the true expected value of a plan."""
    made = among(problem, plan)
    return true_value(made, all_terms(made), range(len(plan)))


def is_allowed(problem: Problem, plan: Sequence[int], omit: Collection[str] = ()) -> bool:
    """Say whether a plan keeps within every limit and does all that it must."""
    if not keeps_limits(problem, plan, omit):
        return False
    laws = all_chances(among(problem, plan))
    return all(
        chance_statement(wish.id) in omit
        or log_none(own, range(len(plan))) <= wish.log_limit + SLACK
        for wish, own in zip(problem.chances, laws, strict=True)
    )


def _found(changed: Problem, plan: Sequence[int], bound: float) -> Solution:
    """Return a plan that is within the gap of a bound."""
    return Solution(
        verdict=Verdict.PROVEN,
        chosen=tuple(sorted(plan)),
        objective=value_of(changed, plan),
        bound=bound,
        rounds=0,
        message="within the gap of the relaxed season",
    )


def _for_whole(found: Solution, keep: Sequence[int], bound: float, outside: float) -> Solution:
    """Return the solution of a part as one of the whole; other plans bring ``outside`` at most."""
    most = min(bound, max(found.bound, outside))
    if found.chosen is None:
        return replace(found, bound=most, learnt=())
    chosen = tuple(keep[place] for place in found.chosen)
    return replace(found, chosen=chosen, bound=max(most, found.objective), learnt=())
