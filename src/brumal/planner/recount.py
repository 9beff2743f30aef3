"""The chosen plan counted again: by the visits of its calendar, and with its kin together.

Pairs are priced by ordinary visits (:mod:`brumal.planner.visiting`); a plan has a calendar.

A season's families of clutches may have too many states to be followed
(:mod:`brumal.planner.pairs.families`); those of one plan's clutches alone are fewer. So what the
search took apart is put together again for the plan, and the keeper is told where that changes a
figure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from brumal.planner.limits.limit import counted
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.candidates import Candidates
from brumal.planner.plan import FEW, SecondChoice
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import EXACT_GAP, Solution
from brumal.planner.solver.worth import SLACK, true_value
from brumal.planner.wishes.chances import all_chances, chance
from brumal.planner.wishes.surplus import all_terms
from brumal.records.plain_values import sure_money

EXCHANGED = 3
"""For so many females at most another sire is counted by its calendar."""
FEWER = 0.05
"""A female whose chance of laying is lower by this share, for want of visits, is told."""


@dataclass(frozen=True, slots=True)
class Recount:
    """A plan's value and the chance of each chance wish; ``apart`` are kin still taken apart."""

    value: float
    chances: tuple[float, ...]
    apart: tuple[tuple[str, ...], ...]


def recount(found: Candidates, problem: Problem, solution: Solution) -> Recount | None:
    """Count a plan again by its own clutches; ``None`` where no kin of it were taken apart."""
    made = problem.only(solution.chosen or ())
    used = {animal for each in made.candidates for animal in each.pair}
    if all(len(used.intersection(animals)) < 2 for animals in found.pricing.following.apart):
        return None
    pricing = found.pricing.of_plan()
    fresh = pricing.candidates(
        [found.clutches[each.pair] for each in made.candidates], dict.fromkeys(used, 0.0)
    )
    whole = replace(
        made,
        candidates=tuple(
            replace(
                each,
                counts=new.counts,
                none=new.none,
                count_families=new.count_families,
                none_families=new.none_families,
            )
            for each, new in zip(made.candidates, fresh, strict=True)
        ),
        family_states=pricing.following.weights,
    )
    every = range(len(whole.candidates))
    return Recount(
        value=true_value(whole, all_terms(whole), every),
        chances=tuple(chance(laws, every) for laws in all_chances(whole)),
        apart=pricing.following.apart,
    )


def by_calendar(season: SolvedSeason) -> float | None:
    """Return what a plan is worth by the visits its calendar has, ``None`` where there is none."""
    if season.solution.chosen is None:
        return None
    made = season.as_visited
    return true_value(made, all_terms(made), range(len(made.candidates)))


def visit_notes(season: SolvedSeason, seconds: Mapping[Pair, SecondChoice]) -> Iterator[str]:
    """Say where the calendar gives females fewer visits than pairs are priced by.

    Each male with too many females is named, and the females whom it costs most with what their
    second choice would make of the plan, both counted by their calendars.
    """
    worth, objective = by_calendar(season), season.solution.objective
    if worth is None:
        return
    label, ordinary = season.label, season.found.clutches
    few: dict[str, list[Pair]] = {}
    for pair, clutch in season.laid_out.clutches.items():
        if clutch.goes < (1 - FEWER) * ordinary[pair].goes:
            few.setdefault(pair[1], []).append(pair)
    for sire, pairs in sorted(few.items()):
        his = sum(mate == sire for mate in season.mates.values())
        missed = ", ".join(
            f"{label(pair[0])} {season.laid_out.clutches[pair].goes:.0%}, not "
            f"{ordinary[pair].goes:.0%}"
            for pair in pairs
        )
        yield (
            f"Too few visits of {label(sire)}, who has {counted(his, 'female', 'females')}, reach "
            f"these before they ovulate; with those of the calendar they lay with a chance of: "
            f"{missed}."
        )
    missed_most = sorted(
        (pair for pairs in few.values() for pair in pairs if pair in seconds),
        key=lambda pair: season.laid_out.clutches[pair].goes - ordinary[pair].goes,
    )
    for pair in missed_most[:EXCHANGED]:
        yield from _other_sire(season, pair, seconds[pair].sire, worth)
    if worth < objective - max(season.options.gap, FEW) * abs(objective):
        yield (
            f"Counted by the visits of its calendar the plan is worth {worth:,.2f}, not "
            f"{objective:,.2f}, which it would bring if every female got ordinary visits."
        )


def _other_sire(season: SolvedSeason, pair: Pair, sire: str, worth: float) -> Iterator[str]:
    """Say what a plan gains by another sire for one female, all other pairs as they are."""
    chosen = [season.place[each.pair] for each in season.pairs if each.pair != pair]
    solution = replace(season.solution, chosen=(*chosen, season.place[pair[0], sire]))
    gains = (by_calendar(replace(season, solution=solution)) or 0.0) - worth
    if gains > 0:
        yield (
            f"With {season.label(sire)} for {season.label(pair[0])} instead of "
            f"{season.label(pair[1])} the calendar brings {sure_money(gains)} "
            f"{season.currency} more: fix that pair if you want it (locks.must_pair)."
        )


def kin_notes(season: SolvedSeason) -> Iterator[str]:
    """Say where a figure changes when kin are counted together, and which kin still are not."""
    problem, solution, label = season.problem, season.solution, season.label
    again = recount(season.found, problem, solution) if solution.chosen is not None else None
    if again is None:
        return
    allowed = max(season.options.gap, EXACT_GAP) * max(1.0, abs(solution.objective))
    if abs(again.value - solution.objective) > allowed:
        yield (
            "Uncertain kin have too many genotypes together to be followed in the search for a "
            "plan, which took some of them as independent. With those of this plan counted "
            f"together it is worth {again.value:,.2f}, not {solution.objective:,.2f}: the value, "
            "and the proof that no plan is worth more, hold for kin taken as independent."
        )
    for wish, had in zip(problem.chances, again.chances, strict=True):
        if had < wish.at_least - SLACK:
            yield (
                f"Not kept: {wish.words}. With uncertain kin counted together the chance is "
                f"{had:.2%}; the search took them as independent."
            )
    for animals in again.apart:
        if any(set(animals) < set(others) for others in again.apart):
            continue
        yield (
            f"{', '.join(label(animal) for animal in animals)} are kin of uncertain "
            "genotype: wishes that count young take their clutches as independent of each other."
        )
