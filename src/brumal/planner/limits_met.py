"""Which limits a plan fills to the last place, so that no further pair fits under them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from brumal.planner.chances import all_chances, log_none
from brumal.planner.problem import Problem
from brumal.planner.search import among
from brumal.planner.statements import (
    BOXES,
    KIN,
    RESTING,
    SPEND,
    TUBS,
    chance_statement,
    male_statement,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Met:
    """One limit that may hold a plan back: its statement's id, it in words, the season without."""

    id: str
    words: str
    without: Problem


def limits_met(
    problem: Problem, chosen: Sequence[int], label: Callable[[str], str] = str
) -> tuple[Met, ...]:
    """Return the limits that may hold this plan back: room, money, rest, chances, males.

    Of boxes, tubs and males' pairings only those count under which some pair left out no longer
    fits; of the others (limits on kept young, money, rest, chances) all that are set.
    """
    met = [*_room(problem, chosen)]
    if problem.spend is not None:
        words = f"{problem.spend:,.2f} to spend before sales"
        met.append(Met(id=SPEND, words=words, without=replace(problem, spend=None)))
    if problem.most_pairs is not None:
        words = f"at most {problem.most_pairs} females paired"
        met.append(Met(id=RESTING, words=words, without=replace(problem, most_pairs=None)))
    if problem.max_kin is not None:
        words = f"a mean kinship of at most {problem.max_kin:.4f} among young held back"
        met.append(Met(id=KIN, words=words, without=replace(problem, max_kin=None)))
    if problem.sire_share is not None:
        words = f"at most {problem.sire_share:.0%} of young held back from one sire"
        met.append(Met(id="sire_share", words=words, without=replace(problem, sire_share=None)))
    met += [_chance(problem, number) for number in range(len(problem.chances))]
    return (*met, *_males(problem, chosen, label))


def seem_full(problem: Problem, chosen: Sequence[int], statement: str) -> bool:
    """Say whether a limit of those met leaves a plan no slack, judged without a solve.

    A chance wish leaves none where a clutch less would break it.
    """
    if statement == SPEND and problem.spend is not None:
        dearest = max((problem.spent(problem.candidates[n]) for n in chosen), default=0.0)
        return problem.spending(chosen) + dearest > problem.spend
    if statement == RESTING and problem.most_pairs is not None:
        return len(chosen) >= problem.most_pairs
    of_chances = {chance_statement(wish.id): n for n, wish in enumerate(problem.chances)}
    if statement in of_chances:
        number = of_chances[statement]
        laws = all_chances(among(problem, chosen))[number]
        every, most = range(len(chosen)), problem.chances[number].log_limit
        return any(log_none(laws, [n for n in every if n != out]) > most for out in every)
    return True


def _room(problem: Problem, chosen: Sequence[int]) -> Iterator[Met]:
    dams = {problem.candidates[n].dam for n in chosen}
    out = [n for n, each in enumerate(problem.candidates) if each.dam not in dams]
    boxes, tubs = problem.box_places, problem.tubs
    taken = sum(problem.places(problem.candidates[n]) for n in chosen)
    if boxes is not None and any(
        taken + problem.places(problem.candidates[n]) > boxes for n in out
    ):
        words = f"{problem.boxes} incubator boxes"
        yield Met(id=BOXES, words=words, without=replace(problem, boxes=None))
    used = problem.tubs_used(chosen)
    if tubs is not None and any(used + problem.tubs_used([n]) > tubs for n in out):
        words = f"{tubs} hatchling tubs"
        yield Met(id=TUBS, words=words, without=replace(problem, tubs=None))


def _chance(problem: Problem, number: int) -> Met:
    wish = problem.chances[number]
    chances = list(problem.chances)
    chances[number] = replace(wish, at_least=0.0)
    without = replace(problem, chances=tuple(chances))
    return Met(id=chance_statement(wish.id), words=wish.words, without=without)


def _males(problem: Problem, chosen: Sequence[int], label: Callable[[str], str]) -> Iterator[Met]:
    used = Counter(problem.candidates[n].sire for n in chosen)
    for sire, limit in sorted(problem.male_limits.items()):
        if used[sire] and used[sire] >= limit:
            words = f"{limit} pairing{'' if limit == 1 else 's'} of {label(sire)}"
            free = {**problem.male_limits, sire: len(problem.candidates)}
            without = replace(problem, male_limits=free)
            yield Met(id=male_statement(sire), words=words, without=without)
