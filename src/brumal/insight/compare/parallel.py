"""Independent questions about seasons that differ little, answered by worker processes.

The base season is made ready once and kept: workers are forked from it where that can be done, else
each makes it ready for itself. Answers do not depend on which worker gives them or in which order,
so that one worker and many come to the same bytes.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field

from brumal.insight.compare.columns import Answer, Planned
from brumal.insight.compare.workbench import Workbench
from brumal.pipeline import Prepared
from brumal.planner.solver.answer import SolveOptions
from brumal.planner.solver.interrupt import stopping_all
from brumal.processes import begin_helper, end_helpers, may_fork
from brumal.records.faults import Fault, InputError, Where
from brumal.records.folder import SeasonRecords

WORKERS = 2
FEW = 2
"""So few questions are answered at once sooner than a worker has started."""

Told = Callable[[int, int, str], None]
"""Called after each answer with (answers so far, questions, name of the one answered)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One season to be solved; ``whole`` asks for the plan in words, else its value is enough."""

    name: str
    records: SeasonRecords
    whole: bool = True
    joined: tuple[str, ...] = ()


Reply = Planned | Answer | tuple[Fault, ...]
"""The plan, its value, or the faults that leave none."""


@dataclass(slots=True)
class Bench:
    """Where questions are put: the base season, how to solve, and how many workers there are.

    Workers live as long as the bench is open (use it in a ``with`` statement), so that rounds of
    questions share what was made ready. One worker is this process itself. ``prepared`` is the base
    season made ready before, if it was.
    """

    base: SeasonRecords
    options: SolveOptions
    workers: int = WORKERS
    told: Told | None = None
    prepared: Prepared | None = None
    _may_fork: bool = sys.platform == "linux"
    _here: Workbench | None = None
    _pool: ProcessPoolExecutor | None = field(default=None, repr=False)

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, raised: type[BaseException] | None, *_: object) -> None:
        if self._pool is not None:
            end_helpers(self._pool, at_once=raised is not None)
            self._pool = None

    def ask(self, questions: Sequence[Question]) -> list[Reply]:
        """Return the replies in the order of the questions."""
        if self.workers <= 1 or (len(questions) <= FEW and self._pool is None):
            with stopping_all():
                return list(self._answered_here(questions))
        return self._answered_by_workers(questions)

    def _answered_here(self, questions: Sequence[Question]) -> Iterator[Reply]:
        if self._here is None:
            self._here = Workbench(self.base, self.options, self.prepared)
            self._may_fork = False
        for number, question in enumerate(questions, start=1):
            yield _reply(self._here, question)
            if self.told:
                self.told(number, len(questions), question.name)

    def _answered_by_workers(self, questions: Sequence[Question]) -> list[Reply]:
        if self._pool is None:
            self._pool = self._started()
        with may_fork():
            asked = [self._pool.submit(_answer, question) for question in questions]
        for number, done in enumerate(as_completed(asked), start=1):
            if self.told:
                self.told(number, len(questions), questions[asked.index(done)].name)
        replies = [_result(each) for each in asked]
        if any(each.exception() for each in asked):
            self._pool, self._may_fork = None, False
        return replies

    def _started(self) -> ProcessPoolExecutor:
        """Return workers: forked with the base season ready, or spawned.

        A solver's threads would not survive a fork, so none is made once this process has solved.
        """
        forks = self._may_fork
        workbench = Workbench(self.base, self.options, self.prepared if forks else None)
        if forks:
            with contextlib.suppress(InputError):  # Each question will be told the faults.
                workbench.make_ready()
        return ProcessPoolExecutor(
            self.workers,
            mp_context=multiprocessing.get_context("fork" if forks else "spawn"),
            initializer=_start,
            initargs=(workbench,),
        )


_bench: Workbench | None = None
"""A worker's own workbench."""


def _start(workbench: Workbench) -> None:
    global _bench
    begin_helper()
    _bench = workbench


def _answer(question: Question) -> Reply:
    assert _bench is not None
    return _reply(_bench, question)


def _reply(bench: Workbench, question: Question) -> Reply:
    try:
        if question.whole:
            return bench.planned(question.records, question.joined)
        return bench.answer(question.records)
    except InputError as error:
        return error.faults
    except MemoryError:
        return (_lost("more than the memory there is"),)


def _result(future: Future[Reply]) -> Reply:
    try:
        return future.result()
    except BrokenProcessPool:
        return (_lost("a worker that ended without an answer"),)


def _lost(found: str) -> Fault:
    return Fault(
        where=Where(file="this computer"),
        found=found,
        expected="room to solve the season",
        repair="Try --workers 1, or fewer scenarios at once.",
    )
