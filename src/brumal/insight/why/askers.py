"""Many questions about one solved season, shared between processes.

Each process keeps the solved season ready; a question travels as its difference from it. Answers do
not depend on which process gives them.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields, replace

from brumal.memory import begin_helper, end_helpers
from brumal.planner.pairing import Candidate
from brumal.planner.problem import Problem
from brumal.planner.resolve import Resolver
from brumal.planner.solve import Solution, SolveOptions


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A season as its difference from another.

    ``pairs`` are its candidates in order: a number stands for a candidate of the other season.
    ``None``: the same ones. ``others`` are fields that differ.
    """

    pairs: tuple[int | Candidate, ...] | None
    others: Mapping[str, object]


def pack(base: Problem, changed: Problem) -> Packed:
    """Return a season as its difference from ``base``."""
    others = {
        each.name: getattr(changed, each.name)
        for each in fields(Problem)
        if each.name != "candidates" and getattr(changed, each.name) is not getattr(base, each.name)
    }
    if changed.candidates is base.candidates:
        return Packed(pairs=None, others=others)
    place = {id(candidate): index for index, candidate in enumerate(base.candidates)}
    pairs = tuple(place.get(id(candidate), candidate) for candidate in changed.candidates)
    return Packed(pairs=pairs, others=others)


def unpack(base: Problem, packed: Packed) -> Problem:
    """Return the season that was packed."""
    candidates = base.candidates
    if packed.pairs is not None:
        candidates = tuple(
            base.candidates[each] if isinstance(each, int) else each for each in packed.pairs
        )
    return replace(base, candidates=candidates, **packed.others)  # type: ignore[arg-type]


class Askers:
    """Processes that answer questions about one solved season; use it in a ``with`` statement."""

    def __init__(
        self, problem: Problem, solution: Solution, options: SolveOptions, workers: int
    ) -> None:
        """Start ``workers`` processes when the first questions come."""
        self._problem = problem
        # Processes are spawned, never forked: a solver's threads do not survive a fork.
        self._pool = ProcessPoolExecutor(
            workers,
            mp_context=multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(problem, solution, options),
        )

    def __enter__(self) -> Askers:
        return self

    def __exit__(self, raised: type[BaseException] | None, *_: object) -> None:
        end_helpers(self._pool, at_once=raised is not None)

    def ask(self, questions: Sequence[tuple[Problem, float]]) -> Iterator[Solution]:
        """Yield the solutions of changed seasons, each with its gap, in their order."""
        packed = [pack(self._problem, changed) for changed, _ in questions]
        yield from self._pool.map(_answer, packed, [gap for _, gap in questions])


_resolver: Resolver | None = None
"""A process's own."""


def _begin(problem: Problem, solution: Solution, options: SolveOptions) -> None:
    global _resolver
    begin_helper()
    _resolver = Resolver(problem, solution, options)


def _answer(packed: Packed, gap: float) -> Solution:
    assert _resolver is not None
    found = _resolver.within(gap).ask(unpack(_resolver.problem, packed))
    return replace(found, learnt=())
