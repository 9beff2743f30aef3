"""Questions about a solved season: the answer of a fresh solve, at a fraction of its cost.

A question is the season with something changed. What the first solve has learnt is used again, and
nothing else is assumed, so that the answer is the one a fresh solve gives:

* bounds on wishes hold for every plan, so they carry over wherever the young of a pair are the
  same; for pairs that are new or changed they are worked out anew;
* the model with halves of pairs allowed bounds every plan, and by its reduced costs every plan
  that makes a given pair (reduced-cost fixing; Crowder, Johnson & Padberg 1983, Oper Res
  31:803-834, from memory). A pair whose bound lies below the best plan found is in no better
  plan and in none as good, and the season is solved without it. How far below that plan will lie
  is guessed first; where the guess was too small the season is solved again with the right one.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from brumal.planner import model as models
from brumal.planner.chances import all_chances, tangent
from brumal.planner.model import Relaxed
from brumal.planner.problem import Candidate, Pair, Problem
from brumal.planner.search import Learnt, for_part, renamed
from brumal.planner.search import among as among
from brumal.planner.solve import Solution, SolveOptions, Verdict, impossible, solve
from brumal.planner.surplus import Cut, all_terms, cuts_at, first_cuts

_MARGIN = 1e-6
"""Relative to the objective: what solvers' tolerances may hide, and ties to be settled."""
_WIDER = 1.25
"""The first guess of how far a plan lies below its bound, times what it was in the base season."""
_FEW = 1e-9


@dataclass(frozen=True, slots=True)
class _Bounds:
    """Bounds learnt at one plan (``None``: before any plan), those worth keeping by place."""

    plan: tuple[int, ...] | None
    learnt: Learnt
    kept: tuple[int, ...]

    def surplus(self) -> list[Cut]:
        return [self.learnt.surplus[place] for place in self.kept]


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
        self._bounds: tuple[_Bounds, ...] = ()
        self._room = math.inf
        if solution.chosen is not None:
            self._bounds, relaxed = _learnt_of(problem, solution)
            if relaxed is not None:
                self._room = relaxed.bound + problem.income - solution.objective

    def ask(
        self, changed: Problem, at_least: float = -math.inf, omit: Collection[str] = ()
    ) -> Solution:
        """Return the solution of the changed season: verdict, plan and value of a fresh solve.

        Indices are those of ``changed``. A season that can bring no ``at_least`` is answered by its
        bound alone: stopped, without a plan. ``omit`` names statements left out, as in ``solve``.
        """
        carried = self._carried(changed)
        model = models.build(changed, omit)
        for bounds in carried:
            models.bound_surplus(model, bounds.surplus)
            models.bound_log_none(model, bounds.log_none)
        relaxed = models.relax(model)
        if relaxed is None:
            return impossible(0, "impossible even with halves of pairs")
        if relaxed.bound + changed.income < at_least:
            return _too_little(relaxed.bound + changed.income)
        # The first of the bounds are those that every solve begins with.
        return self._solved(changed, omit, relaxed, carried[1:])

    def _solved(
        self, changed: Problem, omit: Collection[str], relaxed: Relaxed, known: Sequence[Learnt]
    ) -> Solution:
        """Solve the changed season among the pairs that can be in its best plan."""
        bound = relaxed.bound + changed.income
        without = np.array(relaxed.without)
        must = set(changed.must)
        wanted = np.array([each.pair in must for each in changed.candidates], dtype=bool)
        room = _WIDER * self._room
        while True:
            margin = _MARGIN * max(1.0, abs(bound))
            keep = np.flatnonzero((without <= room + margin) | wanted).tolist()
            part = among(changed, keep)
            found = solve(part, self.options, omit=omit, known=for_part(known, keep))
            all_kept = len(keep) == len(changed.candidates)
            below = bound - found.objective if found.chosen is not None else math.inf
            if all_kept or below <= room or found.verdict is Verdict.STOPPED:
                most = found.bound if all_kept else max(found.bound, bound - room)
                return _for_whole(found, keep, min(bound, most))
            known = [*known, *_grown(found.learnt[len(known) :], keep)]
            room = below

    def _carried(self, changed: Problem) -> list[Learnt]:
        """Return the bounds by the indices of the changed season, those of no plan first."""
        if not self._bounds or not _same_wishes(self.problem, changed):
            return [_first(changed)]
        place = {each.pair: index for index, each in enumerate(changed.candidates)}
        to_changed = {index: place[pair] for pair, index in self._place.items() if pair in place}
        other = [
            index
            for index, each in enumerate(changed.candidates)
            if each.pair not in self._place
            or not _same_young(self.problem.candidates[self._place[each.pair]], each)
        ]
        same = {old: new for old, new in to_changed.items() if new not in set(other)}
        found = []
        for bounds in self._bounds:
            if any(old in to_changed and old not in same for old in bounds.plan or ()):
                if bounds.plan == self.solution.chosen:
                    plan = [to_changed[old] for old in bounds.plan or () if old in to_changed]
                    found.append(_at(changed, plan))
                continue
            found.append(_moved(bounds, same, changed, other))
        return found


def _learnt_of(problem: Problem, solution: Solution) -> tuple[tuple[_Bounds, ...], Relaxed | None]:
    """Return the bounds of a solve that matter, and the relaxed model that they make."""
    assert solution.chosen is not None
    learnt = [*solution.learnt]
    if all(bounds.plan != solution.chosen for bounds in learnt):
        learnt.append(_at(problem, solution.chosen))
    model = models.build(problem)
    first = _first(problem)
    models.bound_surplus(model, first.surplus)
    models.bound_log_none(model, first.log_none)
    rows = models.rows(model)
    for bounds in learnt:
        models.bound_surplus(model, bounds.surplus)
    places = np.cumsum([rows, *(len(bounds.surplus) for bounds in learnt)])
    for bounds in learnt:
        models.bound_log_none(model, bounds.log_none)
    relaxed = models.relax(model)
    found = [_Bounds(None, first, tuple(range(len(first.surplus))))]
    for start, bounds in zip(places.tolist(), learnt, strict=False):
        kept = tuple(
            place
            for place in range(len(bounds.surplus))
            if bounds.plan == solution.chosen
            or relaxed is None
            or relaxed.prices[start + place] > _FEW
        )
        found.append(_Bounds(bounds.plan, bounds, kept))
    return tuple(found), relaxed


def _first(problem: Problem) -> Learnt:
    """Return the bounds that hold before any plan is known."""
    return Learnt(
        plan=(),
        surplus=tuple(
            cut for n, laws in enumerate(all_terms(problem)) for cut in first_cuts(laws, n)
        ),
        log_none=tuple(tangent(laws, n, ()) for n, laws in enumerate(all_chances(problem))),
    )


def _at(problem: Problem, plan: Sequence[int]) -> Learnt:
    """Return the bounds that are exact at a plan."""
    return Learnt(
        plan=tuple(plan),
        surplus=tuple(
            cut for n, laws in enumerate(all_terms(problem)) for cut in cuts_at(laws, n, plan)
        ),
        log_none=tuple(tangent(laws, n, plan) for n, laws in enumerate(all_chances(problem))),
    )


def _moved(
    bounds: _Bounds, same: Mapping[int, int], changed: Problem, other: Sequence[int]
) -> Learnt:
    """Return bounds by new indices, with what the ``other`` pairs count worked out anew.

    The plan's own pairs are all among the ``same`` or gone; one that is gone makes no difference to
    a bound, which holds for every plan and so for those without it.
    """
    surplus = [renamed(cut, same) for cut in bounds.surplus()]
    log_none = [renamed(cut, same) for cut in bounds.learnt.log_none]
    plan = tuple(sorted(same[old] for old in bounds.plan or () if old in same))
    if other and len(plan) == len(bounds.plan or ()):
        part = [*plan, *other]
        own = among(changed, part)
        fresh = _first(own) if bounds.plan is None else _at(own, range(len(plan)))
        added = [fresh.surplus[place] for place in bounds.kept]
        surplus = [_joined(*both, part, other) for both in zip(surplus, added, strict=True)]
        log_none = [
            _joined(*both, part, other) for both in zip(log_none, fresh.log_none, strict=True)
        ]
    elif other:
        log_none = []
    return Learnt(plan=plan, surplus=tuple(surplus), log_none=tuple(log_none))


def _joined(cut: Cut, fresh: Cut, part: Sequence[int], other: Sequence[int]) -> Cut:
    """Return a bound with the coefficients that the ``other`` pairs have in a fresh one."""
    wanted = set(other)
    added = {
        part[place]: slope for place, slope in fresh.coefficients.items() if part[place] in wanted
    }
    return Cut(cut.number, cut.constant, {**cut.coefficients, **added})


def _grown(learnt: Iterable[Learnt], keep: Sequence[int]) -> list[Learnt]:
    """Return bounds found among some pairs for all of them: the others count nothing.

    More pairs never make a surplus smaller, so a bound on it holds with them. They do make the
    chance of none smaller, so bounds on that are left out.
    """
    names = dict(enumerate(keep))
    return [
        Learnt(
            plan=tuple(names[place] for place in bounds.plan),
            surplus=tuple(renamed(cut, names) for cut in bounds.surplus),
            log_none=(),
        )
        for bounds in learnt
    ]


def _for_whole(found: Solution, keep: Sequence[int], bound: float) -> Solution:
    if found.chosen is None:
        return replace(found, bound=bound, learnt=())
    chosen = tuple(keep[place] for place in found.chosen)
    return replace(found, chosen=chosen, bound=max(bound, found.objective), learnt=())


def _too_little(bound: float) -> Solution:
    return Solution(
        verdict=Verdict.STOPPED,
        chosen=None,
        objective=-math.inf,
        bound=bound,
        rounds=0,
        message="bounded below what was asked for",
    )


def _same_wishes(base: Problem, changed: Problem) -> bool:
    """Say whether wishes count the same way in both seasons, so that bounds can be compared."""
    thresholds = [term.threshold for term in base.wish_terms]
    return (
        thresholds == [term.threshold for term in changed.wish_terms]
        and len(base.chances) == len(changed.chances)
        and base.sire_states.keys() == changed.sire_states.keys()
        and all(
            np.array_equal(weights, changed.sire_states[sire])
            for sire, weights in base.sire_states.items()
        )
    )


def _same_young(one: Candidate, other: Candidate) -> bool:
    """Say whether two candidates count the same young for every wish."""
    if one is other:
        return True
    return all(
        mine is theirs
        or (
            mine.keys() == theirs.keys()
            and all(np.array_equal(law, theirs[key]) for key, law in mine.items())
        )
        for mine, theirs in ((one.counts, other.counts), (one.none, other.none))
    )


def pairs_of(problem: Problem, chosen: Iterable[int]) -> tuple[Pair, ...]:
    """Return the pairs of a plan, sorted."""
    return tuple(sorted(problem.candidates[index].pair for index in chosen))
