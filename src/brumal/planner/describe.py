"""From a solution to the plan that reports read: pairs, sit-outs, males, targets, money, room."""

from __future__ import annotations

import platform
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from importlib.metadata import version

from pydantic import TypeAdapter

from brumal import __version__
from brumal.forecast.occupancy import enough_boxes
from brumal.pipeline import Prepared
from brumal.planner.came import came_of
from brumal.planner.cautions import pair_cautions, plan_cautions, room_caution, unready
from brumal.planner.locks import lock_of
from brumal.planner.offers import keeping
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.pairs.candidates import Candidates
from brumal.planner.pairs.deviation import deviation
from brumal.planner.pairs.looks import Looks
from brumal.planner.pairs.pricing import Pricing
from brumal.planner.plan import (
    BadSeasons,
    Inputs,
    MaleUse,
    Money,
    Offer,
    Outcome,
    Plan,
    PlannedPair,
    Reason,
    Room,
    Target,
)
from brumal.planner.problem import Problem
from brumal.planner.queue import next_in_line
from brumal.planner.recount import by_calendar, kin_notes, visit_notes
from brumal.planner.resting import failed_reasons, left_out, resting_females
from brumal.planner.season import SolvedSeason
from brumal.planner.season_routes import planned_route
from brumal.planner.second_choice import second_choices
from brumal.planner.solver.answer import SolveOptions
from brumal.planner.solver.worth import bad_value, expected_value
from brumal.planner.stand_ins import stand_ins
from brumal.planner.wishes.surplus import all_terms
from brumal.planner.wishes.terms import Counted
from brumal.records.animals import Sex
from brumal.records.season_state import Stage
from brumal.records.settings import Settings
from brumal.rules.males import male_limit
from brumal.timings import timed

_LIBRARIES = ("highspy", "numpy", "pulp")


@timed("explaining")
def plan_of(season: SolvedSeason, looks: Looks | None = None) -> Plan:
    """Return the plan of a solved season; without one it holds who may not breed, and why.

    ``looks`` are those of pairs already told, in a season of the same genotypes and prices.
    """
    looks = looks or Looks()
    prepared, found, problem = season.prepared, season.found, season.problem
    solution, settings = season.solution, prepared.records.settings
    chosen = solution.chosen or ()
    solved = solution.chosen is not None
    pairs = [problem.candidates[index] for index in chosen]
    telling = looks.telling(prepared)
    told = looks.of_many(prepared, telling.sheets, [found.clutches[pair.pair] for pair in pairs])
    room, line = _room(season), next_in_line(season, left_out(season))
    second = second_choices(season)
    return Plan(
        season=settings.season.name,
        currency=settings.currency,
        pair_from=settings.season.pair_from,
        pair_to=settings.season.pair_to,
        as_of=prepared.records.as_of,
        verdict=solution.verdict,
        objective=round(solution.objective, 6) if solved else None,
        bound=round(solution.bound, 6) if solved else None,
        gap=round(solution.gap, 9) if solved else None,
        pairs=tuple(
            replace(
                _planned(prepared, found, telling, problem, pair, outcomes),
                second=second.get(pair.pair),
            )
            for pair, outcomes in zip(pairs, told, strict=True)
        ),
        resting=resting_females(season, line),
        males=_males(prepared, found, problem, pairs),
        targets=_targets(season, telling, pairs),
        routes=tuple(planned_route(each, [pair.pair for pair in pairs]) for each in season.routes),
        money=_money(prepared, problem, found.pricing.terms, chosen),
        bad_seasons=_bad_seasons(problem, chosen) if solved else None,
        room=room,
        by_calendar=by_calendar(season),
        line=line,
        stand_ins=stand_ins(season),
        offers=_offers(prepared, pairs),
        inputs=_inputs(prepared, season.options),
        names={animal.id: animal.label for animal in prepared.records.animals},
        clashes=season.infeasible,
        notes=(
            *(f"No plan can keep this any more: {words}." for words in season.given_up),
            *_averaged(found),
            *kin_notes(season),
            *visit_notes(season, second),
        ),
        cautions=(
            *room_caution(room),
            *plan_cautions(prepared, found, [pair.pair for pair in pairs]),
        ),
        unready=None if pairs else unready(prepared, found),
    )


def _planned(
    prepared: Prepared,
    found: Candidates,
    telling: Pricing,
    problem: Problem,
    pair: Candidate,
    outcomes: tuple[Outcome, ...],
) -> PlannedPair:
    costs, her = prepared.costs, prepared.records.state.females.get(pair.dam)
    clutch = her.clutch if her else None
    return PlannedPair(
        dam=pair.dam,
        sire=pair.sire,
        value=pair.value,
        sd=deviation(
            telling.by_sire(found.clutches[pair.pair]),
            costs,
            prepared.records.settings.sale,
        ),
        goes=found.clutches[pair.pair].goes,
        eggs=pair.eggs if clutch is None or clutch.eggs is None else float(clutch.eggs),
        box_eggs=pair.box_eggs,
        shares_box=problem.is_small(pair),
        young=pair.young,
        F=pair.F,
        outcomes=outcomes,
        lock=lock_of(prepared.records).get(pair.pair, ""),
        cautions=pair_cautions(prepared, found, pair.pair),
        start=found.starts[pair.pair].day,
        waits_for=found.waits_for(pair.pair),
        state=her.stage if her else Stage.OPEN,
        since=her.since if her else None,
        sires=tuple(sorted(prepared.sires_of(pair.dam).items(), key=lambda e: (-e[1], e[0]))),
        clutch=clutch,
        came=came_of(prepared, clutch, outcomes),
    )


def _males(
    prepared: Prepared, found: Candidates, problem: Problem, pairs: Sequence[Candidate]
) -> tuple[MaleUse, ...]:
    used = Counter(sire for p in pairs for sire in prepared.mixed.get(p.pair, (p.sire,)))
    males = [animal for animal in prepared.records.collection if animal.sex is Sex.MALE]
    uses = []
    for male in sorted(males, key=lambda each: each.id):
        stated, reason = male_limit(male, prepared.records)
        limit = problem.male_limits.get(male.id, stated)
        if limit < stated:
            reason = f"{reason}, but no more can be visited in the pairing window"
        failed = failed_reasons(found.verdicts[male.id])
        if male.id in prepared.records.settings.locks.sit_out:
            text = "You asked for him to rest (locks.sit_out)."
            failed = (Reason(rule="sit_out", text=text), *failed)
        uses.append(
            MaleUse(
                id=male.id,
                pairings=used[male.id],
                limit=max(0 if failed else limit, used[male.id]),
                limit_from="may not breed this season" if failed else reason,
                reasons=failed,
            )
        )
    return tuple(uses)


def _targets(
    season: SolvedSeason, telling: Pricing, pairs: Sequence[Candidate]
) -> tuple[Target, ...]:
    """Return what each wish should get by the visits of the calendar."""
    prepared = season.prepared
    clutches = [season.laid_out.clutches[pair.pair] for pair in pairs]
    parts = [part for clutch in clutches for part in telling.by_sire(clutch)]
    chances = telling.told_chances(clutches)
    return tuple(
        Target(
            morph=wanted.morph,
            need=wanted.need,
            asked_chance=wanted.chance,
            expected=sum(
                chance * clutch.expected_young * float((own.weights * own.taken[number]).sum())
                for chance, clutch, own in parts
            ),
            chance=chances[number],
        )
        for number, wanted in enumerate(prepared.records.settings.values.wanted)
    )


def _money(
    prepared: Prepared, problem: Problem, counted: Sequence[Counted], chosen: Sequence[int]
) -> Money:
    """Split the objective; ``counted`` are the wish terms with what they count."""
    pairs = [problem.candidates[index] for index in chosen]
    terms = all_terms(problem.only(chosen))
    lost = [
        wish.cost * laws.surplus(range(len(pairs)))
        for wish, laws in zip(problem.wish_terms, terms, strict=True)
    ]
    # Young of a holdback beyond those held back add nothing: that is no loss to the keeper.
    held = sum(loss for loss, each in zip(lost, counted, strict=True) if each.full_extra)
    bad = _bad_seasons(problem, chosen)
    kept = keeping(prepared, {animal for pair in pairs for animal in pair.pair})
    return Money(
        pairs=sum(pair.value for pair in pairs),
        holdbacks=sum(pair.extra for pair in pairs) - held,
        saturation=held - sum(lost),
        rules=-sum(pair.penalty for pair in pairs),
        offers=problem.income - problem.use_cost(chosen) + kept,
        keeping=0.0 - kept,
        routes=problem.routes_money(chosen),
        switches=problem.switches(chosen),
        risk=bad.weight * (bad.mean - bad.expected) if bad else 0.0,
    )


def _bad_seasons(problem: Problem, chosen: Sequence[int]) -> BadSeasons | None:
    if problem.risk is None:
        return None
    made = problem.only(chosen)
    every = range(len(chosen))
    return BadSeasons(
        weight=problem.risk.weight,
        share=problem.risk.bad / problem.risk.seasons,
        seasons=problem.risk.seasons,
        expected=expected_value(made, all_terms(made), every),
        mean=bad_value(made, every),
    )


def _room(season: SolvedSeason) -> Room:
    problem, chosen = season.problem, season.solution.chosen or ()
    settings = season.prepared.records.settings
    expected = season.laid_out.expected
    fullest = max(season.weeks, key=lambda week: week.boxes.mean, default=None)
    used, enough, fewer, counted = problem.boxes_used(chosen), None, None, None
    if problem.boxes is not None and problem.sure < 1:
        enough = enough_boxes(expected, settings.box, problem.boxes)
        if used > problem.boxes:
            counted = enough_boxes(expected, settings.box, used)
        elif used:
            fewer = enough_boxes(expected, settings.box, used - 1)
    return Room(
        enough=enough,
        with_fewer=fewer,
        with_counted=counted,
        fullest=fullest.monday if fullest else None,
        in_fullest=fullest.boxes.mean if fullest else 0.0,
        high_in_fullest=fullest.boxes.high if fullest else 0,
        boxes=used,
        boxes_limit=problem.boxes,
        young=sum(problem.candidates[index].young for index in chosen),
        tubs=problem.tubs_used(chosen),
        tubs_limit=problem.tubs,
        weekly=problem.sure if problem.sure < 1 else None,
        spend=problem.spending(chosen),
        spend_limit=problem.spend,
    )


def _offers(prepared: Prepared, pairs: Sequence[Candidate]) -> tuple[Offer, ...]:
    used = {animal for pair in pairs for animal in pair.pair}
    offers = prepared.records.settings.offers
    kinds = {"borrow": offers.borrow, "buy": offers.buy, "sell": offers.sell}
    return tuple(
        Offer(id=animal, kind=kind, money=money, taken=(animal in used) != (kind == "sell"))
        for kind, listed in kinds.items()
        for animal, money in sorted(listed.items())
    )


def _inputs(prepared: Prepared, options: SolveOptions) -> Inputs:
    settings = TypeAdapter(Settings).dump_python(prepared.records.settings, mode="json")
    return Inputs(
        fingerprints=prepared.records.fingerprints,
        settings=settings,
        versions=_versions(),
        solver=options.solver,
        gap=options.gap,
        time_limit=options.time_limit,
    )


@cache
def _versions() -> Mapping[str, str]:
    libraries = {name: version(name) for name in _LIBRARIES}
    return {"brumal": __version__, "python": platform.python_version(), **libraries}


def _averaged(found: Candidates) -> tuple[str, ...]:
    averaged = found.pricing.following.averaged
    if not averaged:
        return ()
    return (
        f"{', '.join(averaged)}: too many possible genotypes to follow one by one; wishes that "
        "count young treat these sires' clutches as less dependent than they are.",
    )
