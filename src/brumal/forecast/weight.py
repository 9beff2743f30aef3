"""Weights as dated series: what the scales said, what of it counts, and where it is heading."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from itertools import pairwise
from statistics import median

from brumal.forecast.trend import Projection, Trend, carry, fit_trend
from brumal.records.animals import Animal, Clutch, Sex, Weighing
from brumal.records.folder import SeasonRecords
from brumal.records.season_facts import SeasonClutch

GRAVID_DAYS = 100
"""A weighing so many days or fewer before a laying weighs eggs or follicles along with her."""
AFTER_LAYING_DAYS = 45
NEIGHBOUR_DAYS = 120
SUDDEN_DROP_SHARE = 0.25
SUDDEN_DROP_DAYS = 90
ORDINARY_FAST_SHARE = 0.2
HALF_A_YEAR = 183
BACK_SHARE = 0.9
ROUNDING = 1e-9
FAR_OFF = 3.0
"""A last weighing under the line by more than this many times the scatter is told."""
BEFORE_EGGS_DAYS = 300
"""So many days before she was gravid her weight still tells what she went into the season with."""


class WeighingKind(StrEnum):
    """How a weighing is read."""

    PLAIN = "plain"
    BEFORE_LAYING = "before laying"
    AFTER_LAYING = "after laying"
    OFF_BY_TEN = "off by ten"


@dataclass(frozen=True, slots=True)
class Point:
    """One weighing in grams and how it is read; ``on`` is ``None`` where no date was kept."""

    on: date | None
    grams: float
    kind: WeighingKind = WeighingKind.PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightSeries:
    """All weighings of one animal in order of date.

    ``last`` is the last weighing that counts as her weight (``None`` when there is none);
    ``laid_since`` says that she has laid since then, so that it tells nothing of her now.
    ``trend`` is the present gain (``None`` when too few weighings tell it). ``notes`` are whole
    sentences on what was left out or needs a look, ``losses`` on the loss at each laying.
    ``weigh_weekly`` says that the weight falls, more than a fast of the season explains.
    """

    animal: str
    points: tuple[Point, ...]
    last: Point | None
    trend: Trend | None
    laid_since: bool = False
    weigh_weekly: bool = False
    notes: tuple[str, ...] = ()
    losses: tuple[str, ...] = ()


def weight_series(
    animal: Animal, weighings: Iterable[Weighing], clutches: Iterable[Clutch | SeasonClutch] = ()
) -> WeightSeries:
    """Read one animal's weighings (grams); ``weighings`` and ``clutches`` are hers alone.

    The weight in the animals table joins the series when it bears a later date than every
    weighing, and stands alone when there is no weighing.
    """
    dated = _dated(animal, weighings)
    if not dated:
        return _without_series(animal)
    laid = layings(animal, clutches)
    points = _read(dated, laid, animal)
    usable = [point for point in points if point.kind is not WeighingKind.OFF_BY_TEN]
    run, drops = _current_run(usable, laid, animal)
    last = run[-1] if run else (usable[-1] if usable else None)
    laid_since = bool(laid) and last is not None and last.on is not None and last.on <= laid[-1]
    trend = (
        None
        if laid_since
        else fit_trend([(point.on, point.grams) for point in run if point.on is not None])
    )
    notes = [*_off_notes(points), *drops, *_fall_notes(animal, last, trend)]
    notes += _fast_notes(animal, trend)
    return WeightSeries(
        animal=animal.id,
        points=tuple(points),
        last=last,
        trend=trend,
        laid_since=laid_since,
        weigh_weekly=bool(monthly_loss(trend))
        and (animal.sex is not Sex.MALE or is_wasting(trend)),
        notes=tuple(notes),
        losses=tuple(_losses(usable, laid)),
    )


def layings(animal: Animal, clutches: Iterable[Clutch | SeasonClutch]) -> tuple[date, ...]:
    """Return the days on which she laid, earliest first, from her clutches and ``last_laid``."""
    days = {clutch.laid for clutch in clutches if clutch.laid is not None and clutch.eggs != 0}
    if animal.last_laid is not None:
        days.add(animal.last_laid)
    return tuple(sorted(days))


def project(series: WeightSeries, on: date) -> Projection | None:
    """Carry the present gain to the day ``on``; ``None`` without a trend or for a day gone by."""
    if series.trend is None or on < series.trend.on:
        return None
    return carry(series.trend, on)


def weight_going_in(series: WeightSeries, before: date, within_days: int) -> Point | None:
    """Return the last weighing that holds no eggs or follicles: her own weight for a season.

    It lies on or in the ``within_days`` days before the day ``before``. One in the weeks after an
    earlier laying, when she is lean, counts only where there is no other.
    """
    dated = [
        point
        for point in series.points
        if point.on is not None and 0 <= (before - point.on).days <= within_days
    ]
    for kind in (WeighingKind.PLAIN, WeighingKind.AFTER_LAYING):
        found = [point for point in dated if point.kind is kind]
        if found:
            return found[-1]
    return None


def mass_for_clutch(series: WeightSeries, before: date, within_days: int) -> float | None:
    """Return the mass in grams that she went into a season with, or ``None``."""
    found = weight_going_in(series, before, within_days)
    return found.grams if found is not None else None


def as_weighed_by(animal: Animal, day: date) -> Animal:
    """Return the animal without a weight that bears a later date than ``day``."""
    later = animal.weighed is not None and animal.weighed > day
    return replace(animal, weight_g=None, weighed=None) if later else animal


def all_series(records: SeasonRecords, until: date | None = None) -> dict[str, WeightSeries]:
    """Return the weight series of every animal, by id, of weighings ``until`` a day.

    A weight is read by every laying, those of this season among them.
    """
    weighings: dict[str, list[Weighing]] = defaultdict(list)
    for weighing in records.weighings:
        if until is None or weighing.date <= until:
            weighings[weighing.animal].append(weighing)
    laid: list[Clutch | SeasonClutch] = [*records.clutches, *records.this_season]
    clutches: dict[str, list[Clutch | SeasonClutch]] = defaultdict(list)
    for clutch in laid:
        clutches[clutch.dam].append(clutch)
    return {
        animal.id: weight_series(
            animal if until is None else as_weighed_by(animal, until),
            weighings[animal.id],
            clutches[animal.id],
        )
        for animal in records.animals
    }


def _dated(animal: Animal, weighings: Iterable[Weighing]) -> list[tuple[date, float]]:
    """Return (day, grams) in order; of two weighings on one day the lower row counts."""
    by_day = {each.date: each.grams for each in sorted(weighings, key=lambda each: each.row)}
    later = animal.weighed is not None and (not by_day or animal.weighed > max(by_day))
    if animal.weight_g is not None and animal.weighed is not None and later:
        by_day[animal.weighed] = animal.weight_g
    return sorted(by_day.items())


def _without_series(animal: Animal) -> WeightSeries:
    if animal.weight_g is None:
        note = f"{animal.label} has no weighing on record."
        return WeightSeries(animal=animal.id, points=(), last=None, trend=None, notes=(note,))
    point = Point(None, animal.weight_g)
    return WeightSeries(animal=animal.id, points=(point,), last=point, trend=None)


def _read(dated: Sequence[tuple[date, float]], laid: Sequence[date], animal: Animal) -> list[Point]:
    return [
        Point(day, grams, _kind(at, dated, laid, animal)) for at, (day, grams) in enumerate(dated)
    ]


def _kind(
    at: int, dated: Sequence[tuple[date, float]], laid: Sequence[date], animal: Animal
) -> WeighingKind:
    day = dated[at][0]
    if _off_by_ten(at, dated):
        return WeighingKind.OFF_BY_TEN
    if animal.sex is not Sex.MALE:
        for laying in laid:
            if 0 <= (laying - day).days <= GRAVID_DAYS:
                return WeighingKind.BEFORE_LAYING
            if 0 < (day - laying).days <= AFTER_LAYING_DAYS:
                return WeighingKind.AFTER_LAYING
    return WeighingKind.PLAIN


def _off_by_ten(at: int, dated: Sequence[tuple[date, float]]) -> bool:
    """Say whether a weighing is ten times, or a tenth of, the median of its near neighbours."""
    day, grams = dated[at]
    around = [*dated[max(at - 2, 0) : at], *dated[at + 1 : at + 3]]
    near = [other for when, other in around if abs((when - day).days) <= NEIGHBOUR_DAYS]
    if len(near) < 2 or grams <= 0:
        return False
    return 0.8 <= abs(math.log10(grams / median(near))) <= 1.2


def _current_run(
    usable: Sequence[Point], laid: Sequence[date], animal: Animal
) -> tuple[list[Point], list[str]]:
    """Return the weighings since the last laying or sudden drop, and a note on such a drop."""
    run = [point for point in usable if point.kind is not WeighingKind.BEFORE_LAYING]
    started = [day for day in laid if run and run[-1].on is not None and day < run[-1].on]
    if started:
        run = [point for point in run if point.on is not None and point.on > started[-1]]
    notes = []
    for at, (one, two) in reversed(list(enumerate(pairwise(run), start=1))):
        if _sudden(one, two) and animal.sex is not Sex.MALE:
            notes.append(
                f"From {one.on} to {two.on} the weight fell from {one.grams:,.0f} g to "
                f"{two.grams:,.0f} g with no laying on record: if she laid, enter the clutch; "
                "if not, have a vet look at her."
            )
            run = run[at:]
            break
    return run, notes


def _sudden(one: Point, two: Point) -> bool:
    if one.on is None or two.on is None:
        return False
    soon = (two.on - one.on).days <= SUDDEN_DROP_DAYS
    return soon and two.grams < (1 - SUDDEN_DROP_SHARE) * one.grams


def _off_notes(points: Sequence[Point]) -> list[str]:
    return [
        f"The weighing of {point.on} ({point.grams:,.0f} g) is about ten times off its neighbours "
        "and is left out; mend it in the weights table."
        for point in points
        if point.kind is WeighingKind.OFF_BY_TEN
    ]


def _losses(usable: Sequence[Point], laid: Sequence[date]) -> list[str]:
    notes = []
    for laying in laid:
        before = [p for p in usable if p.on is not None and 0 <= (laying - p.on).days <= 45]
        after = [p for p in usable if p.on is not None and 0 < (p.on - laying).days <= 21]
        if before and after:
            loss = 1 - after[0].grams / before[-1].grams
            notes.append(
                f"At the laying of {laying} the weight went from {before[-1].grams:,.0f} g to "
                f"{after[0].grams:,.0f} g ({loss:.0%}; the clutch alone is about a third)."
            )
    return notes


def _fall_notes(animal: Animal, last: Point | None, trend: Trend | None) -> list[str]:
    """Tell of a last weighing far under the line of all: the line does not see it."""
    if last is None or trend is None or trend.level_g - last.grams <= FAR_OFF * trend.scatter_g:
        return []
    return [
        f"The last weighing ({last.grams:,.0f} g on {last.on}) is "
        f"{trend.level_g - last.grams:,.0f} g under what the weighings of the last months lead "
        f"to. Weigh {animal.label} again; if it is right, look for the cause, with a vet."
    ]


def monthly_loss(trend: Trend | None) -> float:
    """Return the share of its weight that an animal surely loses in 30 days; zero: none surely."""
    if trend is None or trend.gain_high >= 0:
        return 0.0
    return -trend.gain * 30 / trend.level_g


def is_wasting(trend: Trend | None) -> bool:
    """Say whether an animal loses more than one that fasts over winter: 20 % in six months.

    Common practice, no source.
    """
    return 6 * monthly_loss(trend) > ORDINARY_FAST_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """A fall from one weighing (grams, day) to a later one, as a share of the first."""

    from_g: float
    from_day: date
    to_g: float
    to_day: date

    @property
    def share(self) -> float:
        """Return the share of the weight that went."""
        return 1 - self.to_g / self.from_g


def steepest_loss(
    series: WeightSeries, laid: Sequence[date], after: date | None = None
) -> Loss | None:
    """Return the greatest loss of a fifth or more within six months that still stands.

    Only weighings since the last laying count, and none that is off by ten. A loss stands until the
    last weighing is back at nine tenths of what was lost from. Of what a vet saw on the day
    ``after`` only the weight counts, as the start of what came since. Common practice, no source.
    """
    dated = [
        (point.on, point.grams)
        for point in series.points
        if point.on is not None and point.kind is not WeighingKind.OFF_BY_TEN
    ]
    if laid:
        dated = [point for point in dated if point[0] > laid[-1]]
    if after is not None:
        seen = [day for day, _ in dated if day <= after]
        dated = [point for point in dated if not seen or point[0] >= seen[-1]]
    if not dated:
        return None
    now = dated[-1][1]
    worst: Loss | None = None
    for at, (day, grams) in enumerate(dated):
        if now >= BACK_SHARE * grams:
            continue
        for later, low in dated[at + 1 :]:
            if (later - day).days > HALF_A_YEAR:
                break
            found = Loss(from_g=grams, from_day=day, to_g=low, to_day=later)
            big = found.share >= ORDINARY_FAST_SHARE - ROUNDING
            if big and (worst is None or found.share > worst.share):
                worst = found
    return worst


def _fast_notes(animal: Animal, trend: Trend | None) -> list[str]:
    share = monthly_loss(trend)
    if trend is None or not share:
        return []
    if animal.sex is Sex.MALE:
        if is_wasting(trend):
            return [
                f"He loses {-trend.gain:.1f} g a day, more than an ordinary winter fast: "
                "weigh him weekly and ask a vet if it goes on."
            ]
        return [
            f"He loses {-trend.gain:.1f} g a day: many males fast in the breeding season; outside "
            "it weigh him weekly, and ask a vet if it goes on."
        ]
    told = f"{animal.label} loses {-trend.gain:.1f} g a day, {share:.1%} of the weight in a month"
    if is_wasting(trend):
        return [f"{told}: look for the cause, with a vet."]
    return [f"{told}: weigh weekly, and look for the cause if it goes on."]
