"""Why a female rests or is paired as she is, why a pair stands, why a male is used or not."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from brumal.insight.why.changed_seasons import excepted, heavier, heavier_male
from brumal.insight.why.counterfactuals import Asked, Counterfactual, Questions
from brumal.insight.why.flips import (
    MOST_GRAMS,
    PriceFlip,
    WeightFlip,
    price_flips,
    weight_flip,
)
from brumal.planner.limits.every import limits_of
from brumal.planner.locks import lock_of
from brumal.planner.pairs.candidate import Candidate, Pair
from brumal.planner.pairs.candidates import pair_verdicts
from brumal.planner.season import SolvedSeason, most_visited
from brumal.records.animals import Animal, Sex
from brumal.rules.males import male_limit
from brumal.rules.standing import WEIGHT_RULES
from brumal.rules.verdict import RuleVerdict


class State(StrEnum):
    """What an animal does this season, and by whose word it rests."""

    PAIRED = "paired"
    LOCK = "rests by lock"
    RULE = "barred by a rule"
    NO_MATE = "no mate left open"
    LEFT_OUT = "left out by choice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Flips:
    """What would make another plan as good; see :mod:`brumal.insight.why.flips`."""

    prices: tuple[PriceFlip, ...] = ()
    weight: WeightFlip | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """An animal that could breed and is not used.

    ``best`` is its pair of most worth taken alone, ``held_back`` what young of it to hold back add
    while no other pair has any. ``with_it`` is the best plan that uses it
    (``None``: not asked), ``held_by`` what would each by itself bring it in: a limit loosened, in
    words.
    """

    best: Candidate
    held_back: float
    with_it: Counterfactual | None
    held_by: tuple[str, ...] | None
    flips: Flips | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PairWhy:
    """One meeting: in the plan, open but not in it, or barred.

    ``verdicts`` are the failed rules on either animal and on the pair. For a pair of the plan
    ``otherwise`` is the best plan without it and ``runner_up`` the best one that gives the dam
    another sire; for another one ``otherwise`` is the best plan that makes it. ``opened`` says that
    this took an exception from the cap on F. ``held_back`` is what young of an open pair to hold
    back add while no other pair has any. ``lock`` is the keeper's own word, where it decides.
    """

    dam: str
    sire: str
    chosen: bool
    candidate: Candidate | None
    lock: str
    verdicts: tuple[RuleVerdict, ...]
    otherwise: Counterfactual | None = None
    runner_up: Counterfactual | None = None
    opened: bool = False
    flips: Flips | None = None
    held_back: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Heavier:
    """The season with an animal heavy enough that its weight alone bars: ``grams`` more."""

    grams: float
    season: Counterfactual


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalWhy:
    """One animal of the collection.

    ``failed`` are the rules that bar it, and ``ready`` the day by which all of them should be met
    (``None``: no day can be told). ``pairs`` are its pairs in the plan, ``barred`` the failed pair
    rules by mate where no mate is left open. ``limit`` is a male's most pairings and where that
    comes from. ``heavier`` is the season with an animal, male or female, that nothing but its
    weight bars heavy enough.
    """

    animal: str
    female: bool
    state: State
    failed: tuple[RuleVerdict, ...]
    ready: date | None
    pairs: tuple[PairWhy, ...] = ()
    barred: Mapping[str, tuple[RuleVerdict, ...]] | None = None
    left_out: LeftOut | None = None
    limit: tuple[int, str] | None = None
    heavier: Heavier | None = None


def why_animal(questions: Questions, animal: str, quick: bool, flips: bool = True) -> AnimalWhy:
    """Explain one animal; ``quick`` asks nothing that needs a solve, ``flips`` what would flip.

    Raises KeyError for an animal that is not in the collection.
    """
    season = questions.season
    female = season.prepared.animals[animal].sex is not Sex.MALE
    verdicts = season.found.verdicts[animal]
    state = state_of(season, animal)
    own = [pair.pair for pair in season.pairs if animal in pair.pair]
    return AnimalWhy(
        animal=animal,
        female=female,
        state=state,
        failed=tuple(verdict for verdict in verdicts if not verdict.passed),
        ready=season.ready[animal].ready_on,
        pairs=tuple(why_pair(questions, *pair, quick, flips and female) for pair in own),
        barred=_barred(season, animal) if state is State.NO_MATE else None,
        left_out=_left_out(questions, animal, quick, flips) if state is State.LEFT_OUT else None,
        limit=None if female else _limit(season, animal),
        heavier=None if quick or state is not State.RULE else _heavier(questions, animal),
    )


def _heavier(questions: Questions, animal: str) -> Heavier | None:
    """Ask for the season with an animal as heavy as is asked, where nothing else bars it."""
    season = questions.season
    failed = [each for each in season.found.verdicts[animal] if not each.passed]
    missing = [_missing_grams(verdict) for verdict in failed if verdict.rule in WEIGHT_RULES]
    if len(missing) < len(failed) or not missing or min(missing) <= 0:
        return None
    grams = float(math.ceil(max(missing)))
    if grams > MOST_GRAMS:
        return None
    female = season.prepared.animals[animal].sex is not Sex.MALE
    changed = (heavier if female else heavier_male)(season, animal, grams)
    what = f"{season.label(animal)} {grams:,.0f} g heavier"
    asked = Asked(key=("heavier", animal, grams), changed=changed, what=what)
    return Heavier(grams=grams, season=questions.ask(asked))


def _missing_grams(verdict: RuleVerdict) -> float:
    limit, weight = verdict.figures.get("limit_g"), verdict.figures.get("weight_g")
    known = isinstance(limit, float) and isinstance(weight, float)
    return float(limit) - float(weight) if known and limit and weight else 0.0


def why_pair(questions: Questions, dam: str, sire: str, quick: bool, flips: bool = True) -> PairWhy:
    """Explain one meeting; raises KeyError for an animal that is not in the collection."""
    season = questions.season
    pair = (dam, sire)
    place = season.place.get(pair)
    chosen = season.mates.get(dam) == sire
    failed = [v for name in pair for v in season.found.verdicts[name] if not v.passed]
    failed += [v for v in pair_verdicts(season.prepared, dam, sire) if not v.passed]
    lock = lock_of(season.prepared.records).get(pair, "")
    otherwise, runner_up, opened = None, None, False
    if not quick and chosen:
        otherwise = questions.ask(questions.without_pair(pair))
        runner_up = _runner_up(questions, pair, otherwise)
    elif not quick and place is not None:
        otherwise = questions.ask(questions.with_pair(pair))
    elif not quick and {verdict.rule for verdict in failed} == {"kinship"}:
        opened = True
        otherwise = _with_exception(questions, pair)
    return PairWhy(
        dam=dam,
        sire=sire,
        chosen=chosen,
        candidate=None if place is None else season.problem.candidates[place],
        held_back=0.0 if place is None else season.held_back(pair),
        lock=lock or _other_lock(season, pair),
        verdicts=tuple(failed),
        otherwise=otherwise,
        runner_up=runner_up,
        opened=opened,
        flips=_flips(season, dam, runner_up if chosen else otherwise) if flips else None,
    )


def sit_outs(season: SolvedSeason) -> tuple[str, ...]:
    """Return the females of the collection that the plan does not pair, by id."""
    return tuple(
        animal.id
        for animal in _own(season)
        if animal.sex is not Sex.MALE and animal.id not in season.mates
    )


def unused_males(season: SolvedSeason) -> tuple[str, ...]:
    """Return the males of the collection that the plan gives no female, by id."""
    used = {pair.sire for pair in season.pairs}
    return tuple(
        animal.id for animal in _own(season) if animal.sex is Sex.MALE and animal.id not in used
    )


def _own(season: SolvedSeason) -> list[Animal]:
    own = list(season.prepared.records.collection)
    return sorted(own, key=lambda animal: animal.id)


def state_of(season: SolvedSeason, animal: str) -> State:
    """Return what an animal of the collection does this season."""
    if any(animal in pair.pair for pair in season.pairs):
        return State.PAIRED
    if animal in season.prepared.records.settings.locks.sit_out:
        return State.LOCK
    if not season.found.may_breed(animal):
        return State.RULE
    if not any(animal in each.pair for each in season.problem.candidates):
        return State.NO_MATE
    return State.LEFT_OUT


def _left_out(questions: Questions, animal: str, quick: bool, flips: bool) -> LeftOut:
    season = questions.season
    own = [each for each in season.problem.candidates if animal in each.pair]
    best = max(own, key=lambda each: (each.worth, each.pair))
    held = season.held_back(best.pair)
    if quick:
        return LeftOut(best=best, held_back=held, with_it=None, held_by=None, flips=None)
    female = animal == best.dam
    asked = questions.with_female(animal) if female else questions.with_male(animal)
    with_it = questions.ask(asked)
    return LeftOut(
        best=best,
        held_back=held,
        with_it=with_it,
        held_by=_held_by(questions, animal),
        flips=_flips(season, animal if female else None, with_it) if flips else None,
    )


def _held_by(questions: Questions, animal: str) -> tuple[str, ...]:
    """Return what would bring an animal into the plan: any one of the limits loosened, in words.

    The season is solved with each limit loosened once, whatever number of animals is asked about.
    """
    return tuple(
        words
        for words, asked in loosened(questions)
        if any(animal in pair for pair in questions.ask(asked).pairs)
    )


def loosened(questions: Questions) -> list[tuple[str, Asked]]:
    """Return what would loosen each limit that holds the plan back, in words and as a question.

    A male gets one more female, as far as visits allow; any other limit is left out.
    """
    season = questions.season
    found = {}
    for limit in limits_of(season.problem):
        if limit.setting in found or not limit.holds_back(season.solution.chosen or ()):
            continue
        if limit.owner and limit.setting == limit.id:
            if season.problem.male_limits[limit.owner] < most_visited(season.prepared, limit.owner):
                words = f"with one more female for {season.label(limit.owner)}"
                found[limit.setting] = (words, questions.one_more(limit.owner))
            continue
        words = f"without the limit of {limit.tell(limit.named, season.label)}"
        asked = Asked(key=("limit", limit.setting), changed=limit.without(), what=words)
        found[limit.setting] = (words, asked)
    return list(found.values())


def _runner_up(questions: Questions, pair: Pair, without: Counterfactual) -> Counterfactual:
    """Return the best plan that gives the dam another sire: often the best without the pair."""
    if without.mates.get(pair[0]) is not None:
        return without
    return questions.ask(questions.other_sire(pair))


def _with_exception(questions: Questions, pair: Pair) -> Counterfactual:
    problem = excepted(questions.season, pair)
    must = replace(problem, must=(*problem.must, pair))
    dam, sire = map(questions.season.label, pair)
    what = f"{dam} x {sire} by exception"
    return questions.ask(Asked(key=("excepted", pair), changed=must, what=what))


def _flips(season: SolvedSeason, dam: str | None, other: Counterfactual | None) -> Flips | None:
    """Return what would make another plan as good; a plan of other candidates has no flips."""
    if other is None or not other.pairs:
        return None
    if not all(pair in season.place for pair in other.pairs):
        return None
    weight = weight_flip(season, dam, other.pairs) if dam is not None else None
    return Flips(prices=price_flips(season, other.pairs), weight=weight)


def _barred(season: SolvedSeason, animal: str) -> Mapping[str, tuple[RuleVerdict, ...]]:
    """Return the failed pair rules by mate."""
    barred = sorted(pair for pair in season.found.barred if animal in pair)
    return {
        (pair[1] if pair[0] == animal else pair[0]): tuple(
            verdict for verdict in pair_verdicts(season.prepared, *pair) if not verdict.passed
        )
        for pair in barred
    }


def _limit(season: SolvedSeason, sire: str) -> tuple[int, str]:
    prepared = season.prepared
    stated, reason = male_limit(prepared.animals[sire], prepared.records)
    allowed = season.problem.male_limits.get(sire, stated)
    if allowed < stated:
        reason = f"{reason}, but no more can be visited in the pairing window"
    return allowed, reason


def _other_lock(season: SolvedSeason, pair: Pair) -> str:
    """Return the lock that keeps two animals apart, if one does."""
    records = season.prepared.records
    locks = records.settings.locks
    if pair in records.state.refused:
        return "refused"
    if pair in locks.never_pair:
        return "never_pair"
    if pair[0] in locks.sit_out:
        return "sit_out"
    made = dict(records.already_paired).get(pair[0])
    return "already_paired" if made is not None and made != pair[1] else ""
