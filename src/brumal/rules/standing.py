"""How an animal's weight stands against a limit on the day of judging.

The last weighing passes as it is. One under the limit passes where the animal should weigh enough
by the day with the chance ``rules.start_chance``, by the line of its weighings and by the last one
with the gain since then, whichever is lower: a robust line does not see a fall at its end. Such an
animal is weighed before its first visit. A weighing over the limit falls with the trend only if the
high end of the interval is under it; one that the line, or the loss since that weighing, leads
under the limit is met with a caution, and so is one of an animal that loses more than a winter fast
takes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from brumal.forecast.reach import chance_of_grams, reaches, surely_reaches
from brumal.forecast.trend import Projection
from brumal.forecast.weight import WeightSeries, is_wasting, monthly_loss, project
from brumal.records.animals import Animal
from brumal.rules.rule import RuleContext, called, grams, pronoun

WEIGHT_RULES = ("weight", "recovered")
"""The rules that hold a weight against a limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightCheck:
    """Whether a limit in grams is met, and the words for it.

    ``says`` is the start of a sentence (``Frost weighs 1,380 g on 2026-11-14``), ``beside`` whole
    sentences on how far the figure can be trusted, ``missing_g`` how far the last weighing lies
    under the limit, ``remedy`` when the animal gets there. ``figures`` hold the ``chance`` where
    the limit is met by grams still to come, else the day it is ``ready``, or ``likely`` to be.
    """

    met: bool
    caution: bool
    says: str
    beside: str
    missing_g: float
    remedy: str
    figures: dict[str, float | str]


def stand(animal: Animal, limit_g: float, context: RuleContext) -> WeightCheck:
    """Hold the animal's weight against ``limit_g`` on the day ``context.on``."""
    limit_g = round(limit_g, 6)  # 81% of 2,200 g is 1,782 g, not a hair more
    series = context.series[animal.id]
    if series.last is None:
        return _unweighed(animal, f"{called(animal)} has no weighing on record", limit_g)
    if series.laid_since:
        laid = context.laid(animal.id)[-1]
        says = (
            f"{called(animal)} has not been weighed since {pronoun(animal).subject} laid on {laid}"
        )
        return _unweighed(animal, says, limit_g)
    if series.last.on is None and context.laid(animal.id):
        laid = context.laid(animal.id)[-1]
        says = (
            f"The weight of {called(animal)} has no day, so whether it is from before the laying "
            f"of {laid} is not known"
        )
        return _unweighed(animal, says, limit_g)
    old = _is_old(series.last.on, context)
    coming = _coming(series, limit_g, context)
    met, lifted, falling = _judge(series, limit_g, coming, context.limits.start_chance)
    wasting = not old and is_wasting(series.trend)
    met_but_doubtful = met and (old or lifted or falling or wasting)
    missing = max(limit_g - series.last.grams, 0.0) or (0.0 if met else limit_g - _high(coming))
    return WeightCheck(
        met=met,
        caution=met_but_doubtful,
        says=_says(animal, series),
        beside=" ".join(
            [
                *_to_come(animal, series, limit_g, context, lifted),
                *_beside(animal, series, context, coming, falling),
                *(_wasting(animal, series) if wasting and met else ()),
            ]
        ),
        missing_g=missing,
        remedy="" if met else _remedy(animal, series, limit_g, context),
        figures=_figures(series, limit_g, coming)
        | ({"chance": chance_of_grams(series, limit_g, context.on)} if lifted else {})
        | ({} if met else _ready(series, limit_g, context)),
    )


def _unweighed(animal: Animal, says: str, limit_g: float) -> WeightCheck:
    return WeightCheck(
        met=False,
        caution=False,
        says=says,
        beside="",
        missing_g=0.0,
        remedy=f"Weigh {pronoun(animal).object} and enter the weight.",
        figures={"limit_g": limit_g},
    )


def _is_old(on: date | None, context: RuleContext) -> bool:
    return on is not None and (context.on - on).days > context.limits.weight_max_age_days


def _coming(series: WeightSeries, limit_g: float, context: RuleContext) -> Projection | None:
    """Return where the trend leads by the day of judging, ``None`` where the weighing is old.

    An old one does not undo a fall: where it leads under the limit by the last day that it tells
    of, that stands until the animal is weighed again.
    """
    assert series.last is not None
    last = _last_told(series, context)
    if context.on <= last:
        return project(series, context.on)
    told = project(series, last) if series.last.grams >= limit_g else None
    return told if told is not None and told.high < limit_g else None


def _judge(
    series: WeightSeries, limit_g: float, coming: Projection | None, asked: float
) -> tuple[bool, bool, bool]:
    """Return (met, met by the projection alone, heading under the limit)."""
    assert series.last is not None
    last_g = series.last.grams
    if coming is None or series.trend is None:
        return last_g >= limit_g, False, False
    if last_g < limit_g:
        lifted = chance_of_grams(series, limit_g, coming.on) >= asked
        return lifted, lifted, False
    falling = min(coming.grams, _from_last(series, coming)) < limit_g
    return coming.high >= limit_g, False, falling


def _from_last(series: WeightSeries, coming: Projection) -> float:
    """Return the weight that the gain a day leads to from the last weighing, in grams."""
    assert series.last is not None and series.trend is not None
    return series.last.grams + series.trend.gain * (coming.on - series.trend.on).days


def _high(coming: Projection | None) -> float:
    return coming.high if coming is not None else 0.0


def _says(animal: Animal, series: WeightSeries) -> str:
    assert series.last is not None
    when = f"on {series.last.on}" if series.last.on else "(date of weighing not recorded)"
    return f"{called(animal)} weighs {grams(series.last.grams)} {when}"


def _to_come(
    animal: Animal, series: WeightSeries, limit_g: float, context: RuleContext, lifted: bool
) -> list[str]:
    """Say how likely the grams still to come are, and when to weigh."""
    if not lifted:
        return []
    words = pronoun(animal)
    return [
        f"At {words.possessive} present {_gain(series)} {words.subject} weighs {grams(limit_g)} or "
        f"more on {context.on} with a chance of "
        f"{chance_words(chance_of_grams(series, limit_g, context.on))}: weigh {words.object} on "
        f"that day; no visit before {words.subject} does."
    ]


def chance_words(chance: float) -> str:
    """Write a chance in per cent, rounded down: none is told as more than it is."""
    return f"{math.floor(round(100 * chance, 6)):.0f}%"


def _beside(
    animal: Animal,
    series: WeightSeries,
    context: RuleContext,
    coming: Projection | None,
    falling: bool,
) -> list[str]:
    words = pronoun(animal)
    told = []
    if coming is not None and falling and series.last and _from_last(series, coming) < coming.low:
        told.append(
            f"At {words.possessive} present {_gain(series)} {words.subject} falls from there to "
            f"{grams(_from_last(series, coming))} on {coming.on}; weigh {words.object} again "
            "before pairing."
        )
    elif coming is not None and falling:
        told.append(
            f"At {words.possessive} present {_gain(series)} {words.subject} should weigh "
            f"{grams(coming.low)} to {grams(coming.high)} on {coming.on}; weigh {words.object} "
            "again before pairing."
        )
    if coming is None and series.last is not None and _is_old(series.last.on, context):
        days = (context.on - series.last.on).days if series.last.on else 0
        told.append(
            f"That weighing is {days} days old on {context.on} and is taken as it is; weigh "
            f"{words.object} again."
        )
    return told


def _wasting(animal: Animal, series: WeightSeries) -> list[str]:
    words, share = pronoun(animal), monthly_loss(series.trend)
    return [
        f"{words.subject.capitalize()} loses {share:.0%} of {words.possessive} weight in a month: "
        "look for the cause, with a vet, before pairing."
    ]


def _gain(series: WeightSeries) -> str:
    gain = series.trend.gain if series.trend else 0.0
    return f"gain of {gain:.1f} g a day" if gain >= 0 else f"loss of {-gain:.1f} g a day"


def _remedy(animal: Animal, series: WeightSeries, limit_g: float, context: RuleContext) -> str:
    words = pronoun(animal)
    if series.trend is None:
        return "Too few recent weighings tell a gain: weigh every two weeks to know the date."
    if series.trend.gain <= 0:
        return (
            f"{words.subject.capitalize()} is not gaining ({_gain(series)}): look for the cause, "
            "with a vet."
        )
    asked = chance_words(context.limits.start_chance)
    at = f"At {words.possessive} present {_gain(series)} {words.subject}"
    day, last = reaches(series, limit_g), _last_told(series, context)
    if day is None:
        return f"{at} does not reach it within two years."
    sure = _sure(series, limit_g, context)
    if sure is not None:
        return f"{at} is there by {sure} with a chance of {asked}; weigh {words.object} then."
    if day <= context.on:
        return (
            f"{at} should reach it by {context.on}, but with a chance under {asked}: weigh "
            f"{words.object} again."
        )
    if day > last:
        return f"{at} reaches it about {day}."
    return f"{at} may reach it about {day}, with a chance under {asked}: weigh {words.object} then."


def _last_told(series: WeightSeries, context: RuleContext) -> date:
    """Return the last day on which the last weighing is not yet called old."""
    assert series.last is not None
    return (series.last.on or context.on) + timedelta(days=context.limits.weight_max_age_days)


def _sure(series: WeightSeries, limit_g: float, context: RuleContext) -> date | None:
    """Return the first day with the asked chance of the limit, while the last weighing tells."""
    return surely_reaches(
        series,
        limit_g,
        context.limits.start_chance,
        context.on,
        _last_told(series, context),
    )


def _ready(series: WeightSeries, limit_g: float, context: RuleContext) -> dict[str, float | str]:
    """Return the day of the promise; past what the last weighing tells, the likeliest day."""
    sure = _sure(series, limit_g, context)
    if sure is not None:
        return {"ready": sure.isoformat()}
    day = reaches(series, limit_g)
    if day is None:
        return {}
    far = day > max(_last_told(series, context), context.on)
    return {"ready" if far else "likely": max(day, context.on).isoformat()}


def _figures(
    series: WeightSeries, limit_g: float, coming: Projection | None
) -> dict[str, float | str]:
    figures: dict[str, float | str] = {"limit_g": limit_g}
    if series.last is not None:
        figures["weight_g"] = series.last.grams
        if series.last.on is not None:
            figures["weighed"] = series.last.on.isoformat()
    if series.trend is not None:
        figures["gain_g_day"] = series.trend.gain
    if coming is not None:
        figures |= {"expected_g": coming.grams, "low_g": coming.low, "high_g": coming.high}
    return figures
