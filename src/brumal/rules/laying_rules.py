"""Rules on a female's past layings: recovery, seasons in a row, rest, trouble."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from brumal.forecast.history import DAYS_A_YEAR
from brumal.forecast.weight import weight_before_laying
from brumal.records.animals import LAYING, Animal
from brumal.rules.health_rules import clearance
from brumal.rules.rule import PRACTICE, AnimalRule, Finding, RuleContext, called, grams
from brumal.rules.standing import stand


def seasons_ago(laid: date, on: date) -> int:
    """Return how many seasons before the one starting ``on`` a laying fell: 0 for the last one."""
    return int((on - laid).days // DAYS_A_YEAR)


def _layings_before(animal: Animal, context: RuleContext) -> list[date]:
    return [day for day in context.layings[animal.id] if day < context.on]


def _judge_recovered(animal: Animal, context: RuleContext) -> Finding | None:
    laid = _layings_before(animal, context)
    if not laid or seasons_ago(laid[-1], context.on) > 0:
        return None
    share = context.limits.recovered_share
    before = weight_before_laying(context.series[animal.id], laid[-1])
    name = called(animal)
    if before is None:
        return Finding(
            passed=False,
            text=f"{name} laid on {laid[-1]}; no weighing before it is on record, so whether she "
            f"is back at {share:.0%} of it is not known.",
            remedy="Enter a weighing from before that laying, or let her rest this season.",
            figures={"laid": laid[-1].isoformat()},
        )
    need = share * before.grams
    standing = stand(animal, need, context)
    text = (
        f"{standing.says}; before laying on {laid[-1]} she weighed {grams(before.grams)} "
        f"({before.on}), and {share:.0%} of that, {grams(need)}, is asked for"
    )
    short = not standing.met and standing.missing_g > 0
    if short:
        text += f": {grams(standing.missing_g)} missing"
    return Finding(
        passed=standing.met,
        text=f"{text}. {standing.beside}".strip(),
        remedy=standing.remedy,
        caution=standing.caution,
        missing=standing.missing_g / before.grams * 100 if short else 0.0,
        figures=standing.figures | {"laid": laid[-1].isoformat(), "pre_lay_g": before.grams},
    )


def seasons_in_a_row(laid: Sequence[date], on: date) -> list[int]:
    """Return the years of laying in the unbroken run up to the last season, oldest first."""
    by_season = {seasons_ago(day, on): day.year for day in laid}
    run = []
    season = 0
    while season in by_season:
        run.append(by_season[season])
        season += 1
    return run[::-1]


def _judge_in_a_row(animal: Animal, context: RuleContext) -> Finding | None:
    most = context.limits.max_seasons_in_a_row
    run = seasons_in_a_row(_layings_before(animal, context), context.on)
    if most is None or not run:
        return None
    years = ", ".join(str(year) for year in run)
    count = f"{len(run)} season{'s' if len(run) > 1 else ''} in a row ({years})"
    passed = len(run) < most
    return Finding(
        passed=passed,
        text=f"{called(animal)} has laid in {count}; {most} is the most without a rest year.",
        remedy="" if passed else "A year of rest clears it.",
        missing=0.0 if passed else float(len(run) + 1 - most),
        figures={"seasons": len(run), "most": most},
    )


def _judge_rest(animal: Animal, context: RuleContext) -> Finding | None:
    asked = context.limits.rest_seasons
    laid = _layings_before(animal, context)
    if asked == 0 or not laid:
        return None
    rested = seasons_ago(laid[-1], context.on)
    passed = rested >= asked
    whole = f"{asked} whole season{'s' if asked > 1 else ''}"
    return Finding(
        passed=passed,
        text=f"{called(animal)} last laid on {laid[-1]} and has rested {rested}; "
        f"{whole} of rest after a laying is asked for.",
        remedy="" if passed else _rest_wanted(asked - rested),
        missing=float(max(asked - rested, 0)),
        figures={"laid": laid[-1].isoformat(), "rested": rested, "asked": asked},
    )


def _rest_wanted(seasons: int) -> str:
    """Say how much longer she has to rest."""
    if seasons == 1:
        return "One more season of rest clears it."
    return f"{seasons} more seasons of rest clear it."


def _judge_trouble(animal: Animal, context: RuleContext) -> Finding | None:
    troubles = context.troubles.get(animal.id, ())
    if not troubles:
        return None
    last = troubles[-1]
    when = f"on {last.laid}" if last.laid else "on a day not recorded"
    text = f"{called(animal)} had trouble at laying {when} ({last.trouble})"
    days = [day for day in (animal.vet_cleared, clearance(animal, LAYING, context)) if day]
    cleared = max((day for day in days if day <= context.known_until), default=None)
    if cleared is None and days:
        return Finding(
            passed=False,
            text=f"{text}; a vet's clearance is entered for {min(days)}, after pairing starts on "
            f"{context.on}.",
            remedy=f"With pair_from on {min(days)} or later she may be planned for.",
        )
    if cleared is not None and all(c.laid is not None and cleared >= c.laid for c in troubles):
        return Finding(
            passed=True,
            text=f"{text}; a vet cleared her on {cleared}. Watch her closely at laying.",
            caution=True,
        )
    return Finding(
        passed=False,
        text=f"{text}; no vet's clearance since then is on record.",
        remedy="A licensed vet must examine her; enter the day she is cleared as vet_cleared."
        if last.laid
        else "Enter the day of that laying, and the day a licensed vet cleared her.",
    )


def _judge_undated(animal: Animal, context: RuleContext) -> Finding | None:
    if animal.id not in context.undated:
        return None
    return Finding(
        passed=False,
        text=f"A clutch of {called(animal)} has no day of laying, so whether she laid last season "
        "is not known.",
        remedy="Enter the day in the clutches table, as near as it is known.",
    )


LAYING_RULES = (
    AnimalRule(
        id="recovered",
        title="A female that laid last season is back near her weight before laying",
        because=f"{PRACTICE}: a third or more of her mass goes at laying and brooding",
        keys=("rules.recovered_share",),
        unit="",
        judge=_judge_recovered,
    ),
    AnimalRule(
        id="laying-day",
        title="Every clutch of hers has its day",
        because="what is not known passes no bar that a known value would fail",
        keys=(),
        unit="",
        judge=_judge_undated,
    ),
    AnimalRule(
        id="in-a-row",
        title="Not more than so many seasons of laying in a row (off unless set)",
        because=f"{PRACTICE}: females do not lay each year in the wild (from memory)",
        keys=("rules.max_seasons_in_a_row",),
        unit="season",
        judge=_judge_in_a_row,
    ),
    AnimalRule(
        id="rest",
        title="So many whole seasons of rest after a laying (off unless set)",
        because=f"{PRACTICE}: females do not lay each year in the wild (from memory)",
        keys=("rules.rest_seasons",),
        unit="season",
        judge=_judge_rest,
    ),
    AnimalRule(
        id="laying-trouble",
        title="After trouble at laying a vet's clearance is needed",
        because="disorders of laying are common in snakes and may kill (Di Girolamo & Selleri, "
        "Reproductive Disorders in Snakes, summary read); a licensed vet decides",
        keys=(),
        unit="",
        judge=_judge_trouble,
    ),
)
