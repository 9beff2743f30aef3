"""Work on a large plan that a second process does while this one goes on with the rest.

The process starts before the season is priced and solved: forked with what is ready where that is
safe, or else anew, to make the same records ready itself. What it gives back is what would be
worked out here, number for number.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

from brumal.forecast.clutch import clutch_for
from brumal.insight.simulate.seasons import Simulation, simulate
from brumal.insight.solved import SolvedSeason
from brumal.memory import begin_helper, may_fork
from brumal.pipeline import Prepared, prepare_records
from brumal.planner.candidates import Candidates
from brumal.planner.pricing import pricing_of
from brumal.planner.problem import Problem
from brumal.planner.search import among
from brumal.planner.solve import Solution, SolveOptions
from brumal.records.animals import Sex
from brumal.records.folder import SeasonRecords

Result = TypeVar("Result")
MANY_MEETINGS = 5000
"""With fewer females times males the work is done sooner than a process has started."""


@dataclass(frozen=True, slots=True)
class Aside:
    """Where work is done: in a process of its own, or here where there is none.

    Both methods return what has to be called for the outcome.
    """

    pool: ProcessPoolExecutor | None

    def begin(self, work: Callable[..., Result], *given: object) -> Callable[[], Result]:
        """Begin a piece of work; a process of its own needs all of it pickled."""
        return self._begun(partial(work, *given), work, *given)

    def simulate(self, season: SolvedSeason) -> Callable[[], Simulation]:
        """Begin to carry out the plan of a solved season in many seasons."""
        chosen = season.solution.chosen or ()
        problem = among(season.problem, chosen)
        solution = replace(season.solution, chosen=tuple(range(len(chosen))), learnt=())
        return self._begun(partial(simulate, season), _draw, problem, solution)

    def _begun(
        self, here: Callable[[], Result], work: Callable[..., Result], *given: object
    ) -> Callable[[], Result]:
        """Begin work there; where the process is lost, all is done ``here``."""
        if self.pool is None:
            return here
        try:
            return partial(_outcome, self.pool.submit(work, *given), here)
        except BrokenProcessPool:
            return here


@contextmanager
def aside_for(
    prepared: Prepared, many: int = MANY_MEETINGS, has_solved: bool = True
) -> Iterator[Aside]:
    """Start a process for a season of so ``many`` meetings, where there is a second core.

    A solver's threads do not survive a fork: a process that ``has_solved`` makes none.
    """
    sexes = [animal.sex for animal in prepared.records.collection]
    meetings = sexes.count(Sex.FEMALE) * sexes.count(Sex.MALE)
    if meetings < many or (os.cpu_count() or 1) < 2:
        yield Aside(None)
        return
    forks = sys.platform == "linux" and not has_solved
    pool = ProcessPoolExecutor(
        1,
        mp_context=multiprocessing.get_context("fork" if forks else "spawn"),
        initializer=_begin,
        initargs=(prepared if forks else prepared.records,),
    )
    with pool:
        # The new process inherits this: Ctrl-C is for the one that writes the plan.
        before = signal.signal(signal.SIGINT, signal.SIG_IGN)
        with may_fork():
            pool.submit(os.getpid)
        signal.signal(signal.SIGINT, before)
        yield Aside(pool)


_ready: Prepared | None = None
"""The season of the second process."""


def _begin(season: Prepared | SeasonRecords) -> None:
    global _ready
    begin_helper()
    _ready = season if isinstance(season, Prepared) else prepare_records(season)


def _draw(problem: Problem, solution: Solution) -> Simulation:
    """Carry out a plan; ``problem`` holds its pairs alone."""
    assert _ready is not None
    animals = _ready.animals
    clutches = {
        each.pair: clutch_for(_ready.forecasts, animals[each.dam], animals[each.sire])
        for each in problem.candidates
    }
    found = Candidates(
        open=problem.candidates,
        verdicts={},
        barred=frozenset(),
        clutches=clutches,
        pricing=pricing_of(_ready),
    )
    season = SolvedSeason(
        prepared=_ready, found=found, problem=problem, solution=solution, options=SolveOptions()
    )
    return simulate(season)


def _outcome(work: Future[Result], here: Callable[[], Result]) -> Result:
    try:
        return work.result()
    except (BrokenProcessPool, MemoryError):
        return here()
