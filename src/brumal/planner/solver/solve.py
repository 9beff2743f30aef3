"""Solve a season to a stated gap: bounds, the pairs that matter, cuts until values are true.

First a bound on every plan is worked out from what pairs bring in the mean, and by reduced costs
one on every plan that makes a given pair (:mod:`brumal.planner.solver.means_bound`). Then the
season is solved among the pairs that can be in a plan not far below that bound. Each round solves
the master problem, evaluates the plan exactly and adds optimality cuts that are exact there (the
L-shaped method of Van Slyke & Wets 1969, SIAM J Appl Math 17:638-663, from memory). It ends when
the bound and the best true value agree within the gap; where a plan of other pairs could still be
better, more pairs are taken in.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.planner.problem import Problem
from brumal.planner.solver import model as models
from brumal.planner.solver.answer import (
    EXACT_GAP,
    USUAL,
    Progress,
    Solution,
    SolveOptions,
    Verdict,
    impossible,
)
from brumal.planner.solver.branches import Branch, branches_of
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.greedy import first_plans, surest
from brumal.planner.solver.interrupt import is_asked
from brumal.planner.solver.known_cuts import renamed
from brumal.planner.solver.master import Master
from brumal.planner.solver.means_bound import MeansBound, has_means
from brumal.planner.solver.proof import (
    GROWS,
    MARGIN,
    Proof,
    first_room,
    margin,
    room_needed,
)
from brumal.planner.solver.runs import Eased, Effort, Outcome, OutOfTimeError, Plan, Relaxed, Run
from brumal.planner.solver.ties import highest_ranked
from brumal.planner.solver.worth import SLACK, most_worth
from brumal.planner.wishes.surplus import Cut
from brumal.timings import timed

_EXACT_NODES = 10
_FEW_NODES, _MORE_NODES, _MOST_NODES = 200, 200, 20_000
"""A run searches a few nodes before a wider gap will do, more before a wider one still, and with
the default gap never more than the last."""
_OWN_SHARE = 0.8
"""The share of a gap that a run of the model may leave; the rest is for what cuts still hide."""
_TOLERANCE = 1e-5
_MEANS_ROOM = 8e-4
_FIRST_ROOM = 1e-4
"""The rooms are how far below a bound plans are looked for at first, relative to it."""
_MOST_NEAR = 0.6
"""An earlier plan that leaves more than this share of the pairs is no good start."""


@timed("solving")
def solve(
    problem: Problem,
    options: SolveOptions | None = None,
    progress: Progress | None = None,
    omit: Collection[str] = (),
    known: Sequence[Cut] = (),
) -> Solution:
    """Return the plan of greatest true expected value, with its proof.

    ``omit`` holds the ids of limits, pairs that have to stand and chance wishes to leave out (see
    :mod:`brumal.planner.solver.model`); ``known`` are cuts to start from, by the candidates'
    indices.
    """
    options = options or USUAL
    if problem.must_stand().sum() < len(set(problem.must)):
        return impossible(0, "a pair that must stand may not meet")
    proof = Proof(options, Clock(options.time_limit), problem, progress)
    proof.offer_first(np.zeros(len(problem.candidates)), omit)
    try:
        outer = _bound_by_means(proof, omit)
        if outer is None:
            return impossible(0, "impossible even with parts of pairs")
        while not _solve_among(outer, proof, omit, known):
            outer = outer.wider(proof)
    except OutOfTimeError:
        proof.message = "time was up"
        if proof.plan is None:
            proof.offer_first(surest(problem), omit)
        proof.lower(most_worth(problem))
    if proof.plan is None and proof.bound == -math.inf:
        return impossible(proof.rounds, proof.message)
    return Solution(
        verdict=Verdict.PROVEN if proof.agrees(proof.bound) else Verdict.STOPPED,
        chosen=proof.plan,
        objective=proof.value,
        bound=max(proof.bound, proof.value),
        rounds=proof.rounds,
        message=proof.message,
        learnt=proof.learnt,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Outer:
    """A bound on plans of all pairs, and how far below it plans are looked for."""

    relaxed: Relaxed
    room: float

    def wider(self, proof: Proof) -> _Outer:
        return _Outer(self.relaxed, room_needed(proof, self.relaxed, self.room))


def _bound_by_means(proof: Proof, omit: Collection[str]) -> _Outer | None:
    """Bound all plans by means; ``None``: even with parts of pairs nothing is possible."""
    problem = proof.problem
    if not has_means(problem):
        every = np.zeros(len(problem.candidates))
        nothing = np.zeros(0)
        unbounded = Relaxed(math.inf, every, every, nothing, nothing, nothing, nothing)
        return _Outer(unbounded, math.inf)
    relaxed = MeansBound.of(problem, omit).solve(_share(proof.options), proof.clock)
    if relaxed is None:
        return None
    proof.lower(relaxed.bound + problem.fixed)
    return _Outer(
        relaxed, first_room(proof, relaxed, _MEANS_ROOM, _MOST_NEAR * relaxed.reduced.size)
    )


def _solve_among(outer: _Outer, proof: Proof, omit: Collection[str], known: Sequence[Cut]) -> bool:
    """Solve among the pairs near a bound; say whether that is the end, or more are needed."""
    near = _is_near(proof.problem, outer.relaxed, outer.room, proof.plan or ())
    keep = np.flatnonzero(near)
    if proof.agrees(proof.bound):
        # What is left is an exact plan, and so many pairs are too much work for it.
        proof.work += keep.size
        if proof.agrees(proof.bound, proof.gap):
            return True
    master = Master.of(proof.problem.only(keep.tolist()), omit)
    names = {index: place for place, index in enumerate(keep.tolist())}
    models.cut_surplus(master.model, renamed((*known, *proof.learnt), names))
    relaxed = master.tighten(_share(proof.options), proof.clock)
    is_all = keep.size == len(proof.problem.candidates)
    part = _Part(master, keep, -math.inf if is_all else outer.relaxed.bound - outer.room)
    if relaxed is None:
        proof.lower(part.outside + proof.problem.fixed)
        return is_all
    part.offer_first_plans(relaxed, proof, omit)
    if is_all:
        proof.lower(relaxed.bound + proof.problem.fixed)
    share = max(_FIRST_ROOM, min(proof.options.gap, 1.0) / 8)
    room = first_room(proof, relaxed, share, GROWS * np.count_nonzero(relaxed.amounts > SLACK))
    while True:
        is_open = _is_near(master.problem, relaxed, room, part.place(proof.plan))
        outside = part.outside if is_open.all() else max(part.outside, relaxed.bound - room)
        models.open_only(master.model, is_open)
        branches = branches_of(master.model, relaxed, proof.clock)
        done = _prove(part, outside, proof, branches)
        models.make_between(master.model, 0, keep.size)
        proof.learnt += renamed(master.learnt, dict(enumerate(keep.tolist())))
        master.learnt.clear()
        if done:
            if proof.agrees(proof.bound, EXACT_GAP) and not proof.options.value_only:
                part.settle_tie(proof)
            return True
        needs_more = not proof.agrees(part.outside + proof.problem.fixed, proof.gap)
        if not is_all and needs_more and (proof.plan is not None or is_open.all()):
            return False
        models.open_only(master.model, np.ones(keep.size, dtype=bool))
        relaxed = master.tighten(_share(proof.options), proof.clock) or relaxed
        room = room_needed(proof, relaxed, room)


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """The season among some of its pairs: those of ``keep``, by their indices in the whole.

    No plan that makes another pair has a model objective of more than ``outside``.
    """

    master: Master
    keep: NDArray[np.intp]
    outside: float

    def in_whole(self, plan: Sequence[int]) -> Plan:
        return tuple(sorted(self.keep[list(plan)].tolist()))

    def place(self, plan: Plan | None) -> list[int]:
        """Return the indices in this part of those pairs of a plan that are in it."""
        places = np.flatnonzero(np.isin(self.keep, plan or ()))
        return [int(place) for place in places]

    def offer(self, plan: Plan, proof: Proof) -> None:
        if self.master.keeps_chances(plan):
            proof.offer(self.in_whole(plan), self.master.value(plan))

    def offer_first_plans(self, relaxed: Relaxed, proof: Proof, omit: Collection[str]) -> None:
        """Offer plans that need no solver run, so that a solve never ends with less."""
        for plan in first_plans(self.master.problem, proof.options.start, relaxed.amounts, omit):
            self.offer(plan, proof)

    def settle_tie(self, proof: Proof) -> None:
        """Among plans as good as the best, take the one that is the same on every machine."""
        least = proof.value - proof.problem.fixed
        found = highest_ranked(self.master, least, proof.options.solver, proof.clock)
        if found is not None:
            proof.plan, proof.value = self.in_whole(found), self.master.value(found)

    def close_poor(
        self, proof: Proof, is_open: NDArray[np.bool_], branches: Sequence[Branch]
    ) -> None:
        """Close pairs that are in no plan as good as the best; lower the bounds of branches."""
        may = np.zeros_like(is_open)
        for branch in branches:
            branch.enter(self.master.model)
            relaxed = self.master.tighten(_share(proof.options), proof.clock)
            branch.bound = min(branch.bound, -math.inf if relaxed is None else relaxed.bound)
            if relaxed is not None:
                spare = relaxed.bound + proof.problem.fixed - proof.value + margin(proof.value)
                may |= (relaxed.reduced <= spare) | (relaxed.amounts >= SLACK)
        is_open &= may
        models.open_only(self.master.model, is_open)


def _prove(part: _Part, outside: float, proof: Proof, branches: Sequence[Branch]) -> bool:
    """Search the open pairs of a part; say whether that is the end, or more pairs are needed.

    ``outside`` bounds the model objective of plans that make a pair which is not open. The branch
    of the greatest bound is searched next.
    """
    master, income = part.master, proof.problem.fixed
    is_open = _open_pairs(master)
    met: set[Plan | None] = set()
    while True:
        branch = max(branches, key=lambda each: each.bound)
        if branch.bound == -math.inf:
            proof.lower(max(outside + income, proof.value))
            return proof.agrees(proof.bound, proof.gap) or outside == -math.inf
        proof.lower(max(outside, branch.bound) + income)
        gap = proof.gap
        if branch.done_at <= gap or proof.agrees(proof.bound, gap):
            return True
        branch.enter(master.model)
        run = _run(master, proof)
        branch.bound = min(branch.bound, run.bound)
        plans = [plan for plan in (run.chosen, *run.others) if plan is not None]
        for plan in plans:
            part.offer(plan, proof)
        # A plan met twice has its exact cuts already: what is left is the solver's tolerance.
        again = run.chosen in met
        proven = run.outcome is Outcome.OPTIMAL
        if again and proven and proof.agrees(branch.bound + income, EXACT_GAP, _TOLERANCE):
            branch.bound = min(branch.bound, proof.exact - income)
        proof.lower(max(outside, *(each.bound for each in branches)) + income)
        proof.report()
        stopped = proof.clock.is_over(proof.plan is not None)
        stopped |= run.outcome is Outcome.STOPPED and not is_asked()
        if stopped or proof.agrees(proof.bound, proof.gap):
            return True
        if proof.plan is not None and not proof.agrees(outside + income, proof.gap):
            return False
        if again or run.chosen is None:
            branch.done_at = gap
        met.update(plans)
        for plan in plans:
            master.learn(plan)
        part.close_poor(proof, is_open, branches)


def _open_pairs(master: Master) -> NDArray[np.bool_]:
    return np.array([variable.upBound > 0 for variable in master.model.pairs], dtype=bool)


def _run(master: Master, proof: Proof) -> Run:
    """Solve the master to well within the gap; beyond the gap asked for, only while it is cheap.

    A run is taken to need as many iterations as the last one did.
    Effort is counted in nodes and simplex iterations, not seconds, so that it is the same on every
    machine.
    """
    beyond = proof.gap < proof.asked
    eased = _eased(proof) if proof.options.loose and not beyond else ()
    effort = Effort(
        seconds=proof.clock.left(),
        nodes=_EXACT_NODES if beyond else _MOST_NODES if eased else None,
        enough=proof.enough(),
        eased=eased,
    )
    run = models.run(master.model, proof.options.solver, proof.gap / 8, effort)
    proof.rounds += 1
    proof.work += run.iterations if beyond else 0
    proof.iterations += run.iterations
    proof.last = run.iterations
    proof.message = run.message
    return run


def _eased(proof: Proof) -> tuple[Eased, ...]:
    """Return when a run of a hard season will do, though a closer proof was asked for."""
    _, (work, gap), (_, wide) = proof.options.loose
    first = 0 if proof.iterations >= work else _FEW_NODES
    return (
        Eased(after=first, gap=_OWN_SHARE * gap),
        Eased(after=first + _MORE_NODES, gap=_OWN_SHARE * wide),
    )


def _is_near(
    problem: Problem, relaxed: Relaxed, room: float, best: Sequence[int]
) -> NDArray[np.bool_]:
    """Say which pairs can be in a plan within ``room`` of a bound, or are asked for."""
    near: NDArray[np.bool_] = (relaxed.reduced <= room) | (relaxed.amounts > SLACK)
    near[list(best)] = True
    return near | problem.must_stand()


def _share(options: SolveOptions) -> float:
    """Return the share of a bound below which it is not worth a round to lower it."""
    return max(min(options.gap, 1.0) / 20, 5 * MARGIN)
