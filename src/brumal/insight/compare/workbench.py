"""A season made ready once, so that seasons which differ little from it are planned quickly.

Records, genotypes, kinship, crosses and priced pairs that a change does not touch are shared; every
answer is proven to the gap that ``brumal plan`` would prove on a folder with the change written in
by hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from brumal.insight.compare.columns import Answer, Binding, Earning, Planned
from brumal.insight.simulate.season_spread import PairDraws, simulated_spread
from brumal.insight.why.counterfactuals import solve_changed
from brumal.pipeline import Prepared, prepare_records
from brumal.planner.describe import plan_of
from brumal.planner.limits.every import limits_of
from brumal.planner.pairs.candidates import Candidates, find_candidates
from brumal.planner.pairs.looks import Looks
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason, problem_of, solve_season
from brumal.planner.solver.answer import USUAL, SolveOptions, Verdict
from brumal.planner.solver.known_cuts import carried
from brumal.planner.wishes.chances import chance_id
from brumal.planner.wishes.surplus import Cut
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
        self.options = options or USUAL
        self._base_records = base
        self._prepared = prepared
        self._base: _Ready | None = None
        self._last: _Ready | None = None
        self._solved: SolvedSeason | None = None
        self._looks = Looks()
        self._draws = PairDraws()

    def planned(self, records: SeasonRecords, joined: Iterable[str] = ()) -> Planned:
        """Return the whole plan of a season, which limits bind, and what ``joined`` animals earn.

        Raises :class:`brumal.records.faults.InputError` where the records hold errors.
        """
        season = self._season(records)
        looks, draws = self._told_before(season.prepared, season.found)
        plan = plan_of(season, looks)
        solved = plan.objective is not None
        offered = {each.id: each.money for each in plan.offers if each.taken and each.kind != SELL}
        return Planned(
            plan=plan,
            spread=simulated_spread(season, draws) if solved else None,
            binding=_binding(season) if solved else (),
            earnings=tuple(
                _earning(season, animal, offered.get(animal, 0.0))
                for animal in dict.fromkeys((*joined, *sorted(offered)))
            ),
        )

    def answer(self, records: SeasonRecords) -> Answer:
        """Return the best value of a season and its pairs, without the words of a whole plan.

        Raises :class:`brumal.records.faults.InputError` where the records hold errors.
        """
        return _answer(self._season(records))

    def ready(self, records: SeasonRecords) -> tuple[Prepared, Candidates]:
        """Return a season with its pairs priced, from the base season where they are the same.

        Raises :class:`brumal.records.faults.InputError` where the records hold errors.
        """
        return self._ready(records)

    def _season(self, records: SeasonRecords) -> SolvedSeason:
        """Solve a season from the plan and the cuts of the base season.

        Nothing is taken from other seasons, so that no answer hangs on what was asked before.
        """
        prepared, found = self._ready(records)
        base = self._solved_base()
        if records is base.prepared.records:
            return base
        plan = tuple(pair.pair for pair in base.pairs)
        problem = problem_of(prepared, found)
        known: tuple[Cut, ...] = carried(base.solution.learnt, base.problem, problem)
        options = replace(self.options, start=plan)
        return solve_season(prepared, options, found=found, known=known)

    def _solved_base(self) -> SolvedSeason:
        if self._solved is None:
            base = self.make_ready()
            self._solved = solve_season(base.prepared, self.options, found=base.found)
        return self._solved

    def _told_before(self, prepared: Prepared, found: Candidates) -> tuple[Looks, PairDraws]:
        """Return what is told of pairs so far, as far as it holds in this season."""
        base, pricing = self._base, found.pricing
        assert base is not None
        was, is_ = base.prepared, prepared
        same = (was.costs, was.records.settings.sale) == (is_.costs, is_.records.settings.sale)
        looks, draws = self._looks, self._draws if same else PairDraws()
        if pricing is base.found.pricing:
            return looks, draws
        if pricing.like is not base.found.pricing:
            return Looks(), PairDraws()
        if pricing.changed:
            return looks.only(pricing.keeps), draws.only(pricing.keeps)
        return looks, draws

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


def _earning(season: SolvedSeason, animal: str, offer: float) -> Earning:
    """Return what an animal adds: the plan's value less that of the best plan without it."""
    problem, solution = season.problem, season.solution
    pairs = sum(animal in pair.pair for pair in season.pairs)
    if not pairs:
        known = None if solution.chosen is None else 0.0
        return Earning(animal=animal, pairs=0, earns=known, offer=offer)
    without = None
    if not any(animal in pair for pair in problem.must):
        places = [at for at, pair in enumerate(problem.columns.pairs) if animal not in pair]
        without = _value(season, problem.only(places))
    earns = None
    if without is not None:
        earns = round(max(0.0, solution.objective - without) + offer, 6)
    return Earning(animal=animal, pairs=pairs, earns=earns, offer=offer)


def _binding(season: SolvedSeason) -> tuple[Binding, ...]:
    """Return the limits and chance wishes that hold the plan back, with what each alone costs."""
    problem, solution = season.problem, season.solution
    asked = {
        limit.setting: (limit.tell(limit.named, season.label), limit.without())
        for limit in reversed(limits_of(problem))
        if limit.holds_back(solution.chosen or ())
    }
    for number, wish in enumerate(problem.chances):
        chances = list(problem.chances)
        chances[number] = replace(wish, at_least=0.0)
        asked[chance_id(wish)] = (wish.words, replace(problem, chances=tuple(chances)))
    found = []
    for name, (words, without) in asked.items():
        free = _value(season, without)
        costs = 0.0 if free is None else round(free - solution.objective, 6)
        if costs > _WORTH_TELLING:
            found.append(Binding(id=name, words=words, costs=costs))
    return tuple(found)


def _value(season: SolvedSeason, changed: Problem) -> float | None:
    """Return the best value of a changed season, ``None`` where no plan is found."""
    answer = solve_changed(season, changed, replace(season.options, value_only=True))
    return None if answer.chosen is None else answer.objective


def _answer(season: SolvedSeason) -> Answer:
    problem, solution = season.problem, season.solution
    solved = solution.chosen is not None
    return Answer(
        verdict=solution.verdict,
        objective=round(solution.objective, 6) if solved else None,
        bound=round(solution.bound, 6) if solution.verdict is not Verdict.IMPOSSIBLE else None,
        pairs=tuple(pair.pair for pair in season.pairs),
        boxes=problem.boxes_used(solution.chosen or ()),
        young=round(sum(pair.young for pair in season.pairs), 6),
        switches=problem.switches(solution.chosen or ()),
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
