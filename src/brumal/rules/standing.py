"""How an animal's weight stands against a limit on the day of judging.

A projection alone never lifts an animal over a limit unless its lower bound is over it, and the
last weighing and the gain since then come to it as well: a robust line does not see a fall at its
end. So the last weighing passes, or both of these do (with a caution to weigh first). A weighing
over the limit falls with the trend only if the high end of the interval is under it; one that the
line, or the loss since that weighing, leads under the limit is met with a caution, and so is one of
an animal that loses more than a winter fast takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from brumal.forecast.trend import Projection
from brumal.forecast.weight import WeightSeries, is_wasting, monthly_loss, project, reaches
from brumal.records.animals import Animal
from brumal.rules.rule import RuleContext, called, grams, pronoun


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Whether a limit in grams is met, and the words for it.

    ``says`` is the start of a sentence (``Frost weighs 1,380 g on 2026-11-14``), ``beside`` whole
    sentences on how far the figure can be trusted, ``missing_g`` how far the last weighing lies
    under the limit, ``remedy`` when the animal gets there.
    """

    met: bool
    caution: bool
    says: str
    beside: str
    missing_g: float
    remedy: str
    figures: dict[str, float | str]


def stand(animal: Animal, limit_g: float, context: RuleContext) -> Standing:
    """Hold the animal's weight against ``limit_g`` on the day ``context.on``."""
    limit_g = round(limit_g, 6)  # 81 % of 2,200 g is 1,782 g, not a hair more
    series = context.series[animal.id]
    if series.last is None:
        return _unweighed(animal, f"{called(animal)} has no weighing on record", limit_g)
    if series.laid_since:
        laid = context.layings[animal.id][-1]
        says = (
            f"{called(animal)} has not been weighed since {pronoun(animal).subject} laid on {laid}"
        )
        return _unweighed(animal, says, limit_g)
    if series.last.on is None and context.layings[animal.id]:
        laid = context.layings[animal.id][-1]
        says = (
            f"The weight of {called(animal)} has no day, so whether it is from before the laying "
            f"of {laid} is not known"
        )
        return _unweighed(animal, says, limit_g)
    old = _is_old(series.last.on, context)
    coming = None if old else project(series, context.on)
    met, lifted, falling = _judge(series, limit_g, coming)
    wasting = not old and is_wasting(series.trend)
    met_but_doubtful = met and (old or lifted or falling or wasting)
    missing = max(limit_g - series.last.grams, 0.0) or (0.0 if met else limit_g - _high(coming))
    return Standing(
        met=met,
        caution=met_but_doubtful,
        says=_says(animal, series),
        beside=" ".join(
            [
                *_beside(animal, series, context, coming, lifted, falling),
                *(_wasting(animal, series) if wasting and met else ()),
            ]
        ),
        missing_g=missing,
        remedy="" if met else _remedy(animal, series, limit_g, context),
        figures=_figures(series, limit_g, coming)
        | ({} if met else _ready(series, limit_g, context)),
    )


def _unweighed(animal: Animal, says: str, limit_g: float) -> Standing:
    return Standing(
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


def _judge(
    series: WeightSeries, limit_g: float, coming: Projection | None
) -> tuple[bool, bool, bool]:
    """Return (met, met by the projection alone, heading under the limit)."""
    assert series.last is not None
    last_g = series.last.grams
    if coming is None or series.trend is None:
        return last_g >= limit_g, False, False
    from_last = _from_last(series, coming)
    if last_g < limit_g:
        lifted = coming.low >= limit_g and from_last >= limit_g
        return lifted, lifted, False
    return coming.high >= limit_g, False, min(coming.grams, from_last) < limit_g


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


def _beside(
    animal: Animal,
    series: WeightSeries,
    context: RuleContext,
    coming: Projection | None,
    lifted: bool,
    falling: bool,
) -> list[str]:
    words = pronoun(animal)
    told = []
    if coming is not None and falling and series.last and _from_last(series, coming) < coming.low:
        told.append(
            f"At {words.possessive} present {_gain(series)} {words.subject} falls from there to "
            f"{grams(_from_last(series, coming))} on {context.on}; weigh {words.object} again "
            "before pairing."
        )
    elif coming is not None and (lifted or falling):
        told.append(
            f"At {words.possessive} present {_gain(series)} {words.subject} should weigh "
            f"{grams(coming.low)} to {grams(coming.high)} on {context.on}; weigh {words.object} "
            "again before pairing."
        )
    if series.last is not None and _is_old(series.last.on, context):
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
    day = reaches(series, limit_g)
    at = f"At {words.possessive} present {_gain(series)} {words.subject}"
    if day is None:
        return f"{at} does not reach it within two years."
    if day <= context.on:
        return (
            f"{at} should reach it by {context.on}, but not surely enough: weigh "
            f"{words.object} again then."
        )
    return f"{at} reaches it about {day}."


def _ready(series: WeightSeries, limit_g: float, context: RuleContext) -> dict[str, float | str]:
    day = reaches(series, limit_g)
    return {} if day is None else {"ready": max(day, context.on).isoformat()}


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
