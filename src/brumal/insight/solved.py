"""A solved season with everything that questions about it rest on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from brumal.pipeline import Prepared
from brumal.planner.candidates import Candidates, find_candidates
from brumal.planner.clash import Clash
from brumal.planner.locks import lock_clashes
from brumal.planner.pairing import Candidate, Pair
from brumal.planner.problem import Problem
from brumal.planner.season import problem_of
from brumal.planner.solve import Progress, Solution, SolveOptions, impossible, solve
from brumal.rules.readiness import Readiness, readiness


@dataclass(frozen=True, kw_only=True)
class SolvedSeason:
    """A prepared season, its candidate pairs, the problem they make and its solution.

    ``clashes`` are locks that forbid each other, where there is no plan for that reason.
    """

    prepared: Prepared
    found: Candidates
    problem: Problem
    solution: Solution
    options: SolveOptions
    clashes: tuple[Clash, ...] = ()

    @cached_property
    def pairs(self) -> tuple[Candidate, ...]:
        """Return the pairs of the plan, by dam."""
        chosen = [self.problem.candidates[index] for index in self.solution.chosen or ()]
        return tuple(sorted(chosen, key=lambda each: each.pair))

    @cached_property
    def mates(self) -> dict[str, str]:
        """Return the sire of each paired dam."""
        return {pair.dam: pair.sire for pair in self.pairs}

    @cached_property
    def place(self) -> dict[Pair, int]:
        """Return the index of each candidate pair."""
        return {each.pair: index for index, each in enumerate(self.problem.candidates)}

    @cached_property
    def ready(self) -> dict[str, Readiness]:
        """Return how near each animal of the collection is to breeding."""
        prepared = self.prepared
        found = readiness(prepared.records, prepared.rules, prepared.forecasts)
        return {one.animal.id: one for one in found}

    @property
    def currency(self) -> str:
        """Return the keeper's currency."""
        return self.prepared.records.settings.currency

    def label(self, animal: str) -> str:
        """Return the name with the id."""
        return self.prepared.label(animal)

    def candidates_of(self, dam: str) -> Sequence[Candidate]:
        """Return the open pairs of a female."""
        return [each for each in self.problem.candidates if each.dam == dam]


def solve_season(
    prepared: Prepared,
    options: SolveOptions | None = None,
    progress: Progress | None = None,
) -> SolvedSeason:
    """Find the candidate pairs of a prepared season and solve it."""
    options = options or SolveOptions()
    found = find_candidates(prepared)
    problem = problem_of(prepared, found)
    clashes = lock_clashes(prepared, found)
    return SolvedSeason(
        prepared=prepared,
        found=found,
        problem=problem,
        solution=impossible() if clashes else solve(problem, options, progress),
        options=options,
        clashes=clashes,
    )
