"""Rules on a female's past layings: recovery, seasons in a row, rest, trouble."""

from __future__ import annotations

from datetime import date

from brumal.forecast.before_eggs import BeforeEggs, weight_before_eggs
from brumal.forecast.ledger import Ledger, PastState, seasons_ago
from brumal.records.animals import Animal
from brumal.rules.health_rules import laying_clearances
from brumal.rules.rule import PRACTICE, AnimalRule, Finding, RuleContext, called, grams
from brumal.rules.standing import stand
from brumal.rules.verdict import Rank

TOLD_SEASONS = 4


def _layings_before(animal: Animal, context: RuleContext) -> list[date]:
    return [day for day in context.layings[animal.id] if day < context.on]


def _judge_recovered(animal: Animal, context: RuleContext) -> Finding | None:
    laid = _layings_before(animal, context)
    if not laid or seasons_ago(laid[-1], context.season_from) > 0:
        return None
    share = context.limits.recovered_share
    series = context.series[animal.id]
    before = weight_before_eggs(series, laid[-1])
    if before is None:
        return Finding(
            passed=False,
            text=f"{called(animal)} laid on {laid[-1]}; no weighing before it is on record, so "
            f"whether she is back at {share:.0%} of it is not known.",
            remedy="Enter a weighing from before that laying, or let her rest this season.",
            figures={"laid": laid[-1].isoformat()},
        )
    need = share * before.grams
    standing = stand(animal, need, context)
    text = (
        f"{standing.says}; before the eggs of {laid[-1]} she weighed {_weighed(before)}, and "
        f"{share:.0%} of that, {grams(need)}, is asked for"
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


def _weighed(before: BeforeEggs) -> str:
    """Say what she weighed before her eggs, and what of it is not known."""
    told = f"{grams(before.point.grams)} ({before.point.on}"
    if before.gravid:
        told += ", gravid as she was; no earlier weighing tells as much"
    told += ")"
    if not before.gained_g:
        return told
    return (
        f"{told} and may have gained {grams(before.gained_g)} more until the eggs grew, which no "
        f"later weighing tells: {grams(before.grams)}"
    )


def ledger_words(ledger: Ledger, most: int = TOLD_SEASONS) -> str:
    """Tell a female's last seasons, the last one first: ``2026 laid, 2025 rested``.

    Nothing is told of a female of whom no season is on record.
    """
    known = any(season.state is not PastState.UNKNOWN for season in ledger.seasons)
    told = [f"{season.year} {season.state}" for season in ledger.seasons[:most] if known]
    if ledger.undated_laid:
        told.append(f"{ledger.undated_laid} laid on a day not recorded")
    if ledger.undated_paired:
        told.append(f"{ledger.undated_paired} paired without a clutch, day not recorded")
    return ", ".join(told)


_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def _judge_in_a_row(animal: Animal, context: RuleContext) -> Finding | None:
    most = context.limits.max_seasons_in_a_row
    ledger = context.ledgers.get(animal.id)
    if most == 0 or ledger is None or not ledger.most_in_a_row:
        return None
    known, run = len(ledger.in_a_row), ledger.most_in_a_row
    told = ledger_words(ledger)
    passed = run < most
    unsure = (
        " if the clutches whose day is not recorded are of these seasons" if run > known else ""
    )
    seasons = f"in {run} seasons in a row" if run > 1 else "last season"
    text = f"{called(animal)} laid {seasons}{unsure} ({told}); "
    text += f"{most} in a row is the most without a rest year."
    coming = _ORDINALS[run] if run < len(_ORDINALS) else f"{run + 1}th"
    return Finding(
        passed=passed,
        text=text,
        remedy=""
        if passed
        else "A year of rest clears it."
        + (" Enter the days of laying, as near as they are known." if unsure else ""),
        caution=passed,
        missing=0.0 if passed else float(run + 1 - most),
        figures={"seasons": run, "most": most},
        shared=f"A {coming} year of breeding in a row. Look at weight and condition with care "
        "before pairing."
        if passed
        else "",
        detail=told,
    )


def _judge_rest(animal: Animal, context: RuleContext) -> Finding | None:
    asked = context.limits.rest_seasons
    laid = _layings_before(animal, context)
    if asked == 0 or not laid:
        return None
    rested = max(seasons_ago(laid[-1], context.season_from), 0)
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
    days = laying_clearances(animal, context)
    cleared = max((day for day in days if day <= context.known_until), default=None)
    if cleared is None and days:
        return Finding(
            passed=False,
            text=f"{text}; a vet's clearance is entered for {days[0]}, after {context.on}.",
            remedy=f"From {days[0]} on she may be planned for.",
            figures={"ready": days[0].isoformat()},
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
        because="a clutch is about 32 % of her mass before laying (Ellis & Chappell 1987, J Comp "
        "Physiol B 157:393-402, abstract read), brooding takes under 6 % more (Aubret et al. 2005, "
        f"Anim Behav 69:1043, abstract read); the share asked for: {PRACTICE}",
        keys=("rules.recovered_share", "rules.start_chance"),
        unit="",
        judge=_judge_recovered,
        rank=Rank.BODY,
    ),
    AnimalRule(
        id="laying-day",
        title="Every clutch of hers has its day",
        because="what is not known passes no bar that a known value would fail",
        keys=(),
        unit="",
        judge=_judge_undated,
        rank=Rank.RECORD,
    ),
    AnimalRule(
        id="in-a-row",
        title="Not more than so many seasons of laying in a row; a caution from the second on",
        because=f"{PRACTICE}: females do not lay each year in the wild (from memory); no paper on "
        "breeding this species in consecutive years was found",
        keys=("rules.max_seasons_in_a_row",),
        unit="season",
        judge=_judge_in_a_row,
        rank=Rank.REST,
    ),
    AnimalRule(
        id="rest",
        title="So many whole seasons of rest after a laying (off unless set)",
        because=f"{PRACTICE}: females do not lay each year in the wild (from memory)",
        keys=("rules.rest_seasons",),
        unit="season",
        judge=_judge_rest,
        rank=Rank.REST,
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
