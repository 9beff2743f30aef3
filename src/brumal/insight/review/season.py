"""Forecast against what came, clutch by clutch, and how far the forecasts held.

The forecast is what the tool says of the pair as seen from the first day of pairing, by ordinary
visits, so that any folder can be looked back on, whether a plan was printed then or not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from brumal.forecast.clutch import ClutchForecast, ClutchForecasts, Floats, forecast_clutches
from brumal.forecast.distributions import lognormal_counts, mean_count
from brumal.insight.review.money import MoneyFigure, drawn_money, money_figure
from brumal.insight.review.windows import DayFigure, Figure, Part, counts_of, days_of, forecast_of
from brumal.pipeline import Prepared, prepare_records
from brumal.planner.came import LookCame, looks_came, money_came, money_of
from brumal.planner.pairs.looks import outcomes_of_many
from brumal.planner.pairs.pricing import telling_prices
from brumal.planner.visiting import Visiting
from brumal.records.animal_table import MOST_EGGS
from brumal.records.animals import Clutch
from brumal.records.season_facts import SeasonClutch
from brumal.records.season_state import MAY_MEET, FemaleState, Stage, with_unknown_sire

OVER = timedelta(days=120)
"""So long after the last day of pairing a female that shows nothing has not gone (common practice,
no source: an ovulation still to come would be far out of season)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClutchReview:
    """One pair of the season.

    ``sires`` are the males that may be the sire with their chances now. ``went`` is ``None`` while
    she may still go. ``fertile`` is of the eggs that were laid, ``hatched`` of the fertile ones;
    ``hatching`` was to be expected by the day she laid, ``shed`` and ``laying`` by the first day of
    pairing.
    ``money`` is what the pair was to bring, and what its young come to at the same prices; young
    whose look is not told count at the mean of the pair.
    """

    dam: str
    sire: str
    sires: tuple[tuple[str, float], ...]
    stage: Stage
    goes: float
    went: bool | None
    clutch: SeasonClutch | None
    eggs: Figure | None
    fertile: Figure | None
    hatched: Figure | None
    shed: DayFigure | None
    laying: DayFigure | None
    hatching: DayFigure | None
    looks: tuple[LookCame, ...]
    money: MoneyFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """How many windows of one kind held."""

    what: str
    held: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnFigure:
    """A figure of the collection: as it was foreseen with, and with this season's clutches."""

    what: str
    before: float
    now: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """A season looked back on.

    ``own`` are the collection's figures, those that the keeper states left out. ``goes`` is
    (expected, came, of how many) of the females whose season is settled, ``money`` that of all
    pairs of which it is known (``None``: of none); ``names`` maps ids to the labels that people
    read.
    """

    season: str
    currency: str
    clutches: tuple[ClutchReview, ...]
    held: tuple[Held, ...]
    own: tuple[OwnFigure, ...]
    goes: tuple[float, int, int]
    money: MoneyFigure | None
    names: Mapping[str, str]
    as_of: date | None


def review(now: Prepared, before: Prepared) -> Review:
    """Look back on a season: ``now`` with all that happened, ``before`` as it was foreseen."""
    if now.records.has_unknown_sire and not before.records.has_unknown_sire:
        animals = with_unknown_sire(before.records.animals, now.records.state)
        before = prepare_records(replace(before.records, animals=animals), like=before)
    parts = parts_of(now, before)
    drawn, visiting = drawn_money(before, parts), Visiting.of(before)
    clutches = tuple(
        _review(now, visiting, now.records.state.females[dam], own, drawn[dam])
        for dam, own in parts.items()
    )
    settled = [each for each in clutches if each.went is not None]
    return Review(
        season=now.records.settings.season.name,
        currency=now.records.settings.currency,
        clutches=clutches,
        held=_held(clutches),
        own=tuple(_own(now, before, clutches)),
        goes=(
            sum(each.goes for each in settled),
            sum(each.went is True for each in settled),
            len(settled),
        ),
        money=_in_all(clutches, drawn),
        names={animal.id: animal.label for animal in now.records.animals},
        as_of=now.records.as_of,
    )


def parts_of(now: Prepared, before: Prepared) -> dict[str, list[Part]]:
    """Return for each female that was paired, by id, the males that may be her clutch's sire."""
    sheets, visiting = telling_prices(before).sheets, Visiting.of(before)
    found = {}
    for dam, state in sorted(now.records.state.females.items()):
        if not state.sires or dam not in before.forecasts.dams or state.stage is Stage.OPEN:
            continue
        sires = _sires(now, state)
        pairs = [(dam, sire) for sire in sires if sire in before.animals]
        odds = dict(zip(pairs, outcomes_of_many(before, sheets, pairs), strict=True))
        if odds:
            found[dam] = [
                Part(sires[sire], forecast_of(visiting, dam, sire), outcomes)
                for (_, sire), outcomes in odds.items()
            ]
    return found


def _sires(now: Prepared, state: FemaleState) -> Mapping[str, float]:
    return now.sires.get(state.animal) or {each.id: each.chance for each in state.sires}


def _review(
    now: Prepared,
    visiting: Visiting,
    state: FemaleState,
    parts: Sequence[Part],
    drawn: Floats,
) -> ClutchReview:
    before, clutch, sires = visiting.prepared, state.clutch, _sires(now, state)
    eggs, fertile, hatched = counts_of(parts, clutch)
    shed, laying, hatching = days_of(visiting, state)
    looks = looks_came(before, clutch, [(part.chance, part.looks) for part in parts])
    means = [sum(each.chance * each.value for each in part.looks) for part in parts]
    went = _went(now, state)
    expected = sum(
        part.chance * _expected(before, part.forecast, mean)
        for part, mean in zip(parts, means, strict=True)
    )
    mean = sum(part.chance * mean for part, mean in zip(parts, means, strict=True))
    came = (
        money_came(before, clutch, looks, mean) if went is not False else money_of(before, 0, 0, 0)
    )
    return ClutchReview(
        dam=state.animal,
        sire=max(sires, key=lambda male: (sires[male], male)),
        sires=tuple(sorted(sires.items(), key=lambda each: (-each[1], each[0]))),
        stage=state.stage,
        goes=sum(part.chance * part.forecast.goes for part in parts),
        went=went,
        clutch=clutch,
        eggs=eggs,
        fertile=fertile,
        hatched=hatched,
        shed=shed,
        laying=laying,
        hatching=hatching,
        looks=looks,
        money=money_figure(expected, drawn, came),
    )


def _in_all(clutches: Iterable[ClutchReview], drawn: Mapping[str, Floats]) -> MoneyFigure | None:
    """Return the money of all pairs of which it is known what they came to."""
    done = [(each, each.money.came) for each in clutches if each.money.came is not None]
    if not done:
        return None
    return money_figure(
        sum(each.money.mean for each, _ in done),
        np.sum([drawn[each.dam] for each, _ in done], axis=0),
        sum(came for _, came in done),
    )


def _went(now: Prepared, state: FemaleState) -> bool | None:
    if state.clutch is not None:
        return True
    over = now.records.settings.season.pair_to + OVER
    seen = now.records.as_of
    if state.stage in MAY_MEET and seen is not None and seen > over:
        return False
    return None


def _expected(before: Prepared, forecast: ClutchForecast, mean: float) -> float:
    return money_of(before, forecast.goes * forecast.eggs, forecast.expected_young, mean)


def _held(clutches: Iterable[ClutchReview]) -> tuple[Held, ...]:
    found = []
    reviewed = list(clutches)
    for what in ("eggs", "fertile", "hatched", "shed", "laying", "hatching", "money"):
        told = [f.held for each in reviewed if (f := getattr(each, what)) is not None]
        known = [held for held in told if held is not None]
        if known:
            found.append(Held(what=what, held=sum(known), of=len(known)))
    return tuple(found)


def _own(now: Prepared, before: Prepared, reviewed: Sequence[ClutchReview]) -> Iterator[OwnFigure]:
    """Yield the collection's figures: a grown female's eggs, fertile eggs, young of them."""
    sires = {each.dam: each.sire for each in reviewed}
    laid = [
        Clutch(
            dam=each.dam,
            sire=sires.get(each.dam),
            laid=each.laid,
            eggs=each.eggs,
            slugs=each.slugs,
            hatched=each.hatched,
        )
        for each in now.records.this_season
    ]
    after = forecast_clutches(replace(now.records, clutches=(*now.records.clutches, *laid)))
    assume, prior = now.records.settings.assume, now.records.settings.clutch
    told = [_figures_of(each, prior.reference_g) for each in (before.forecasts, after)]
    stated = {"eggs": assume.eggs, "fertile": assume.fertile, "hatched": assume.hatched}
    for what in stated:
        if stated[what] is None:
            yield OwnFigure(what=what, before=told[0][what], now=told[1][what])


def _figures_of(forecasts: ClutchForecasts, grams: float) -> dict[str, float]:
    """Return the figures of an animal that is not on record: those of the collection."""
    law = forecasts.collection.eggs.of("", grams, first=False)
    return {
        "eggs": mean_count(lognormal_counts(*law, MOST_EGGS)),
        "fertile": forecasts.fertile.of("", "")[0],
        "hatched": forecasts.hatched.of("", "")[0],
    }
