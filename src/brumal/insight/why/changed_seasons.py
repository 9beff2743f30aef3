"""Seasons with one figure changed: a heavier female, another cap on F, a longer window.

Each is the problem that a fresh start from records changed by hand would come to; what the change
cannot touch is taken over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np

from brumal.forecast.clutch import ClutchForecasts, with_dam_anew
from brumal.forecast.weight import WeightSeries, weight_series
from brumal.pipeline import prepare_records
from brumal.planner.pairs.candidate import Candidate, Pair
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason, problem_of
from brumal.planner.season_routes import SeasonRoute
from brumal.planner.visiting import Visiting
from brumal.records.animals import Animal, Clutch, Weighing
from brumal.records.folder import SeasonRecords
from brumal.records.season_facts import SeasonClutch
from brumal.records.settings import Settings
from brumal.rules.males import male_limit
from brumal.rules.rule import RuleContext
from brumal.rules.start import Meetings, Start, start_of


def from_records(
    season: SolvedSeason, records: SeasonRecords, routes: Sequence[SeasonRoute] | None = None
) -> Problem:
    """Return the problem of changed records, made from the start but for genotypes and kinship.

    ``routes`` are taken over where they are given.

    Raises :class:`brumal.records.faults.InputError` where the records hold errors.
    """
    prepared = prepare_records(records, like=season.prepared)
    return problem_of(prepared, find_candidates(prepared), routes)


def with_settings(season: SolvedSeason, settings: Settings) -> Problem:
    """Return the problem of a season with other settings."""
    return from_records(season, replace(season.prepared.records, settings=settings))


def heavier_records(season: SolvedSeason, animal: str, grams: float) -> SeasonRecords:
    """Return the records with an animal heavier by so much at every weighing that tells of now.

    Those are its weighings since it last laid, and the weight in the animals table.
    """
    records = season.prepared.records
    laid = season.prepared.rules.layings[animal]
    since = laid[-1] if laid else None

    def weighed(each: Weighing) -> Weighing:
        tells = each.animal == animal and (since is None or each.date > since)
        return replace(each, grams=each.grams + grams) if tells else each

    return replace(
        records,
        animals=tuple(
            replace(each, weight_g=each.weight_g + grams)
            if each.id == animal and each.weight_g is not None
            else each
            for each in records.animals
        ),
        weighings=tuple(weighed(each) for each in records.weighings),
    )


def heavier(season: SolvedSeason, dam: str, grams: float) -> Problem:
    """Return the problem of a season in which a female weighs so many grams more (or less).

    Where she may breed before and after, and her weight bears on no other clutch, her own pairs
    alone are priced anew; else the season is made from the start.
    """
    records = heavier_records(season, dam, grams)
    animals = {animal.id: animal for animal in records.animals}
    rules = replace(
        season.prepared.rules,
        series={**season.prepared.rules.series, dam: _series(records, animals[dam])},
    )
    start, was = start_of(animals[dam], rules), season.prepared.starts[dam]
    own = [each.pair for each in season.candidates_of(dam)]
    if dam in rules.reweighed:
        return from_records(season, records, season.routes)
    if not own and start.day is None:
        return season.problem
    forecasts = with_dam_anew(season.prepared.forecasts, records, rules.series, dam)
    same = _same_start(start, was) and _alike(season, forecasts, dam)
    same = same and _same_meetings(season, start, rules)
    if not own or not same:
        return from_records(season, records, season.routes)
    found = {**season.found.verdicts, dam: start.verdicts}
    penalties = {name: sum(each.penalty for each in told) for name, told in found.items()}
    visiting = Visiting(season.prepared, forecasts)
    fresh = season.found.pricing.again(
        [
            visiting.clutch(animals[dam], animals[sire], season.found.starts[dam, sire])
            for _, sire in own
        ],
        penalties,
    )
    return with_candidates(season.problem, fresh)


def heavier_male(season: SolvedSeason, sire: str, grams: float) -> Problem:
    """Return the problem of a season in which a male weighs so many grams more (or less).

    His weight decides whether he may breed, what a soft rule costs and how many females he may be
    given; where none of these changes the problem is the season's own.
    """
    records = heavier_records(season, sire, grams)
    before = season.prepared.records
    (animal,) = [each for each in records.animals if each.id == sire]
    series = {**season.prepared.rules.series, sire: _series(records, animal)}
    rules = replace(season.prepared.rules, series=series)
    start = start_of(animal, rules)
    was = season.prepared.starts[sire]
    same = (
        sire not in season.prepared.rules.reweighed
        and _same_start(start, was)
        and _same_meetings(season, start, rules)
        and sum(each.penalty for each in start.verdicts)
        == sum(each.penalty for each in was.verdicts)
        and male_limit(animal, records)[0] == male_limit(season.prepared.animals[sire], before)[0]
    )
    return season.problem if same else from_records(season, records, season.routes)


def _same_start(one: Start, two: Start) -> bool:
    """Say whether an animal starts on the same day with the same chance."""
    return (one.day, one.chance) == (two.day, two.chance)


def _same_meetings(season: SolvedSeason, start: Start, rules: RuleContext) -> bool:
    """Say whether an animal is fit as before on the days on which others may first meet it."""
    prepared, animal = season.prepared, start.animal
    others = {each.day for each in prepared.starts.values() if each.day is not None}
    anew = Meetings(prepared.animals, {animal: start}, rules)
    return all(
        _same_start(anew.since(animal, day), prepared.meetings.since(animal, day)) for day in others
    )


def _series(records: SeasonRecords, animal: Animal) -> WeightSeries:
    """Return one animal's weights as they are read."""
    clutches: list[Clutch | SeasonClutch] = [*records.clutches, *records.this_season]
    return weight_series(
        animal,
        [each for each in records.weighings if each.animal == animal.id],
        [each for each in clutches if each.dam == animal.id],
    )


def _alike(season: SolvedSeason, forecasts: ClutchForecasts, dam: str) -> bool:
    """Say whether the forecasts of all other females and all shares are as they were."""
    before = season.prepared.forecasts
    return (
        all(
            name == dam
            or (
                each.goes == before.dams[name].goes
                and np.array_equal(each.eggs_pmf, before.dams[name].eggs_pmf)
            )
            for name, each in forecasts.dams.items()
        )
        and np.array_equal(forecasts.fertile.mean, before.fertile.mean)
        and np.array_equal(forecasts.hatched.mean, before.hatched.mean)
    )


def with_candidates(problem: Problem, fresh: Iterable[Candidate]) -> Problem:
    """Return the problem with some of its pairs priced anew."""
    new: dict[Pair, Candidate] = {each.pair: each for each in fresh}
    return replace(
        problem, candidates=tuple(new.get(each.pair, each) for each in problem.candidates)
    )


def longer(season: SolvedSeason, days: int) -> Problem:
    """Return the problem of a season whose pairing window ends so many days later.

    The last day decides how many visits there are, and so what a pair brings.
    """
    settings = season.prepared.records.settings
    later = replace(settings.season, pair_to=settings.season.pair_to + timedelta(days=days))
    return with_settings(season, replace(settings, season=later))


def capped(season: SolvedSeason, max_f: float) -> Problem:
    """Return the problem of a season with another cap on F."""
    settings = season.prepared.records.settings
    limits = replace(settings.limits, max_F=max_f)
    return with_settings(season, replace(settings, limits=limits))


def excepted(season: SolvedSeason, pair: Pair) -> Problem:
    """Return the problem of a season that makes an exception from the cap on F for one pair."""
    settings = season.prepared.records.settings
    exceptions = (*settings.kin.exceptions, (*pair, "what if"))
    return with_settings(
        season, replace(settings, kin=replace(settings.kin, exceptions=exceptions))
    )
