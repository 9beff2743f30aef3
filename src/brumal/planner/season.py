"""A prepared season solved: its candidate pairs, the problem they make and the best plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from brumal.forecast.occupancy import FullestWeeks, WeekLoad, fullest_weeks, week_loads
from brumal.forecast.rounds import visits_capacity
from brumal.pipeline import Prepared
from brumal.planner.infeasible import InfeasibleSet, infeasible_set
from brumal.planner.locks import forbidden_pairs, wanted_pairs
from brumal.planner.offers import idle_income, use_costs
from brumal.planner.pairs.candidate import Candidate, Pair
from brumal.planner.pairs.candidates import Candidates, find_candidates, penalties_of
from brumal.planner.problem import Problem
from brumal.planner.risk.samples import risk_of
from brumal.planner.season_routes import SeasonRoute, season_routes
from brumal.planner.solver.answer import (
    USUAL,
    Progress,
    Solution,
    SolveOptions,
    Verdict,
    impossible,
)
from brumal.planner.solver.solve import solve
from brumal.planner.visiting import LaidOut, Visiting, lay_out
from brumal.planner.wishes.surplus import Cut, all_terms
from brumal.records.animals import Sex
from brumal.records.season_state import MAY_MEET
from brumal.rules.body_rules import BREEDING_STATUS
from brumal.rules.males import male_limit
from brumal.rules.readiness import Readiness, readiness


@dataclass(frozen=True, kw_only=True)
class SolvedSeason:
    """A prepared season, its candidate pairs, the problem they make and its solution.

    ``forbidden`` are pairs that have to stand and may not: where there are any, there is no plan.
    ``given_up`` are chance wishes left out because, with all that has happened, no plan keeps them.
    """

    prepared: Prepared
    found: Candidates
    problem: Problem
    solution: Solution
    options: SolveOptions
    forbidden: tuple[InfeasibleSet, ...] = ()
    routes: tuple[SeasonRoute, ...] = ()
    given_up: tuple[str, ...] = ()

    @cached_property
    def pairs(self) -> tuple[Candidate, ...]:
        """Return the pairs of the plan, by dam."""
        chosen = [self.problem.candidates[index] for index in self.solution.chosen or ()]
        return tuple(sorted(chosen, key=lambda each: each.pair))

    @cached_property
    def laid_out(self) -> LaidOut:
        """Return the visits of the plan day by day, and what they serve."""
        found, needs = self.found, {each.pair: each.value for each in self.pairs}
        held = [pair for pair in needs if found.held(pair)]
        return lay_out(self.prepared, found.clutches, found.starts, needs, held)

    @cached_property
    def weeks(self) -> tuple[WeekLoad, ...]:
        """Return what is in use of boxes and tubs, week by week."""
        return week_loads(self.laid_out.expected, self.prepared.records.settings.box)

    @cached_property
    def as_visited(self) -> Problem:
        """Return the season of the plan's own pairs, in order, priced by their real visits."""
        made = self.problem.only(self.solution.chosen or ())
        clutches = [self.laid_out.clutches[each.pair] for each in made.candidates]
        if all(clutch is self.found.clutches[clutch.dam, clutch.sire] for clutch in clutches):
            return made
        pricing = self.found.pricing.of_plan()
        fresh = pricing.candidates(clutches, penalties_of(self.found.verdicts))
        return replace(made, candidates=tuple(fresh), family_states=pricing.following.weights)

    @cached_property
    def mates(self) -> dict[str, str]:
        """Return the sire of each paired dam."""
        return {pair.dam: pair.sire for pair in self.pairs}

    @cached_property
    def place(self) -> dict[Pair, int]:
        """Return the index of each candidate pair."""
        return {pair: index for index, pair in enumerate(self.problem.columns.pairs)}

    @cached_property
    def ready(self) -> dict[str, Readiness]:
        """Return how near each animal of the collection is to breeding."""
        prepared = self.prepared
        found = readiness(prepared.records, prepared.rules, prepared.forecasts, prepared.starts)
        return {one.animal.id: one for one in found}

    @cached_property
    def infeasible(self) -> tuple[InfeasibleSet, ...]:
        """Return why there is no plan: sets of statements that cannot all hold."""
        if self.forbidden or self.solution.verdict is not Verdict.IMPOSSIBLE:
            return self.forbidden
        return (infeasible_set(self.problem, self.options.solver, self.label),)

    @property
    def currency(self) -> str:
        """Return the keeper's currency."""
        return self.prepared.records.settings.currency

    def label(self, animal: str) -> str:
        """Return the name with the id."""
        return self.prepared.label(animal)

    def held_back(self, pair: Pair) -> float:
        """Return what young to hold back add to an open pair, where no other pair has any.

        Of each wish no more count than are kept.
        """
        alone = self.problem.only([self.place[pair]])
        terms = zip(alone.wish_terms, all_terms(alone), self.found.pricing.terms, strict=True)
        beyond = sum(
            wish.cost * laws.surplus(range(1)) for wish, laws, each in terms if each.full_extra
        )
        return alone.candidates[0].extra - beyond

    def candidates_of(self, dam: str) -> Sequence[Candidate]:
        """Return the open pairs of a female."""
        places = [place for pair, place in self.place.items() if pair[0] == dam]
        return [self.problem.candidates[place] for place in places]


def solve_season(
    prepared: Prepared,
    options: SolveOptions | None = None,
    progress: Progress | None = None,
    *,
    found: Candidates | None = None,
    known: Sequence[Cut] = (),
) -> SolvedSeason:
    """Solve a prepared season, whose candidate pairs may have been ``found`` already.

    ``known`` are cuts to start from, by the candidates' indices.
    """
    options = options or USUAL
    found = found or find_candidates(prepared)
    routes = season_routes(prepared)
    problem = problem_of(prepared, found, routes)
    forbidden = forbidden_pairs(prepared, found)
    solution = impossible() if forbidden else solve(problem, options, progress, known=known)
    given_up: tuple[str, ...] = ()
    if problem.facts and problem.chances and solution.verdict is Verdict.IMPOSSIBLE:
        # The season goes on whatever can no longer be had of it.
        given_up = tuple(wish.words for wish in problem.chances)
        problem = replace(problem, chances=())
        solution = solve(problem, options, progress)
    return SolvedSeason(
        prepared=prepared,
        found=found,
        problem=problem,
        solution=solution,
        options=options,
        forbidden=forbidden,
        routes=routes,
        given_up=given_up,
    )


def problem_of(
    prepared: Prepared, found: Candidates, routes: Sequence[SeasonRoute] | None = None
) -> Problem:
    """State the season as a problem free of any solver; its routes may have been found already."""
    routes = season_routes(prepared) if routes is None else routes
    settings = prepared.records.settings
    offers = settings.offers
    weeks, shares = _present(prepared, found)
    females = sum(
        animal.sex is Sex.FEMALE and animal.status in BREEDING_STATUS
        for animal in prepared.records.collection
    )
    problem = Problem(
        candidates=found.open,
        male_limits={
            sire: min(
                most_visited(prepared, sire),
                male_limit(prepared.animals[sire], prepared.records)[0],
            )
            for sire in sorted({sire for _, sire in found.clutches})
        },
        sires=prepared.mixed,
        family_states=found.pricing.following.weights,
        boxes=settings.limits.boxes,
        box_clutches=settings.box.clutches,
        small_clutch=settings.box.small_clutch,
        tubs=settings.limits.tubs,
        in_box=weeks.in_box,
        shares=shares,
        in_tub=weeks.in_tub,
        sure=settings.limits.weekly or 1.0,
        must=wanted_pairs(prepared.records),
        made=frozenset(prepared.records.already_paired),
        facts=prepared.records.facts,
        real=_laid(prepared),
        use_costs=use_costs(prepared),
        paid=frozenset((*offers.borrow, *offers.buy)),
        income=idle_income(prepared),
        spend=settings.limits.spend,
        most_pairs=max(0, females - settings.limits.resting) if settings.limits.resting else None,
        sire_share=settings.limits.sire_share,
        max_kin=settings.kin.max_kept_kinship,
        wish_terms=tuple(counted.term for counted in found.pricing.terms),
        chances=tuple(counted.wish for counted in found.pricing.chances),
        risk=risk_of(settings.risk),
        routes=tuple(route.worth for route in routes),
        agreed=_agreed(prepared, found),
        keep_for=settings.season.keep_pairs_for,
    )
    return problem.with_room()


def _agreed(prepared: Prepared, found: Candidates) -> frozenset[Pair]:
    """Return the agreed pairs that can still be had and have not met yet."""
    settled = dict(prepared.records.already_paired)
    return frozenset(
        pair
        for pair in prepared.records.agreed
        if pair in found.clutches and pair[0] not in settled
    )


def most_visited(prepared: Prepared, sire: str) -> int:
    """Return how many females a male may have in all, by the days that are left.

    He reaches so many often enough from the day he may start, beside those that count as his and
    need no visit of him any more.
    """
    settings, start = prepared.records.settings, prepared.starts.get(sire)
    females = prepared.records.state.females
    served = {dam for dam, her in females.items() if her.stage not in MAY_MEET}
    done = sum(
        male == sire and (named != sire or dam in served)
        for dam, named in prepared.records.already_paired
        for male in prepared.mixed.get((dam, named), (named,))
    )
    return done + visits_capacity(settings.season, settings.visits, start.day if start else None)


def _present(prepared: Prepared, found: Candidates) -> tuple[FullestWeeks, dict[Pair, float]]:
    """Return what the fullest weeks hold of any clutch, and each pair's share of it.

    Visits are ordinary ones, as pairs are priced; a weight still to come counts as reached, since
    the females of one male wait for it together. All are there where weeks do not count.
    """
    if not prepared.records.settings.limits.weekly:
        return FullestWeeks(), {}
    visiting, real = Visiting.of(prepared), {dam for dam, _ in _laid(prepared)}
    kinds: dict[tuple[str, date | None], float] = {}
    kind_of: dict[Pair, tuple[str, date | None]] = {}
    for pair, clutch in found.clutches.items():
        if pair[0] in real:
            continue
        start = found.starts[pair]
        kind = kind_of[pair] = pair[0], start.day if visiting.counts(pair) else None
        kinds[kind] = max(kinds.get(kind, 0.0), clutch.goes / start.chance)
    weeks = fullest_weeks(
        [
            (goes, visiting.dates(dam, visiting.served_days(dam, on)))
            for (dam, on), goes in kinds.items()
        ]
    )
    shares = dict(zip(kinds, weeks.shares, strict=True))
    return weeks, {pair: shares[kind] for pair, kind in kind_of.items()}


def _laid(prepared: Prepared) -> frozenset[Pair]:
    """Return the pairs whose eggs are there, or have been."""
    females = prepared.records.state.females
    return frozenset(
        pair for pair in prepared.records.state.made if females[pair[0]].clutch is not None
    )
