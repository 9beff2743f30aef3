"""A season made ready once, so that seasons which differ little from it are planned quickly.

Records, genotypes, kinship, crosses and priced pairs that a change does not touch are shared; every
answer is the one that ``brumal plan`` gives on a folder with the change written in by hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from brumal.insight.compare.columns import Answer, Binding, Earning, Planned
from brumal.insight.simulate.season_spread import PairDraws, simulated_spread
from brumal.insight.solved import SolvedSeason
from brumal.pipeline import Prepared, prepare_records
from brumal.planner.candidates import Candidates, find_candidates
from brumal.planner.left_out import MOST_RESOLVED
from brumal.planner.limits_met import limits_met, seem_full
from brumal.planner.locks import lock_clashes
from brumal.planner.outcomes import Looks
from brumal.planner.problem import Problem
from brumal.planner.resolve import Resolver
from brumal.planner.season import plan_found, problem_of
from brumal.planner.solve import (
    DEFAULT_GAP,
    Solution,
    SolveOptions,
    Verdict,
    impossible,
    solve,
)
from brumal.records.folder import SeasonRecords
from brumal.records.settings import Box, Settings

SELL = "sell"
_WORTH_TELLING = 0.005
"""Differences of money below half a cent are none."""


@dataclass(frozen=True, slots=True)
class _Ready:
    """A season with its pairs priced, and what those rest on."""

    rests_on: SeasonRecords
    prepared: Prepared
    found: Candidates


class Workbench:
    """Plans seasons that differ from a base; keeps the base and the last other one at hand."""

    def __init__(
        self,
        base: SeasonRecords,
        options: SolveOptions | None = None,
        prepared: Prepared | None = None,
    ) -> None:
        """Take the base season, ``prepared`` already if it was, and how to solve."""
        self.options = options or SolveOptions()
        self._base_records = base
        self._prepared = prepared
        self._base: _Ready | None = None
        self._last: _Ready | None = None
        self._resolver: Resolver | None = None
        self._looks = Looks()
        self._draws = PairDraws()

    def planned(self, records: SeasonRecords, joined: Iterable[str] = ()) -> Planned:
        """Return the whole plan of a season, which limits bind, and what ``joined`` animals earn.

        Raises :class:`brumal.records.faults.InputError` where the records hold errors.
        """
        prepared, found = self._ready(records)
        problem = problem_of(prepared, found)
        solution = self._solution(prepared, found, problem)
        season = SolvedSeason(
            prepared=prepared,
            found=found,
            problem=problem,
            solution=solution,
            options=self.options,
        )
        looks, draws = self._told_before(prepared, found)
        plan = plan_found(prepared, found, self.options, solution=solution, looks=looks)
        solved = plan.objective is not None
        offered = {each.id: each.money for each in plan.offers if each.taken and each.kind != SELL}
        return Planned(
            plan=plan,
            spread=simulated_spread(season, draws) if solved else None,
            binding=self._binding(season) if solved else (),
            earnings=tuple(
                self._earning(season, animal, offered.get(animal, 0.0))
                for animal in dict.fromkeys((*joined, *sorted(offered)))
            ),
        )

    def _told_before(self, prepared: Prepared, found: Candidates) -> tuple[Looks, PairDraws]:
        """Return what is told of pairs so far, as far as it holds in this season."""
        base, pricing = self._base, found.pricing
        assert base is not None
        same_costs = prepared.costs == base.prepared.costs
        looks, draws = self._looks, self._draws if same_costs else PairDraws()
        if pricing is base.found.pricing:
            return looks, draws
        if pricing.like is not base.found.pricing:
            return Looks(), PairDraws()
        if pricing.changed:
            return looks.only(pricing.keeps), draws.only(pricing.keeps)
        return looks, draws

    def answer(self, records: SeasonRecords) -> Answer:
        """Return the best value of a season and its pairs, without the words of a whole plan.

        Raises :class:`brumal.records.faults.InputError` where the records hold errors.
        """
        prepared, found = self._ready(records)
        problem = problem_of(prepared, found)
        return _answer(problem, self._solution(prepared, found, problem))

    def _solution(self, prepared: Prepared, found: Candidates, problem: Problem) -> Solution:
        """Return the solution of a season; locks that forbid each other leave none."""
        if lock_clashes(prepared, found):
            return impossible()
        return self._solved(problem, found)

    def _solved(
        self, problem: Problem, found: Candidates | None = None, value_only: bool = False
    ) -> Solution:
        """Solve a season from what the base season's solve has learnt.

        Nothing is learnt from other seasons, so that no answer hangs on what was asked before. A
        solve that may stop early at a loose gap is left to itself: it is soon done.
        """
        if self.options.gap > DEFAULT_GAP:
            return solve(problem, self.options)
        base = self._base
        assert base is not None
        if self._resolver is None:
            first = problem_of(base.prepared, base.found)
            clash = lock_clashes(base.prepared, base.found)
            solved = impossible() if clash else solve(first, self.options)
            self._resolver = Resolver(first, solved, self.options)
        if found is base.found and problem == self._resolver.problem:
            return self._resolver.solution
        resolver = self._resolver.for_values() if value_only else self._resolver
        return resolver.ask(problem)

    def _ready(self, records: SeasonRecords) -> tuple[Prepared, Candidates]:
        base = self.make_ready()
        rests_on = _rests_on(records)
        for ready in (base, self._last):
            if ready is not None and ready.rests_on == rests_on:
                rules = replace(ready.prepared.rules, settings=records.settings)
                return replace(ready.prepared, records=records, rules=rules), ready.found
        self._last = self._made_ready(records, base)
        return self._last.prepared, self._last.found

    def make_ready(self) -> _Ready:
        """Make the base season ready, once; the first question does so by itself.

        Raises :class:`brumal.records.faults.InputError` where its records hold errors.
        """
        if self._base is None:
            prepared = self._prepared or prepare_records(self._base_records)
            found = find_candidates(prepared)
            self._base = _Ready(_rests_on(self._base_records), prepared, found)
        return self._base

    def _made_ready(self, records: SeasonRecords, like: _Ready) -> _Ready:
        prepared = prepare_records(records, like=like.prepared)
        found = find_candidates(prepared, like.found)
        return _Ready(_rests_on(records), prepared, found)

    def _earning(self, season: SolvedSeason, animal: str, offer: float) -> Earning:
        """Return what an animal adds: the plan's value less that of the best plan without it."""
        problem, solution = season.problem, season.solution
        pairs = sum(animal in problem.candidates[n].pair for n in solution.chosen or ())
        if not pairs:
            known = None if solution.chosen is None else 0.0
            return Earning(animal=animal, pairs=0, earns=known, offer=offer)
        without = None
        if not any(animal in pair for pair in problem.must):
            others = tuple(each for each in problem.candidates if animal not in each.pair)
            without = self._asked(replace(problem, candidates=others))
        earns = None
        if without is not None:
            earns = round(max(0.0, solution.objective - without) + offer, 6)
        return Earning(animal=animal, pairs=pairs, earns=earns, offer=offer)

    def _binding(self, season: SolvedSeason) -> tuple[Binding, ...]:
        """Return the limits that hold the plan back, each left out alone where that is quick."""
        problem, solution = season.problem, season.solution
        resolved = len(problem.candidates) <= MOST_RESOLVED
        found = []
        chosen = solution.chosen or ()
        for limit in limits_met(problem, chosen, season.label):
            if not resolved and not seem_full(problem, chosen, limit.id):
                continue
            free = self._asked(limit.without) if resolved else None
            costs = None if free is None else round(free - solution.objective, 6)
            if costs is None or costs > _WORTH_TELLING:
                found.append(Binding(id=limit.id, words=limit.words, costs=costs))
        return tuple(found)

    def _asked(self, problem: Problem) -> float | None:
        """Return the best value of a season, ``None`` where no plan is found."""
        answer = self._solved(problem, value_only=True)
        return None if answer.chosen is None else answer.objective


def _answer(problem: Problem, solution: Solution) -> Answer:
    chosen = solution.chosen
    solved = chosen is not None
    pairs = tuple(problem.candidates[n].pair for n in chosen or ())
    return Answer(
        verdict=solution.verdict,
        objective=round(solution.objective, 6) if solved else None,
        bound=round(solution.bound, 6) if solution.verdict is not Verdict.IMPOSSIBLE else None,
        pairs=pairs,
        boxes=problem.boxes_used(chosen or ()),
        young=round(sum(problem.candidates[n].young for n in chosen or ()), 6),
    )


def _rests_on(records: SeasonRecords) -> SeasonRecords:
    """Return what candidate pairs and their prices are made from; all else is set aside.

    Room (boxes, tubs), pairings a male and pairs that must stand decide which pairs are chosen, not
    which there are.
    """
    return replace(
        records,
        settings=_without_room(records.settings),
        season_text="",
        what_if={},
        fingerprints={},
    )


def _without_room(settings: Settings) -> Settings:
    limits = replace(settings.limits, boxes=None, tubs=None, pairings_per_male=None)
    locks = replace(settings.locks, must_pair=())
    return replace(settings, limits=limits, locks=locks, box=Box())
