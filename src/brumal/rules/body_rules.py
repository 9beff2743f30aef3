"""Rules on the animal itself: status, sex, look, weight, age, condition."""

from __future__ import annotations

from brumal.records.ages import MEAN_MONTH_DAYS, day_of_age, months_old
from brumal.records.animals import Animal, Sex, Status
from brumal.rules.rule import (
    PRACTICE,
    AnimalRule,
    Finding,
    RuleContext,
    called,
    decimals,
    grams,
    pronoun,
)
from brumal.rules.standing import stand
from brumal.rules.verdict import Rank

IN_ANIMALS = "the status in the animals table"
BREEDING_STATUS = (Status.BREEDER, Status.LOAN)


def _judge_status(animal: Animal, context: RuleContext) -> Finding:
    if "status" in animal.blank:
        return Finding(
            passed=False,
            text=f"The status of {called(animal)} is not recorded; only breeder and loan are "
            "planned.",
            remedy="Enter breeder in the animals table to plan with it.",
        )
    passed = animal.status in BREEDING_STATUS
    events = context.events.get(animal.id, ())
    ended = next((each for each in reversed(events) if str(each.kind) == animal.status), None)
    where = f"the event of {ended.date} in the events table" if ended else IN_ANIMALS
    text = f"{called(animal)} is entered as {animal.status}"
    return Finding(
        passed=passed,
        text=f"{text}." if passed else f"{text}; only breeder and loan are planned.",
        remedy="" if passed else f"Change {where} to plan with it.",
    )


def _judge_sex(animal: Animal, _context: RuleContext) -> Finding:
    if animal.sex is not None:
        return Finding(passed=True, text=f"{called(animal)} is {animal.sex}.")
    return Finding(
        passed=False,
        text=f"The sex of {called(animal)} is not recorded.",
        remedy="Have it sexed by someone trained and enter the sex.",
    )


def _judge_look(animal: Animal, context: RuleContext) -> Finding | None:
    if "morph" not in animal.blank or animal.id in context.clean_lines:
        return None
    return Finding(
        passed=False,
        text=f"The look of {called(animal)} is not recorded, so what harm its genes may do is not "
        "known.",
        remedy="Enter its morph; Normal where it shows no gene.",
    )


def least_weight(animal: Animal, context: RuleContext) -> tuple[float, str]:
    """Return the least weight in grams that the rule asks for, and whom it is for."""
    limits = context.limits
    if animal.sex is Sex.MALE:
        return limits.male_weight_g, "a male"
    if animal.id in context.proven:
        proven = limits.proven_female_weight_g
        return proven if proven is not None else limits.female_weight_g, "a female that has laid"
    return limits.female_weight_g, "a first clutch"


def _judge_weight(animal: Animal, context: RuleContext) -> Finding | None:
    if animal.sex is None:
        return None
    limit, whom = least_weight(animal, context)
    standing = stand(animal, limit, context)
    least = f"{grams(limit)} is the least for {whom}"
    text = f"{standing.says}; {least}"
    if standing.missing_g > 0 and not standing.met:
        text += f": {grams(standing.missing_g)} missing"
    return Finding(
        passed=standing.met,
        text=f"{text}. {standing.beside}".strip(),
        remedy=standing.remedy,
        caution=standing.caution,
        missing=0.0 if standing.met else standing.missing_g,
        figures=standing.figures,
    )


def _judge_age(animal: Animal, context: RuleContext) -> Finding | None:
    if animal.sex is None:
        return None
    limits = context.limits
    male = animal.sex is Sex.MALE
    months = limits.male_age_months if male else limits.female_age_months
    least = f"{decimals(months, 1)} months is the least for a {animal.sex}"
    if animal.hatched is None:
        return _judge_unknown_age(animal, context, least)
    ready = day_of_age(animal.hatched, months)
    age = months_old(animal.hatched, context.on)
    text = (
        f"{called(animal)} is {age} months old on {context.on} "
        f"(hatched {animal.hatched_written}); {least}"
    )
    figures: dict[str, float | str] = {"months": age, "least_months": months}
    if ready <= context.on:
        return Finding(passed=True, text=f"{text}.", figures=figures)
    short = (ready - context.on).days / MEAN_MONTH_DAYS
    words = pronoun(animal).subject.capitalize()
    return Finding(
        passed=False,
        text=f"{text}: {decimals(short, 1)} months short.",
        remedy=f"{words} is old enough on {ready}.",
        missing=short,
        figures=figures | {"ready": ready.isoformat()},
    )


def _judge_unknown_age(animal: Animal, context: RuleContext, least: str) -> Finding:
    """Pass with a caution where laying or weight shows that the animal is grown."""
    text = f"The hatch date of {called(animal)} is not recorded; {least}."
    weight = least_weight(animal, context)[0]
    if "hatched" in animal.blank:
        return _judge_by_record(animal, context, text)
    if animal.id in context.proven:
        return Finding(
            passed=True, text=f"{text} She has laid before, so she passes.", caution=True
        )
    standing = stand(animal, weight, context)
    if standing.met:
        words = pronoun(animal)
        return Finding(
            passed=True,
            text=f"{text} {words.possessive.capitalize()} weight is that of a grown animal, so "
            f"{words.subject} passes.",
            caution=True,
        )
    return Finding(
        passed=False,
        text=f"{text} Neither a clutch nor the weight shows a grown animal.",
        remedy="Enter the hatch date, as near as it is known.",
        figures={"ready": standing.figures["ready"]} if "ready" in standing.figures else {},
    )


def _judge_by_record(animal: Animal, context: RuleContext, text: str) -> Finding:
    """Neither weight nor a clutch tells an age: only the time that it has been on record."""
    limits = context.limits
    months = limits.male_age_months if animal.sex is Sex.MALE else limits.female_age_months
    since = context.alive_since.get(animal.id)
    if since is not None and day_of_age(since, months) <= context.on:
        told = f"{text} It has been on record since {since}, so it passes."
        return Finding(passed=True, text=told, caution=True)
    ready = day_of_age(since, months).isoformat() if since is not None else None
    return Finding(
        passed=False,
        text=f"{text} Nothing on record is old enough to show that age.",
        remedy="Enter the hatch date, as near as it is known.",
        figures={"ready": ready} if ready is not None else {},
    )


def condition_asked(animal: Animal, context: RuleContext) -> tuple[float, float, str]:
    """Return the lowest and the highest body condition, and what they are asked for."""
    if animal.sex is Sex.FEMALE and animal.id not in context.proven:
        return (*context.limits.first_clutch_condition, "is asked for a first clutch")
    return (*context.limits.condition, "is fit to breed")


def _judge_condition(animal: Animal, context: RuleContext) -> Finding:
    low, high, whom = condition_asked(animal, context)
    bounds = f"{decimals(low)} to {decimals(high)} {whom} (1 thin, 3 ideal, 5 obese)"
    score = animal.condition
    if score is None and "condition" in animal.blank:
        return Finding(
            passed=False,
            text=f"No body condition is recorded for {called(animal)}; {bounds}.",
            remedy="Score it from 1 (thin) to 5 (obese) and enter the figure.",
        )
    if score is None:
        return Finding(
            passed=True,
            text=f"No body condition is recorded for {called(animal)}; {bounds}. "
            "Score it before the first visit and enter the figure.",
            caution=True,
            shared="No body condition is recorded. Look at each before the first visit, score it "
            "from 1 (thin) to 5 (obese), and enter the score.",
            detail=f"{decimals(low)} to {decimals(high)} asked for",
        )
    figures: dict[str, float | str] = {"condition": score, "least": low, "most": high}
    text = f"{called(animal)} has body condition {decimals(score)}; {bounds}"
    if low <= score <= high:
        return Finding(passed=True, text=f"{text}.", figures=figures)
    thin = score < low
    words = pronoun(animal)
    return Finding(
        passed=False,
        text=f"{text}: too {'thin' if thin else 'heavy'}.",
        remedy=f"Have a vet look for the cause; {words.subject} may be planned for once "
        f"{words.possessive} condition is within these bounds.",
        missing=low - score if thin else score - high,
        figures=figures,
    )


BODY_RULES = (
    AnimalRule(
        id="status",
        title="Breeders and animals on loan are planned; holdback, retired, outside, sold, died "
        "and unclear are not",
        because="the status that the keeper enters in the animals table",
        keys=(),
        unit="",
        judge=_judge_status,
        rank=Rank.RECORD,
    ),
    AnimalRule(
        id="sex",
        title="The sex must be known",
        because="an unsexed animal cannot be paired",
        keys=(),
        unit="",
        judge=_judge_sex,
        rank=Rank.RECORD,
    ),
    AnimalRule(
        id="look",
        title="The look must be recorded, save of parents that carry no gene of a welfare note",
        because="what is not known passes no bar that a known value would fail",
        keys=(),
        unit="",
        judge=_judge_look,
        rank=Rank.RECORD,
    ),
    AnimalRule(
        id="weight",
        title="Least weight: females before a first clutch, females that have laid, males",
        because="the weights at which 783 clutches were bred, females over 1,500 g and males over "
        "500 g (Morrill, Rickords, Sutherland & Julander 2011, Herpetological Review 42:226-231, "
        "summary read): a practice, not a tested threshold",
        keys=(
            "rules.female_weight_g",
            "rules.proven_female_weight_g",
            "rules.male_weight_g",
            "rules.weight_max_age_days",
            "rules.start_chance",
        ),
        unit="",
        judge=_judge_weight,
        rank=Rank.BODY,
    ),
    AnimalRule(
        id="age",
        title="Least age of females and males",
        because=f"{PRACTICE}: males at 1-2 years, females at 2-4, size more telling than age",
        keys=("rules.female_age_months", "rules.male_age_months"),
        unit="",
        judge=_judge_age,
        rank=Rank.RECORD,
    ),
    AnimalRule(
        id="condition",
        title="Body condition neither thin nor obese; within closer bounds for a first clutch",
        because=f"{PRACTICE}: scores of 1-9 are used by clinicians, few criteria are published",
        keys=("rules.condition", "rules.first_clutch_condition"),
        unit="",
        judge=_judge_condition,
        rank=Rank.BODY,
    ),
)
