"""What would flip a choice: the figure at which another plan is worth as much as the plan.

Two plans are set against each other while one figure moves and all pairs stay. Each value is the
true expectation, priced anew at every step, so the figure found is exact for these two plans; a
third one may overtake both before it is reached.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from brumal.insight.why.changed_seasons import heavier
from brumal.planner.pairs.candidate import Pair
from brumal.planner.pairs.pricing import pricing_of
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason
from brumal.planner.season_routes import revalued
from brumal.planner.solver.worth import is_allowed, value_of
from brumal.records.settings import BySex, Values

MOST_FLIPS = 3
MOST_GRAMS = 600.0
_CENT = 0.01
_GRAM = 1.0
_ROUNDING = 1e-6
_NOTHING = 0.05
"""Two plans whose young under an entry differ by less are not told apart by its price."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceFlip:
    """A wanted entry (by place, from 0), what it brings, and how much more it must bring."""

    entry: int
    morph: str
    value: float | BySex
    change: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightFlip:
    """How many grams more (less, below zero) a female must weigh.

    ``barred`` says that it is a rule that then bars her, and no other plan that is as good.
    """

    animal: str
    grams: float
    barred: bool = False


def price_flips(season: SolvedSeason, other: Iterable[Pair]) -> tuple[PriceFlip, ...]:
    """Return the entries whose price would make another plan as good, the smallest change first.

    A price falls no further than to zero and rises at most to four times what it is.
    """
    plan, rival = [pair.pair for pair in season.pairs], sorted(other)
    ahead = _lead(season, plan, rival, season.prepared.records.settings.values)
    found = []
    for entry, wanted in enumerate(season.prepared.records.settings.values.wanted):
        price = _price(wanted.value)
        if price <= 0:
            continue

        def lead(change: float, entry: int = entry) -> float:
            return _lead(season, plan, rival, shifted(season, entry, change))

        slope = lead(1.0) - ahead
        if abs(slope) < _NOTHING:
            continue
        end = -price if slope > 0 else 3 * price
        change = _root(lead, ahead, end)
        if change is not None:
            found.append(
                PriceFlip(entry=entry, morph=wanted.morph, value=wanted.value, change=change)
            )
    ordered = sorted(found, key=lambda flip: (abs(flip.change), flip.entry))
    return tuple(ordered[:MOST_FLIPS])


def shifted(season: SolvedSeason, entry: int, change: float) -> Values:
    """Return the prices with one wanted entry worth so much more, for both sexes alike."""
    values = season.prepared.records.settings.values
    wanted = values.wanted[entry]
    value = wanted.value
    if isinstance(value, BySex):
        moved: float | BySex = BySex(
            female=None if value.female is None else value.female + change,
            male=None if value.male is None else value.male + change,
        )
    else:
        moved = value + change
    entries = list(values.wanted)
    entries[entry] = replace(wanted, value=moved)
    return replace(values, wanted=tuple(entries))


def weight_flip(season: SolvedSeason, dam: str, other: Iterable[Pair]) -> WeightFlip | None:
    """Return the weight of a female at which another plan is as good, and within all limits.

    A female that the plan pairs is made lighter, one that rests heavier. ``None`` where no weight
    within 600 g does it, or where the other plan would not be allowed then.
    """
    plan, rival = [pair.pair for pair in season.pairs], sorted(other)

    def lead(grams: float) -> float:
        changed = heavier(season, dam, grams)
        if not _has(changed, plan):
            return -1.0
        return _value(changed, plan) - _value(changed, rival) if _has(changed, rival) else 1.0

    end = -MOST_GRAMS if dam in season.mates else MOST_GRAMS
    grams = _root(lead, lead(0.0), end, _GRAM)
    if grams is None:
        return None
    # Whole grams, away from where the plan still stands.
    grams = math.copysign(math.ceil(abs(grams) - _ROUNDING), grams)
    changed = heavier(season, dam, grams)
    barred = not _has(changed, plan)
    if not barred and not is_allowed(changed, _places(changed, rival)):
        return None
    return WeightFlip(animal=dam, grams=grams, barred=barred)


def _lead(
    season: SolvedSeason, plan: Sequence[Pair], rival: Sequence[Pair], values: Values
) -> float:
    """Return how much more the plan is worth than the other one at these prices."""
    records = season.prepared.records
    settings = replace(records.settings, values=values)
    prepared = replace(season.prepared, records=replace(records, settings=settings))
    both = sorted({*plan, *rival})
    pricing = pricing_of(prepared)
    found = season.found
    penalties = {name: sum(each.penalty for each in told) for name, told in found.verdicts.items()}
    candidates = pricing.candidates([found.clutches[pair] for pair in both], penalties)
    problem = replace(
        season.problem,
        candidates=candidates,
        family_states=pricing.following.weights,
        wish_terms=tuple(counted.term for counted in pricing.terms),
        chances=(),
        routes=revalued(season.problem.routes, prepared.values),
    )
    return _value(problem, plan) - _value(problem, rival)


def _value(problem: Problem, pairs: Sequence[Pair]) -> float:
    """Return the true expected value of a plan."""
    return value_of(problem, _places(problem, pairs))


def _places(problem: Problem, pairs: Iterable[Pair]) -> list[int]:
    wanted = set(pairs)
    return [place for place, pair in enumerate(problem.columns.pairs) if pair in wanted]


def _has(problem: Problem, pairs: Iterable[Pair]) -> bool:
    return set(pairs) <= set(problem.columns.pairs)


def _price(value: float | BySex) -> float:
    """Return the lowest price an entry has for either sex."""
    if isinstance(value, BySex):
        return min(each for each in (value.female, value.male) if each is not None)
    return value


def _root(
    lead: Callable[[float], float], start: float, end: float, near: float = _CENT
) -> float | None:
    """Return a change between none and ``end`` at which the lead is gone, and just gone.

    ``start`` is the lead with no change; ``None`` where it is not gone at ``end`` either. Steps of
    false position, quick where the lead is nearly straight, take turns with halving, which a jump
    needs. It ends once the lead is gone by less than a cent, or ``near`` the place where it goes.
    """
    low, at_low, high, at_high = 0.0, start, end, lead(end)
    if start <= 0 or at_high > 0:
        return None
    straight = True
    while at_high < -_CENT and abs(high - low) > near:
        share = at_low / (at_low - at_high) if straight else 0.5
        middle = low + share * (high - low)
        at_middle = lead(middle)
        if at_middle > 0:
            low, at_low = middle, at_middle
        else:
            high, at_high = middle, at_middle
        straight = not straight
    return high
