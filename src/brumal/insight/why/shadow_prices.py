"""Shadow prices by solving again: what one more of each thing would be worth to the season.

Every price is the difference of two optima, never the dual value of a relaxed model, which is
wrong wherever a whole clutch has to fit. A question whose answer is plain without a solve (a rule
bars her before and after; she is left out by more than she could gain) is answered without one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from brumal.forecast.rounds import visits_capacity
from brumal.insight.solved import SolvedSeason
from brumal.insight.why.changed_seasons import capped, heavier, heavier_male, longer
from brumal.insight.why.counterfactuals import Asked, Otherwise, Questions
from brumal.planner.pairing import Candidate
from brumal.planner.problem import Problem
from brumal.records.animals import Sex
from brumal.rules.pair_rules import ROUNDING

GRAMS = 50.0
WEEK = 7
_NOTHING = 0.005


class Thing(StrEnum):
    """What there could be more of."""

    BOX = "incubator box"
    TUB = "hatchling tub"
    PAIRING = "pairing of a male"
    WEIGHT = "heavier female"
    MALE_WEIGHT = "heavier male"
    LOOSER = "looser cap on F"
    TIGHTER = "tighter cap on F"
    WEEK = "longer pairing window"
    SPENDING = "money before sales"
    RESTING = "fewer females resting"


class Short(StrEnum):
    """Why a price is nothing, or not told, without a solve."""

    VISITS = "no more visits fit into the pairing window"
    BARRED = "a rule bars her all the same"
    MALE_BARRED = "a rule bars him all the same"
    HEAVY = "his weight limits nothing"
    FAR = "she is left out by more than this could bring"
    NO_PAIR = "no cap in reach opens or bars a pair"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadowPrice:
    """What so much more of one thing is worth.

    ``step`` is how much more (boxes, tubs, pairings, grams, the new cap on F, days, money, females
    fewer that rest), ``animal`` whose it is. ``gain`` is money (below zero for the tighter cap);
    ``otherwise`` is the best plan with it, ``None`` where ``short`` tells why none was asked for.
    """

    thing: Thing
    step: float
    animal: str = ""
    gain: float
    otherwise: Otherwise | None
    short: Short | None = None


@dataclass(frozen=True, slots=True)
class _Asked:
    """A price to be found: the changed season, or why it needs no solve."""

    thing: Thing
    step: float
    animal: str
    changed: Problem | Short


def shadow_prices(questions: Questions) -> tuple[ShadowPrice, ...]:
    """Return all prices, the dearest first: what to buy, borrow or feed before anything else."""
    return _told(questions, [*_all(questions)])


def first_prices(questions: Questions) -> tuple[ShadowPrice, ...]:
    """Return the prices that few solves tell: of room, of one more female a male, of the cap on F.

    The dearest come first.
    """
    season = questions.season
    asked = (*_room(season.problem), *_males(season), *_caps(season))
    return _told(questions, asked)


def _told(questions: Questions, prices: Sequence[_Asked]) -> tuple[ShadowPrice, ...]:
    questions.foresee(
        _question(questions, each, each.changed)
        for each in prices
        if not isinstance(each.changed, Short)
    )
    return _dearest_first(_price(questions, each) for each in prices)


def _question(questions: Questions, price: _Asked, changed: Problem) -> Asked:
    if price.thing is Thing.PAIRING:
        return questions.one_more(price.animal)
    name = f" {questions.season.label(price.animal)}" if price.animal else ""
    key = ("price", price.thing, price.step, price.animal)
    return Asked(key=key, changed=changed, what=f"{price.thing}{name}")


def _dearest_first(prices: Iterable[ShadowPrice]) -> tuple[ShadowPrice, ...]:
    order = list(Thing)
    return tuple(
        sorted(
            prices,
            key=lambda price: (
                -round(price.gain, 2),
                order.index(price.thing),
                price.animal,
                price.step,
            ),
        )
    )


def _price(questions: Questions, asked: _Asked) -> ShadowPrice:
    if isinstance(asked.changed, Short):
        return ShadowPrice(
            thing=asked.thing,
            step=asked.step,
            animal=asked.animal,
            gain=0.0,
            otherwise=None,
            short=asked.changed,
        )
    found = questions.ask(_question(questions, asked, asked.changed))
    gain = -math.inf if found.change is None else found.change
    return ShadowPrice(
        thing=asked.thing,
        step=asked.step,
        animal=asked.animal,
        gain=0.0 if abs(gain) < _NOTHING else gain,
        otherwise=found,
    )


def _all(questions: Questions) -> Iterator[_Asked]:
    season = questions.season
    yield from _room(season.problem)
    yield from _males(season)
    yield from _females(questions)
    yield from _heavier_males(season)
    yield from _caps(season)
    yield _Asked(Thing.WEEK, WEEK, "", longer(season, WEEK))


def _room(problem: Problem) -> Iterator[_Asked]:
    """Yield one more of each limit that the keeper set, and tubs for a whole clutch."""
    if problem.boxes is not None:
        yield _Asked(Thing.BOX, 1, "", replace(problem, boxes=problem.boxes + 1))
    if problem.tubs is not None:
        yield _Asked(Thing.TUB, 1, "", replace(problem, tubs=problem.tubs + 1))
        young = [each.young for each in problem.candidates]
        clutch = math.ceil(float(np.median(young))) if young else 1
        if clutch > 1:
            yield _Asked(Thing.TUB, clutch, "", replace(problem, tubs=problem.tubs + clutch))
    if problem.spend is not None:
        yield _Asked(Thing.SPENDING, 100, "", replace(problem, spend=problem.spend + 100))
    if problem.most_pairs is not None:
        more = replace(problem, most_pairs=problem.most_pairs + 1)
        yield _Asked(Thing.RESTING, 1, "", more)


def _males(season: SolvedSeason) -> Iterator[_Asked]:
    """Yield one more pairing of each male that has open pairs."""
    settings = season.prepared.records.settings
    visited = visits_capacity(settings.season, settings.visits)
    for sire, limit in sorted(season.problem.male_limits.items()):
        if limit >= visited:
            yield _Asked(Thing.PAIRING, 1, sire, Short.VISITS)
            continue
        more = {**season.problem.male_limits, sire: limit + 1}
        yield _Asked(Thing.PAIRING, 1, sire, replace(season.problem, male_limits=more))


def _females(questions: Questions) -> Iterator[_Asked]:
    """Yield each female of the collection 50 g heavier, but for those locked to rest."""
    season = questions.season
    locked = set(season.prepared.records.settings.locks.sit_out)
    for dam in sorted(season.found.verdicts):
        animal = season.prepared.animals[dam]
        if animal.sex is not Sex.FEMALE or dam in locked:
            continue
        changed = heavier(season, dam, GRAMS)
        if changed is season.problem:
            yield _Asked(Thing.WEIGHT, GRAMS, dam, Short.BARRED)
        elif _cannot_matter(questions, dam, changed):
            yield _Asked(Thing.WEIGHT, GRAMS, dam, Short.FAR)
        else:
            yield _Asked(Thing.WEIGHT, GRAMS, dam, changed)


def _heavier_males(season: SolvedSeason) -> Iterator[_Asked]:
    """Yield each male of the collection 50 g heavier, but for those locked to rest."""
    locked = set(season.prepared.records.settings.locks.sit_out)
    for sire in sorted(season.found.verdicts):
        if season.prepared.animals[sire].sex is not Sex.MALE or sire in locked:
            continue
        changed = heavier_male(season, sire, GRAMS)
        if changed is not season.problem:
            yield _Asked(Thing.MALE_WEIGHT, GRAMS, sire, changed)
        else:
            short = Short.HEAVY if season.found.may_breed(sire) else Short.MALE_BARRED
            yield _Asked(Thing.MALE_WEIGHT, GRAMS, sire, short)


def _cannot_matter(questions: Questions, dam: str, changed: Problem) -> bool:
    """Say whether a female left out stays out for sure when only her own pairs change.

    With her in, the plan is worth at most what it was with her in before, plus the most that one of
    her pairs gains by itself: wishes only lose by more young. That holds where nothing else about
    her pairs became easier: no chance wish counts them, their young are no fewer, no smaller clutch
    takes their boxes, nothing ties the young held back, bad seasons do not count.
    """
    season = questions.season
    before = season.problem
    if dam in season.mates or len(changed.candidates) != len(before.candidates):
        return False
    if before.max_kin is not None or before.sire_share is not None or before.risk is not None:
        return False
    both = list(zip(before.candidates, changed.candidates, strict=True))
    if any(old is not new and old.dam != dam for old, new in both):
        return False
    pairs = [(old, new) for old, new in both if old.dam == dam]
    if not pairs or any(old.pair != new.pair or not _no_easier(old, new) for old, new in pairs):
        return False
    if any(before.is_small(new) and not before.is_small(old) for old, new in pairs):
        return False
    gained = max(new.worth - old.worth for old, new in pairs)
    return questions.ask(questions.with_female(dam)).most + max(gained, 0.0) <= 0.0


def _no_easier(old: Candidate, new: Candidate) -> bool:
    """Say whether a pair counts at least as many young for every wish as it did, and costs more."""
    if old.none or new.none or new.young < old.young or new.spend < old.spend:
        return False
    if old.counts.keys() != new.counts.keys():
        return False
    return all(
        old.counts[term].shape == law.shape
        and bool((np.cumsum(law, axis=1) <= np.cumsum(old.counts[term], axis=1) + 1e-12).all())
        for term, law in new.counts.items()
    )


def _caps(season: SolvedSeason) -> Iterator[_Asked]:
    """Yield the next cap on F that opens a pair, and the next one that bars a pair now open."""
    cap = season.prepared.records.settings.limits.max_F
    kinship = season.prepared.kinship
    over = [phi for pair in season.found.barred if (phi := kinship.phi(*pair)) > cap + ROUNDING]
    yield _cap(season, Thing.LOOSER, min(over, default=None))
    # Pairs already made and pairs by exception stand whatever the cap.
    free = {*season.problem.must, *season.prepared.rules.exceptions}
    under = sorted({each.F for each in season.problem.candidates if each.pair not in free})
    lower = [phi for phi in under if under[-1] - phi > ROUNDING]
    tighter = lower[-1] if lower else 0.0 if under and under[-1] > ROUNDING else None
    yield _cap(season, Thing.TIGHTER, tighter)


def _cap(season: SolvedSeason, thing: Thing, cap: float | None) -> _Asked:
    if cap is None:
        return _Asked(thing, season.prepared.records.settings.limits.max_F, "", Short.NO_PAIR)
    return _Asked(thing, cap, "", capped(season, cap))
