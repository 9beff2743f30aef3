"""Plan a prepared season: candidates, locks, the solve, and the plan that reports read."""

from __future__ import annotations

from brumal.forecast.occupancy import fullest_week
from brumal.forecast.rounds import visits_capacity
from brumal.pipeline import Prepared
from brumal.planner.candidates import Candidates, find_candidates
from brumal.planner.clash import find_clash
from brumal.planner.describe import describe
from brumal.planner.locks import lock_clashes, wanted_pairs
from brumal.planner.luck import risk_of
from brumal.planner.offers import idle_income, use_costs
from brumal.planner.outcomes import Looks
from brumal.planner.plan import Plan
from brumal.planner.problem import Problem
from brumal.planner.solve import Progress, Solution, SolveOptions, Verdict, impossible, solve
from brumal.records.animals import Sex
from brumal.records.settings import Settings
from brumal.rules.body_rules import BREEDING_STATUS
from brumal.rules.males import male_limit
from brumal.timings import timed


def plan_season(
    prepared: Prepared,
    options: SolveOptions | None = None,
    progress: Progress | None = None,
) -> Plan:
    """Return the season's plan; an impossible season is an ordinary answer with its clashes."""
    return plan_found(prepared, find_candidates(prepared), options, progress)


@timed("explaining")
def plan_found(
    prepared: Prepared,
    found: Candidates,
    options: SolveOptions | None = None,
    progress: Progress | None = None,
    solution: Solution | None = None,
    looks: Looks | None = None,
) -> Plan:
    """Return the plan of a season whose candidates, or ``solution``, are found already.

    See ``plan_season``; a solution of a season whose locks clash is not looked at. ``looks`` are
    those of pairs told before, in a season of the same genotypes and prices.
    """
    options = options or SolveOptions()
    problem = problem_of(prepared, found)
    clashes = lock_clashes(prepared, found)
    if clashes:
        return describe(prepared, found, problem, impossible(), options, clashes, looks)
    solution = solution or solve(problem, options, progress)
    if solution.verdict is Verdict.IMPOSSIBLE:
        clashes = (find_clash(problem, options.solver, prepared.label),)
    return describe(prepared, found, problem, solution, options, clashes, looks)


def _present(settings: Settings, found: Candidates) -> tuple[float, float]:
    """Return the chance that a clutch is in its box, and its young in tubs, in the fullest week.

    Every clutch counts as the likeliest to be laid: what is likelier fills no less. Where weeks do
    not count all are there at once.
    """
    if settings.limits.weekly is None:
        return 1.0, 1.0
    week = fullest_week(settings.dates)
    goes = max((clutch.goes for clutch in found.clutches.values()), default=1.0)
    return goes * week.in_box, week.in_tub


def problem_of(prepared: Prepared, found: Candidates) -> Problem:
    """State the season as a problem free of any solver."""
    settings = prepared.records.settings
    visited = visits_capacity(settings.season, settings.visits)
    offers = settings.offers
    in_box, in_tub = _present(settings, found)
    females = sum(
        animal.sex is Sex.FEMALE and animal.status in BREEDING_STATUS
        for animal in prepared.records.collection
    )
    return Problem(
        candidates=found.open,
        male_limits={
            sire: min(visited, male_limit(prepared.animals[sire], prepared.records)[0])
            for sire in sorted({sire for _, sire in found.clutches})
        },
        family_states=found.pricing.following.weights,
        boxes=settings.limits.boxes,
        box_clutches=settings.box.clutches,
        small_clutch=settings.box.small_clutch,
        tubs=settings.limits.tubs,
        in_box=in_box,
        in_tub=in_tub,
        sure=settings.limits.weekly or 1.0,
        must=wanted_pairs(settings.locks),
        made=frozenset(settings.locks.already_paired),
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
    )
