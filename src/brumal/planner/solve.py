"""Solve a season to proof: model, bounds until its value is the true value, a settled tie."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import partial

import numpy as np
from numpy.typing import NDArray

from brumal.planner import model as models
from brumal.planner.answers import Outcome, Relaxed, Run
from brumal.planner.clock import Clock
from brumal.planner.interrupt import is_asked, must_stop
from brumal.planner.pairing import Pair
from brumal.planner.problem import Problem
from brumal.planner.rough import Rough, is_rough_enough
from brumal.planner.search import SLACK, Learnt, Search, among, for_part
from brumal.planner.start import first_plans
from brumal.timings import timed

DEFAULT_GAP = 1e-6
_TOLERANCE = 1e-5
_MARGIN = 1e-6
"""Relative to the bound: what solvers' tolerances may hide, and ties to be settled."""
_TIE_ROUNDS = 20
_FEW_PAIRS = 300
"""Up to so many pairs a season is solved whole."""
MANY_PAIRS = 4000
"""Of more pairs than this the likely ones are found by their means alone."""
_FEW_NODES = 20
"""So many nodes of a search are worth a plan that is closer than a loose gap asks for."""
_FIRST_ROOM = 1e-4
_ROUGH_ROOM = 4e-4
_MORE_ROOM = 4.0
"""The rooms are how far below a bound plans are looked for at first, relative to it."""


class Verdict(StrEnum):
    """What is known of the plan: three different things, kept apart."""

    PROVEN = "proven"
    STOPPED = "stopped"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True, kw_only=True)
class SolveOptions:
    """``gap`` is relative; ``time_limit`` is seconds for all rounds together (``None``: none).

    ``start`` are the pairs of a plan of another day to start from. Of plans worth the same one is
    settled on by name, unless it is the ``value_only`` that is asked for.
    """

    solver: str = "highs"
    gap: float = DEFAULT_GAP
    time_limit: float | None = None
    start: tuple[Pair, ...] = ()
    value_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """The best plan found: indices of chosen candidates, sorted (``None``: no plan).

    ``objective`` is the true expectation, ``bound`` a proven upper bound on any plan's, ``gap``
    their difference relative to the objective, ``rounds`` the solver runs it took. ``learnt`` is
    what another solve of much the same season may start from.
    """

    verdict: Verdict
    chosen: tuple[int, ...] | None
    objective: float
    bound: float
    rounds: int
    message: str
    learnt: tuple[Learnt, ...] = field(default=(), repr=False, compare=False)

    @property
    def gap(self) -> float:
        """Return (bound - objective) / max(1, |objective|), never below zero."""
        if self.chosen is None:
            return math.inf
        return max(0.0, self.bound - self.objective) / max(1.0, abs(self.objective))


Progress = Callable[[int, float, float], None]
"""Called after each round with (round, best true value so far, bound)."""


@timed("solving")
def solve(
    problem: Problem,
    options: SolveOptions | None = None,
    progress: Progress | None = None,
    omit: Collection[str] = (),
    known: Sequence[Learnt] = (),
) -> Solution:
    """Return the plan of greatest true expected value, with its proof.

    First the model is solved with parts of pairs allowed, which bounds every plan, and by its
    reduced costs every plan that makes a given pair. Then the season is solved among the pairs that
    can be in a plan not far below that bound: each round solves the model, evaluates the plan
    exactly and adds bounds that are exact there. It ends when the bound and the best true value
    agree within the gap, or time is up; where a plan of other pairs could still be better, more
    pairs are taken in. Of very many pairs the likely ones are found by their means alone (see
    :mod:`brumal.planner.rough`). ``omit`` names statements left out (see
    :mod:`brumal.planner.model`); ``known`` are bounds to start from, by the candidates' indices.
    """
    options = options or SolveOptions()
    if problem.must_stand().sum() < len(set(problem.must)):
        return impossible(0, "a pair that must stand may not meet")
    if len(problem.candidates) > MANY_PAIRS and is_rough_enough(problem):
        return _solve_likely(problem, options, progress, omit, known)
    return _solve_all(problem, options, progress, omit, known)


def _solve_likely(
    problem: Problem,
    options: SolveOptions,
    progress: Progress | None,
    omit: Collection[str],
    known: Sequence[Learnt],
) -> Solution:
    """Solve a season among the pairs that a bound by means leaves, more of them as needed."""
    clock = Clock(options.time_limit)
    relaxed = Rough.of(problem, omit).tighten(_enough(options))
    if relaxed is None:
        return impossible(0, "impossible even with parts of pairs")
    most = relaxed.bound + problem.income
    room = _ROUGH_ROOM * max(1.0, abs(relaxed.bound))
    rounds, bound, value = 0, math.inf, -math.inf
    best: tuple[int, ...] = ()
    while True:
        keep = _near(problem, relaxed, room, best)
        outside = most - room if keep.size < len(problem.candidates) else -math.inf
        start = tuple([problem.columns.pairs[index] for index in best]) or options.start
        found = _solve_all(
            among(problem, keep.tolist()),
            replace(options, time_limit=clock.left(), start=start),
            partial(_report, progress, rounds, outside) if progress else None,
            omit,
            for_part(known, keep.tolist()),
            outside,
        )
        rounds += found.rounds
        bound = min(bound, max(found.bound, outside))
        if found.chosen is not None and found.objective >= value - SLACK * max(1.0, abs(value)):
            best, value = tuple(keep[list(found.chosen)].tolist()), found.objective
        # A plan met twice is proven within a solver's tolerance, which may be more than the gap.
        met = _agree(options, value, bound)
        met |= found.verdict is Verdict.PROVEN and outside <= found.bound
        stopped = found.verdict is Verdict.STOPPED and found.bound > outside
        has_plan = value > -math.inf
        over = must_stop(has_plan) or (has_plan and clock.is_over())
        if met or stopped or over or outside == -math.inf:
            break
        room = _room_needed(options, most, value, room)
    if found.verdict is Verdict.IMPOSSIBLE and outside == -math.inf:
        return replace(found, rounds=rounds)
    return Solution(
        verdict=Verdict.PROVEN if met else Verdict.STOPPED,
        chosen=best if has_plan else None,
        objective=value,
        bound=max(bound, value),
        rounds=rounds,
        message=found.message,
    )


def _report(
    progress: Progress, before: int, outside: float, rounds: int, value: float, bound: float
) -> None:
    progress(before + rounds, value, max(bound, outside))


def _solve_all(
    problem: Problem,
    options: SolveOptions,
    progress: Progress | None,
    omit: Collection[str],
    known: Sequence[Learnt],
    enough: float = -math.inf,
) -> Solution:
    """Solve a season, or a part of one; to bound it below ``enough`` would be of no use."""
    proof = _Proof(options, Clock(options.time_limit), problem.income, progress, enough)
    whole = Search.of(problem, omit)
    for bounds in known:
        whole.add(bounds)
    relaxed = whole.tighten(_enough(options))
    if relaxed is None:
        return impossible(0, "impossible even with parts of pairs")
    proof.lower(relaxed.bound + problem.income)
    for plan in first_plans(problem, options.start, relaxed.amounts, omit):
        if whole.keeps_chances(plan):
            proof.offer(plan, whole.value(plan))
    room = max(_FIRST_ROOM, min(options.gap, 1.0) / 8) * max(1.0, abs(relaxed.bound))
    while True:
        part = _Part.of(whole, relaxed, room, proof, omit)
        if _prove(part, proof):
            break
        if proof.best is not None and options.gap < _FIRST_ROOM:
            whole.refine(proof.best)
            relaxed = whole.tighten(_enough(options)) or relaxed
            proof.lower(relaxed.bound + problem.income)
        room = _room_needed(options, relaxed.bound + problem.income, proof.value, room)
    if proof.best is None and proof.bound == -math.inf:
        return impossible(proof.rounds, proof.message)
    if proof.met and options.gap <= DEFAULT_GAP and not options.value_only:
        _settle_tie(part, proof)
    return Solution(
        verdict=Verdict.PROVEN if proof.met else Verdict.STOPPED,
        chosen=None if proof.best is None else tuple(sorted(proof.best)),
        objective=proof.value,
        bound=max(proof.bound, proof.value),
        rounds=proof.rounds,
        message=proof.message,
        learnt=tuple(whole.learnt),
    )


@dataclass(slots=True, eq=False)
class _Proof:
    """What is known so far: the best plan with its true value, and a bound on every plan."""

    options: SolveOptions
    clock: Clock
    income: float
    progress: Progress | None
    enough: float
    best: tuple[int, ...] | None = None
    value: float = -math.inf
    bound: float = math.inf
    rounds: int = 0
    message: str = ""
    met: bool = False

    def lower(self, bound: float) -> None:
        self.bound = min(self.bound, bound)

    def offer(self, plan: tuple[int, ...], value: float) -> None:
        if value > self.value:
            self.best, self.value = plan, value

    def agrees(self, bound: float, slack: float = SLACK) -> bool:
        return _agree(self.options, self.value, bound, slack)

    def is_enough(self) -> bool:
        """Say whether a plan is known and its bound as low as is of use."""
        return self.best is not None and self.bound <= self.enough

    def report(self) -> None:
        if self.progress:
            self.progress(self.rounds, self.value, self.bound)


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """The season among some of its pairs: those of ``keep``, by their indices in the whole.

    No plan that makes another pair is worth more than ``outside``.
    """

    search: Search
    keep: NDArray[np.intp]
    outside: float

    @staticmethod
    def of(
        whole: Search, relaxed: Relaxed, room: float, proof: _Proof, omit: Collection[str]
    ) -> _Part:
        count = len(whole.problem.candidates)
        keep = _near(whole.problem, relaxed, room, proof.best or ())
        if count <= _FEW_PAIRS or keep.size == count:
            return _Part(whole, np.arange(count), -math.inf)
        search = Search.of(among(whole.problem, keep.tolist()), omit)
        for bounds in for_part(whole.learnt, keep.tolist()):
            search.add(bounds)
        search.tighten(_enough(proof.options))
        return _Part(search, keep, relaxed.bound + proof.income - room)

    def in_whole(self, chosen: Sequence[int]) -> tuple[int, ...]:
        return tuple(self.keep[list(chosen)].tolist())

    def narrow(self, proof: _Proof) -> float:
        """Close pairs that are in no plan as good as the best; return a bound on this part."""
        relaxed = self.search.tighten(_enough(proof.options))
        if relaxed is None:
            return -math.inf
        bound = relaxed.bound + proof.income
        far = relaxed.without > bound - proof.value + _margin(proof.value)
        models.close(self.search.model, np.flatnonzero(far & (relaxed.amounts < SLACK)))
        return bound


def _near(problem: Problem, relaxed: Relaxed, room: float, best: Sequence[int]) -> NDArray[np.intp]:
    """Return the pairs that can be in a plan within ``room`` of a bound, and those asked for."""
    kept = (relaxed.without <= room) | (relaxed.amounts > SLACK)
    kept[list(best)] = True
    return np.flatnonzero(kept | problem.must_stand())


def _enough(options: SolveOptions) -> float:
    """Return the share of a bound below which it is not worth a round to lower it."""
    return max(min(options.gap, 1.0) / 20, 5 * _MARGIN)


def _margin(value: float) -> float:
    return _MARGIN * max(1.0, abs(value))


def _agree(options: SolveOptions, value: float, bound: float, slack: float = SLACK) -> bool:
    """Say whether a plan's value and a bound are within the gap, or a solver's tolerance."""
    allowed = max(options.gap, slack) * max(1.0, abs(value))
    return value > -math.inf and bound - value <= allowed


def _room_needed(options: SolveOptions, most: float, value: float, room: float) -> float:
    """Return how far below a bound on all plans one can lie that is still of interest."""
    if value == -math.inf:
        return _MORE_ROOM * room
    wanted = most - value + _margin(value)
    if options.gap > DEFAULT_GAP:
        wanted -= options.gap * max(1.0, abs(value))
    return max(wanted, _margin(value))


def _prove(part: _Part, proof: _Proof) -> bool:
    """Search a part of the season; say whether that is the end, or a larger part is needed."""
    search = part.search
    met_plans: set[tuple[int, ...] | None] = set()
    bound = math.inf
    while True:
        run = _run(search, proof)
        proof.rounds += 1
        proof.message = run.message
        if run.outcome is Outcome.INFEASIBLE:
            proof.lower(max(part.outside, proof.value))
            proof.met = proof.agrees(proof.bound)
            return proof.met or part.outside == -math.inf
        bound = min(bound, run.bound + proof.income)
        proof.lower(max(bound, part.outside))
        if run.chosen is not None and search.keeps_chances(run.chosen):
            proof.offer(part.in_whole(run.chosen), search.value(run.chosen))
        proof.report()
        # A plan met twice has its exact bounds already: what is left is the solver's tolerance.
        again = run.chosen in met_plans
        proof.met = proof.agrees(proof.bound, _TOLERANCE if again else SLACK)
        stopped = proof.clock.is_over(proof.best is not None)
        stopped |= run.outcome is Outcome.STOPPED and not is_asked()
        stopped |= proof.is_enough()
        if proof.met or again or stopped or run.chosen is None:
            return True
        if proof.best is not None and not proof.agrees(part.outside):
            return False
        met_plans.add(run.chosen)
        search.refine(run.chosen)
        bound = min(bound, part.narrow(proof))


def _run(search: Search, proof: _Proof) -> Run:
    """Solve the model to well within the gap; a loose gap asks for no more where that is hard.

    Effort is counted in nodes, not seconds, so that it is the same on every machine.
    """
    model, options, clock = search.model, proof.options, proof.clock
    if options.gap <= DEFAULT_GAP:
        return models.run(model, options.solver, options.gap / 8, clock.left())
    run = models.run(model, options.solver, options.gap / 8, clock.left(), _FEW_NODES)
    if run.outcome is not Outcome.STOPPED or is_asked() or clock.is_over():
        return run
    return models.run(model, options.solver, options.gap / 2, clock.left())


def impossible(rounds: int = 0, message: str = "") -> Solution:
    """Return the answer for a season that no plan satisfies."""
    return Solution(
        verdict=Verdict.IMPOSSIBLE,
        chosen=None,
        objective=-math.inf,
        bound=-math.inf,
        rounds=rounds,
        message=message,
    )


def _settle_tie(part: _Part, proof: _Proof) -> None:
    """Among plans as good as the best, take the one of highest rank, the same on every machine.

    A pair's rank is drawn from its names alone, so neither the order of rows nor the solver's path
    matters. With a loose gap there is no tie to settle: any plan within it may be returned.
    """
    search, slack = part.search, SLACK * max(1.0, abs(proof.value))
    models.prefer(search.model, proof.value - proof.income - slack, _ranks(search.problem))
    for _ in range(_TIE_ROUNDS):
        run = models.run(search.model, proof.options.solver, 0.0, proof.clock.left())
        if run.outcome is not Outcome.OPTIMAL or run.chosen is None:
            break
        worth = search.value(run.chosen)
        if worth >= proof.value - 2 * slack and search.keeps_chances(run.chosen):
            proof.best, proof.value = part.in_whole(run.chosen), worth
            break
        search.refine(run.chosen)


def _ranks(problem: Problem) -> tuple[int, ...]:
    """Return a whole number below zero for each pair, from a hash of its names.

    Of plans worth the same, the one with fewer pairs thus comes first.
    """
    names = map("\n".join, problem.columns.pairs)
    return tuple(
        int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") % 1_000_000 - 2_000_000
        for name in names
    )
