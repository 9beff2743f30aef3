"""The whole season explained: who rests, why each pair stands, what to change first, what else."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from brumal.insight.why.alternatives import Alternatives, alternatives
from brumal.insight.why.answers import (
    AnimalWhy,
    PairWhy,
    sit_outs,
    unused_males,
    why_animal,
    why_pair,
)
from brumal.insight.why.counterfactuals import Questions
from brumal.insight.why.shadow_prices import ShadowPrice, shadow_prices
from brumal.planner.pairs.deviation import deviation
from brumal.planner.pairs.pricing import telling_prices
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What explanations are told with: the season, its currency, its plan's value and its names.

    ``names`` maps each id to the label that people read; ``bound`` is proven to be above any plan;
    ``spread`` is how far the money of the plan may come out either way (0: not told), ``as_of`` the
    day that the season is seen from.
    """

    season: str
    currency: str
    verdict: Verdict
    value: float
    bound: float
    names: Mapping[str, str]
    spread: float = 0.0
    as_of: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeWhy:
    """Everything that can be asked of a plan at once.

    ``prices`` and ``alternatives`` are ``None`` where only what needs no solve was asked for.
    """

    subject: Subject
    resting: tuple[AnimalWhy, ...]
    pairs: tuple[PairWhy, ...]
    males: tuple[AnimalWhy, ...]
    prices: tuple[ShadowPrice, ...] | None
    alternatives: Alternatives | None


def subject_of(questions: Questions) -> Subject:
    """Return what explanations of a season are told with."""
    season = questions.season
    records = season.prepared.records
    return Subject(
        season=records.settings.season.name,
        currency=records.settings.currency,
        verdict=season.solution.verdict,
        value=season.solution.objective,
        bound=season.solution.bound,
        names={animal.id: animal.label for animal in records.animals},
        spread=_spread(season),
        as_of=records.as_of,
    )


def _spread(season: SolvedSeason) -> float:
    prepared, found = season.prepared, season.found
    telling, costs = telling_prices(prepared), prepared.costs
    return math.sqrt(
        sum(
            deviation(
                telling.by_sire(found.clutches[pair.pair]),
                costs,
                prepared.records.settings.sale,
            )
            ** 2
            for pair in season.pairs
        )
    )


def why_season(questions: Questions, quick: bool) -> WholeWhy:
    """Explain a whole season; ``quick`` leaves out all that needs a solve."""
    season = questions.season
    return WholeWhy(
        subject=subject_of(questions),
        resting=tuple(why_animal(questions, dam, quick, False) for dam in sit_outs(season)),
        pairs=tuple(why_pair(questions, *pair.pair, quick, False) for pair in season.pairs),
        males=tuple(why_animal(questions, sire, quick, False) for sire in unused_males(season)),
        prices=None if quick else shadow_prices(questions),
        alternatives=None if quick else alternatives(questions),
    )
