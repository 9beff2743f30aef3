"""What in a female's past asks for a vet's look before she is paired again."""

from __future__ import annotations

from datetime import date

from brumal.forecast.her_past import Sign, is_of_great_age, past_signs, years_old
from brumal.records.animals import Animal, Sex
from brumal.rules.health_rules import laying_clearances
from brumal.rules.rule import PRACTICE, AnimalRule, Finding, RuleContext, called, decimals

CLEARED_FOR_DAYS = 366
"""A vet's look at an old female holds for so long (common practice, no source)."""
CLEARED_AS = "cleared as vet_cleared, or as an event (cleared, about laying)"


def _judge_past(animal: Animal, context: RuleContext) -> Finding | None:
    signs = past_signs(context.clutches.get(animal.id, ()))
    if animal.sex is Sex.MALE or not signs:
        return None
    told = "; ".join(_told(sign.sign, sign.laid, sign.words) for sign in signs)
    text = f"Clutches of {called(animal)}: {told}"
    cleared = _last_cleared(animal, context)
    last = max((sign.laid for sign in signs if sign.laid is not None), default=None)
    if cleared is not None and (last is None or last <= cleared):
        return Finding(passed=True, text=f"{text}. A vet cleared her on {cleared}.")
    return Finding(
        passed=True,
        text=f"{text}. Have a vet look at her before she is paired again, and enter the day she is "
        f"{CLEARED_AS}. The sire and the incubator may be the cause as well.",
        caution=True,
    )


def _last_cleared(animal: Animal, context: RuleContext) -> date | None:
    days = laying_clearances(animal, context)
    return max((day for day in days if day <= context.known_until), default=None)


def _told(sign: Sign, laid: date | None, words: str) -> str:
    day = str(laid) if laid is not None else "day not recorded"
    return f"{day} {sign}{f' ({words})' if words else ''}"


def _judge_great_age(animal: Animal, context: RuleContext) -> Finding | None:
    years = context.limits.great_age_years
    if animal.sex is not Sex.FEMALE or not is_of_great_age(animal, context.on, years):
        return None
    age = decimals(years_old(animal, context.on) or years, 1)
    text = f"{called(animal)} is {age} years old on {context.on} (hatched {animal.hatched})"
    cleared = _last_cleared(animal, context)
    if cleared is not None and (context.on - cleared).days <= CLEARED_FOR_DAYS:
        return Finding(passed=True, text=f"{text}; a vet cleared her on {cleared}.")
    return Finding(
        passed=True,
        text=f"{text}; from {decimals(years)} years on a vet should look at her before she is "
        f"paired. Enter the day she is {CLEARED_AS}.",
        caution=True,
        figures={"years": years_old(animal, context.on) or years},
    )


PAST_RULES = (
    AnimalRule(
        id="past-clutches",
        title="A vet looks before pairing at a female whose clutches were all slugs, died in the "
        "egg by half or more, or brought deformed young, or who had trouble noted (a caution)",
        because="regression, slugs and disorders of laying can be seen by ultrasound (Bertocchi et "
        "al. 2018, PLOS ONE e0199377, abstract read; Di Girolamo & Selleri, Reproductive Disorders "
        f"in Snakes, summary read); the bounds: {PRACTICE}",
        keys=(),
        unit="",
        judge=_judge_past,
    ),
    AnimalRule(
        id="great-age",
        title="A vet looks before pairing at a female of great age (a caution)",
        because=f"{PRACTICE}: no age limit was found in papers",
        keys=("rules.great_age_years",),
        unit="",
        judge=_judge_great_age,
    ),
)
