"""When an animal may first breed: founders by their rules, young of a route by age and growth.

Seasons are counted from 1, the season of the folder. The growth of young is common practice without
a source; a first year's mass times four is published (Ellis & Chappell 1987, J Comp Physiol B
157:393-402, abstract read), keepers feed faster.
"""

from __future__ import annotations

import calendar
import itertools
import math
from datetime import date, timedelta

from brumal.forecast.dates import clutch_dates, window
from brumal.pipeline import Prepared
from brumal.records.ages import MEAN_MONTH_DAYS, day_of_age
from brumal.records.animals import Animal, Sex, Status
from brumal.records.settings import RuleLimits
from brumal.rules.table import judge_animal
from brumal.rules.verdict import RuleVerdict

GROWTH: dict[Sex, tuple[tuple[float, float], ...]] = {
    Sex.FEMALE: ((0, 65), (12, 500), (24, 1150), (30, 1500), (36, 1700), (48, 2000)),
    Sex.MALE: ((0, 65), (12, 450), (18, 650), (24, 800), (36, 1000), (48, 1100)),
}
"""Months and grams of a young that is fed for breeding (common practice, no source)."""

_WAITS = frozenset({"weight", "age", "quarantine", "recovered", "in-a-row", "rest", "status"})
"""Rules that time alone, or food, is expected to meet; the others wait for the keeper or a vet."""


def season_day(day: date, season: int) -> date:
    """Return a day of the folder's season in the ``season``-th of a route."""
    year = day.year + season - 1
    return date(year, day.month, min(day.day, calendar.monthrange(year, day.month)[1]))


def latest_start(prepared: Prepared, season: int) -> date:
    """Return the last day on which a new breeder is still counted in: the middle of pairing."""
    dates = prepared.records.settings.season
    middle = dates.pair_from + (dates.pair_to - dates.pair_from) / 2
    return season_day(middle, season)


def hatch_day(prepared: Prepared, season: int) -> date:
    """Return the middle of the hatching window of a female of whom nothing is recorded."""
    usual = prepared.ovulations.of("").days
    hatching = clutch_dates(usual, prepared.records.settings.dates).hatching
    return season_day(window(hatching).middle, season)


def months_to_grow(sex: Sex, grams: float) -> float:
    """Return the months from hatching to a weight; past the table its last step goes on."""
    points = GROWTH[sex]
    for (m0, g0), (m1, g1) in itertools.pairwise(points):
        if grams <= g1:
            return m0 + max(grams - g0, 0.0) / (g1 - g0) * (m1 - m0)
    (m0, g0), (m1, g1) = points[-2:]
    return m1 + (grams - g1) / (g1 - g0) * (m1 - m0)


def breeding_months(sex: Sex, limits: RuleLimits) -> float:
    """Return the age at which a young is both old and heavy enough by the keeper's rules."""
    if sex is Sex.MALE:
        return max(limits.male_age_months, months_to_grow(sex, limits.male_weight_g))
    return max(limits.female_age_months, months_to_grow(sex, limits.female_weight_g))


def lag(prepared: Prepared, sex: Sex) -> int:
    """Return how many seasons after the one it hatches in a young may first breed."""
    months = breeding_months(sex, prepared.records.settings.rules)
    ready = day_of_age(hatch_day(prepared, 1), months)
    return max(first_season(prepared, ready) - 1, 1)


def first_season(prepared: Prepared, ready: date) -> int:
    """Return the first season that an animal ready on a day can still be counted in."""
    season = 1
    while latest_start(prepared, season) < ready:
        season += 1
    return season


def founder_ready(prepared: Prepared, animal: Animal) -> int | None:
    """Return the first season in which an animal of the collection may breed.

    One whose start lies within this season takes part in it from that day.
    ``None``: nothing on record says that it ever may (retired, outside, barred by a rule that time
    does not meet, or unknown in what a rule asks for).
    """
    if animal.sex is None or animal.status not in (Status.BREEDER, Status.LOAN, Status.HOLDBACK):
        return None
    rests = 2 if animal.id in prepared.records.settings.locks.sit_out else 1
    if prepared.starts[animal.id].day is not None:
        return rests
    failed = [verdict for verdict in judge_animal(animal, prepared.rules) if not verdict.passed]
    if any(verdict.rule not in _WAITS for verdict in failed):
        return None
    seasons = [_season_of(prepared, animal, verdict) for verdict in failed]
    known = [season for season in seasons if season is not None]
    if len(known) < len(seasons):
        return None
    return max([2, *known])


def _season_of(prepared: Prepared, animal: Animal, verdict: RuleVerdict) -> int | None:
    """Return the first season in which a failed rule should be met."""
    ready = verdict.figures.get("ready")
    if isinstance(ready, str):
        return first_season(prepared, date.fromisoformat(ready))
    if verdict.rule == "status":
        return 1
    missing = verdict.figures.get("missing", 0.0)
    if verdict.rule in ("recovered", "in-a-row", "rest"):
        seasons = math.ceil(float(missing)) if verdict.rule == "rest" else 1
        return 1 + max(seasons, 1)
    if verdict.rule == "weight":
        return _grown(prepared, animal, verdict)
    return None


def _grown(prepared: Prepared, animal: Animal, verdict: RuleVerdict) -> int | None:
    last, limit = prepared.rules.series[animal.id].last, verdict.figures.get("limit_g")
    if last is None or not isinstance(limit, float) or animal.sex is None:
        return None
    wait = months_to_grow(animal.sex, limit) - months_to_grow(animal.sex, last.grams)
    weighed = last.on or prepared.records.settings.season.pair_from
    ready = weighed + timedelta(days=math.ceil(max(wait, 0.0) * MEAN_MONTH_DAYS))
    return max(first_season(prepared, ready), 2)
