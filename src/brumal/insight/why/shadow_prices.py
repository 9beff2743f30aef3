"""Shadow prices by solving again: what one more of each thing would be worth to the season.

Every price is the difference of two optima, never the dual value of a relaxed model, which is
wrong wherever a whole clutch has to fit. A question whose answer is plain without a solve (a rule
bars her before and after; she is left out by more than she could gain) is answered without one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain, islice

import numpy as np

from brumal.insight.why.changed_seasons import capped, heavier, heavier_male, longer
from brumal.insight.why.counterfactuals import Asked, Counterfactual, Questions
from brumal.planner.limits.every import more_of_each
from brumal.planner.limits.limit import More
from brumal.planner.limits.males import PAIRING
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason, most_visited
from brumal.records.animals import Sex
from brumal.rules.pair_rules import ROUNDING

GRAMS = 50.0
WEEK = 7
_NOTHING = 0.005


LONGER = "longer pairing window"
WEIGHT, MALE_WEIGHT = "heavier female", "heavier male"
LOOSER, TIGHTER = "looser cap on F", "tighter cap on F"


class Short(StrEnum):
    """Why a price is nothing, or not told, without a solve."""

    VISITS = "no more visits fit into the pairing window"
    BARRED = "a rule bars her all the same"
    MALE_BARRED = "a rule bars him all the same"
    LOSING = "she is losing weight: no feeding for a season, but the cause, with a vet"
    MALE_LOSING = "he is losing weight: no feeding for a season, but the cause, with a vet"
    HEAVY = "his weight limits nothing"
    FAR = "she is left out by more than this could bring"
    NO_PAIR = "no cap in reach opens or bars a pair"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadowPrice:
    """What so much more of one thing is worth.

    ``step`` is how much more (boxes, tubs, pairings, grams, the new cap on F, days, money, females
    fewer that rest), ``words`` say it with ``{owner}`` for the ``animal`` whose it is. ``gain`` is
    money (below zero for the tighter cap); ``otherwise`` is the best plan with it, ``None`` where
    ``short`` tells why none was asked for.
    """

    thing: str
    step: float
    words: str
    animal: str = ""
    gain: float
    otherwise: Counterfactual | None
    short: Short | None = None


@dataclass(frozen=True, slots=True)
class _Asked:
    """A price to be found: what there is more of, and why it needs no solve if it needs none."""

    more: More
    short: Short | None = None


def shadow_prices(questions: Questions) -> tuple[ShadowPrice, ...]:
    """Return all prices, greatest first: what to buy, borrow or feed before anything else."""
    return _greatest_first(_price(questions, each) for each in _all(questions))


def limit_price(questions: Questions, place: int) -> ShadowPrice | None:
    """Return what one more of a limit is worth, limits of males last; ``None`` after the last."""
    asked = sorted(_limits(questions.season), key=lambda each: each.more.owner != "")
    found = next(islice(chain(asked, _longer(questions.season)), place, None), None)
    return None if found is None else _price(questions, found)


def _greatest_first(prices: Iterable[ShadowPrice]) -> tuple[ShadowPrice, ...]:
    placed = enumerate(prices)
    return tuple(
        price for _, price in sorted(placed, key=lambda each: (-round(each[1].gain, 2), each[0]))
    )


def _price(questions: Questions, asked: _Asked) -> ShadowPrice:
    more = asked.more
    gain, found = 0.0, None
    if asked.short is None:
        found = questions.ask(_question(questions, more))
        gain = -math.inf if found.change is None else found.change
    return ShadowPrice(
        thing=more.thing,
        step=more.step,
        words=more.words,
        animal=more.owner,
        gain=0.0 if abs(gain) < _NOTHING else gain,
        otherwise=found,
        short=asked.short,
    )


def _question(questions: Questions, more: More) -> Asked:
    if more.thing == PAIRING:
        return questions.one_more(more.owner)
    key = ("price", more.thing, more.step, more.owner)
    words = more.words.format(owner=questions.season.label(more.owner))
    return Asked(key=key, changed=more.problem, what=words)


def _all(questions: Questions) -> Iterator[_Asked]:
    season = questions.season
    yield from _limits(season)
    yield from _females(questions)
    yield from _heavier_males(season)
    yield from _caps(season)
    yield from _longer(season)


def _limits(season: SolvedSeason) -> Iterator[_Asked]:
    for more in more_of_each(season.problem):
        full = more.thing == PAIRING and season.problem.male_limits[more.owner] >= most_visited(
            season.prepared, more.owner
        )
        yield _Asked(more, Short.VISITS if full else None)


def _longer(season: SolvedSeason) -> Iterator[_Asked]:
    words = f"the pairing window {WEEK} days longer"
    longer_season = longer(season, WEEK)
    yield _Asked(More(thing=LONGER, step=WEEK, words=words, problem=longer_season))


def _females(questions: Questions) -> Iterator[_Asked]:
    """Yield each female of the collection 50 g heavier, but for those locked to rest."""
    season = questions.season
    locked = set(season.prepared.records.settings.locks.sit_out)
    for dam in sorted(season.found.verdicts):
        animal = season.prepared.animals[dam]
        if animal.sex is not Sex.FEMALE or dam in locked:
            continue
        losing = _is_losing(season, dam)
        changed = season.problem if losing else heavier(season, dam, GRAMS)
        more = _grams(WEIGHT, dam, changed)
        if changed is season.problem:
            yield _Asked(more, Short.LOSING if losing else Short.BARRED)
        else:
            yield _Asked(more, Short.FAR if _cannot_matter(questions, dam, changed) else None)


def _grams(thing: str, animal: str, changed: Problem) -> More:
    words = f"{{owner}} {GRAMS:g} g heavier"
    return More(thing=thing, step=GRAMS, words=words, problem=changed, owner=animal)


def _is_losing(season: SolvedSeason, animal: str) -> bool:
    """Say whether an animal loses weight, or has lost so much that a vet has to look."""
    trend = season.prepared.rules.series[animal].trend
    failed = {each.rule for each in season.found.verdicts[animal] if not each.passed}
    return "wasting" in failed or (trend is not None and trend.gain < 0)


def _heavier_males(season: SolvedSeason) -> Iterator[_Asked]:
    """Yield each male of the collection 50 g heavier, but for those locked to rest."""
    locked = set(season.prepared.records.settings.locks.sit_out)
    for sire in sorted(season.found.verdicts):
        if season.prepared.animals[sire].sex is not Sex.MALE or sire in locked:
            continue
        losing = _is_losing(season, sire)
        changed = season.problem if losing else heavier_male(season, sire, GRAMS)
        more = _grams(MALE_WEIGHT, sire, changed)
        if changed is not season.problem:
            yield _Asked(more)
        elif losing:
            yield _Asked(more, Short.MALE_LOSING)
        else:
            yield _Asked(more, Short.HEAVY if season.found.may_breed(sire) else Short.MALE_BARRED)


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
    yield _cap(season, LOOSER, "opens", min(over, default=None))
    # Pairs already made and pairs by exception stand whatever the cap.
    free = {*season.problem.must, *season.prepared.rules.exceptions}
    under = sorted({each.F for each in season.problem.candidates if each.pair not in free})
    lower = [phi for phi in under if under[-1] - phi > ROUNDING]
    tighter = lower[-1] if lower else 0.0 if under and under[-1] > ROUNDING else None
    yield _cap(season, TIGHTER, "bars", tighter)


def _cap(season: SolvedSeason, thing: str, does: str, cap: float | None) -> _Asked:
    step = season.prepared.records.settings.limits.max_F if cap is None else cap
    words = f"limits.max_F at {step:.4g}, the next that {does} a pair"
    problem = season.problem if cap is None else capped(season, cap)
    more = More(thing=thing, step=step, words=words, problem=problem)
    return _Asked(more, Short.NO_PAIR if cap is None else None)
