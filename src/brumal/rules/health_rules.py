"""Rules that guard health: quarantine, illness and tests, wasting, an animal's own welfare notes.

None of them can be softened, and what only a vet can decide waits for a vet's clearance.
"""

from __future__ import annotations

from datetime import date, timedelta

from brumal.forecast.weight import steepest_loss
from brumal.genetics.welfare import WelfareRisk
from brumal.records.animals import (
    ABOUT,
    ILLNESS,
    LAYING,
    WASTING,
    Animal,
    Event,
    EventKind,
    Result,
)
from brumal.rules.rule import (
    PRACTICE,
    AnimalRule,
    Finding,
    RuleContext,
    called,
    grams,
    pronoun,
)

VET = "A licensed vet decides"


def clearance(animal: Animal, about: str, context: RuleContext) -> date | None:
    """Return the last day on which a vet cleared the animal of something, by the events."""
    days = [
        event.date
        for event in context.told(animal.id)
        if event.kind is EventKind.CLEARED and event.about == about
    ]
    return max(days, default=None)


def laying_clearances(animal: Animal, context: RuleContext) -> list[date]:
    """Return the days on which a vet cleared her for breeding: ``vet_cleared``, and by an event."""
    days = (animal.vet_cleared, clearance(animal, LAYING, context))
    return sorted(day for day in days if day is not None)


def _judge_quarantine(animal: Animal, context: RuleContext) -> Finding | None:
    days = context.limits.quarantine_days
    if animal.arrived is None:
        return _judge_unknown_arrival(animal, context)
    free = animal.arrived + timedelta(days=days)
    text = f"{called(animal)} arrived on {animal.arrived}; quarantine lasts {days} days"
    if free <= context.on:
        return _judge_test(animal, context, f"{text} and is over")
    missing = (free - context.on).days
    return Finding(
        passed=False,
        text=f"{text}: {missing} of them left on {context.on}.",
        remedy=f"It ends on {free}.",
        missing=missing,
        figures={"ready": free.isoformat(), "quarantine_days": days},
    )


def _judge_unknown_arrival(animal: Animal, context: RuleContext) -> Finding | None:
    """Ask an animal without a day of arrival to be on record for as long as quarantine lasts."""
    newcomer = animal.id in context.newcomers
    if not newcomer and ("arrived" not in animal.blank or animal.id in context.home_bred):
        return None
    since = context.here_since.get(animal.id)
    days = context.limits.quarantine_days
    if not newcomer and since is not None and (context.on - since).days >= days:
        return _judge_test(animal, context, f"{called(animal)} has been on record since {since}")
    why = (
        "it comes in from outside"
        if newcomer
        else "neither a weighing, a clutch nor its dam shows that it has been here for longer"
    )
    return Finding(
        passed=False,
        text=f"The day on which {called(animal)} arrived is not recorded; quarantine lasts {days} "
        f"days, and {why}.",
        remedy="Enter the day it came, as near as it is known (arrived).",
        figures={}
        if newcomer or since is None
        else {"ready": (since + timedelta(days=days)).isoformat()},
    )


def _judge_test(animal: Animal, context: RuleContext, text: str) -> Finding | None:
    """Ask for a negative test where the keeper wants one before quarantine ends."""
    if not context.limits.quarantine_test:
        return Finding(passed=True, text=f"{text}.") if animal.arrived else None
    tests = [
        event
        for event in context.told(animal.id)
        if event.kind is EventKind.TESTED
        and event.about == ILLNESS
        and event.result is Result.NEGATIVE
        and (animal.arrived is None or event.date >= animal.arrived)
    ]
    if tests:
        return Finding(passed=True, text=f"{text}; tested negative on {tests[-1].date}.")
    return Finding(
        passed=False,
        text=f"{text}, but no negative test since then is on record (rules.quarantine_test).",
        remedy="Have it tested by a vet and enter the result (tested, about illness).",
    )


def _judge_illness(animal: Animal, context: RuleContext) -> Finding | None:
    told = context.told(animal.id)
    found = [
        event
        for event in told
        if event.kind is EventKind.ILL or (event.kind is EventKind.TESTED and event.about in ABOUT)
    ]
    if not found:
        return None
    for event in reversed(found):
        if _bars(event) and not any(_ends(event, later) for later in told):
            return Finding(
                passed=False,
                text=f"{called(animal)} {_said(event)}; {_wanting(event)} is on record.",
                remedy=f"{VET}; enter the day as an event (cleared, about {_subject(event)}).",
                figures={"since": event.date.isoformat()},
            )
    last = found[-1]
    return Finding(
        passed=True,
        text=f"{called(animal)} {_said(last)}, and nothing of it is open.",
    )


def _bars(event: Event) -> bool:
    return event.kind is EventKind.ILL or event.result is not Result.NEGATIVE


def _subject(event: Event) -> str:
    """Whatever an illness is about, it ends with a vet's clearance of illness."""
    return ILLNESS if event.kind is EventKind.ILL else event.about


def _ends(event: Event, later: Event) -> bool:
    """Say whether a later entry ends what an illness or a test left open."""
    if (later.date, later.row) <= (event.date, event.row) or later.about != _subject(event):
        return False
    if later.kind is EventKind.CLEARED:
        return True
    negative = later.kind is EventKind.TESTED and later.result is Result.NEGATIVE
    return negative and event.kind is EventKind.TESTED


def _said(event: Event) -> str:
    if event.kind is EventKind.ILL:
        return f"was ill on {event.date}"
    result = event.result or "result not recorded"
    return f"was tested on {event.date} (about {event.about}: {result})"


def _wanting(event: Event) -> str:
    if event.kind is EventKind.ILL:
        return "no vet's clearance since then"
    return "neither a negative test nor a vet's clearance since then"


def _judge_wasting(animal: Animal, context: RuleContext) -> Finding | None:
    cleared = clearance(animal, WASTING, context)
    series = context.series[animal.id]
    loss = steepest_loss(series, context.laid(animal.id), after=cleared)
    if loss is None:
        before = steepest_loss(series, context.laid(animal.id)) if cleared else None
        if before is None:
            return None
        return Finding(
            passed=True,
            text=f"{called(animal)} lost {before.share:.0%} of {pronoun(animal).possessive} weight "
            f"to {before.to_day}; a vet cleared {pronoun(animal).object} on {cleared}. Weigh "
            "often.",
            caution=True,
        )
    words = pronoun(animal)
    explained = "no winter fast of a male" if words.subject == "he" else "no laying on record"
    return Finding(
        passed=False,
        text=f"{called(animal)} fell from {grams(loss.from_g)} ({loss.from_day}) to "
        f"{grams(loss.to_g)} ({loss.to_day}), {loss.share:.0%} of {words.possessive} weight in six "
        f"months or less, which {explained} explains.",
        remedy=f"{VET}; enter the day {words.subject} is cleared as an event (cleared, about "
        "wasting)."
        + ("" if words.subject == "he" else " If a laying explains it, enter the clutch."),
        figures={"loss": loss.share, "since": loss.to_day.isoformat()},
    )


def _judge_own_welfare(animal: Animal, context: RuleContext) -> Finding | None:
    own = [each for each in context.own_risks.get(animal.id, ()) if each.risk.note.bars_animal]
    if not own:
        return None
    told = "; ".join(_note(each.risk) for each in own)
    text = f"{called(animal)}: {told}"
    open_ = [each for each in own if not each.risk.accepted or each.cleared is None]
    if not open_:
        days = ", ".join(str(each.cleared) for each in own)
        return Finding(
            passed=True,
            text=f"{text}. Accepted in rules.accept_welfare, and cleared by a vet on {days}.",
            caution=True,
        )
    names = ", ".join(each.risk.genotype for each in open_)
    return Finding(
        passed=False,
        text=f"{text}.",
        remedy=f"{VET} whether {pronoun(animal).subject} may breed at all: both a vet's clearance "
        f"(an event cleared, about {names}) and {names} in rules.accept_welfare are asked for.",
    )


def _judge_own_harm(animal: Animal, context: RuleContext) -> Finding | None:
    """Bar an animal each pair of which is barred: one copy of what it may carry does the harm."""
    own = [
        each.risk
        for each in context.own_risks.get(animal.id, ())
        if each.risk.excluded and sum(each.risk.note.carries.values()) == 1
    ]
    if not own:
        return None
    names = ", ".join(risk.genotype for risk in own)
    return Finding(
        passed=False,
        text=f"{called(animal)}: {'; '.join(_note(risk) for risk in own)}. One copy does the harm, "
        "so no choice of mate keeps it from the young.",
        remedy=f"No pair is planned unless rules.accept_welfare names the genotype ({names}).",
    )


def _note(risk: WelfareRisk) -> str:
    kind = f"{risk.note.harm}; {risk.note.cited}"
    return f"{risk.genotype}: {risk.note.text.rstrip('.')} ({kind})"


HEALTH_RULES = (
    AnimalRule(
        id="quarantine",
        title="New arrivals, loans and animals on offer stay apart until their quarantine is over",
        because="90 to 180 days, and 90 may miss carriers (veterinary teaching wiki, read, a weak "
        "source); serpentoviruses were found in 38 % of 414 captive pythons, none cleared them in "
        "28 months and 75 % of the infected died (Hoon-Hanks et al. 2019, Front Vet Sci 6:338, "
        "abstract read); a vet's advice on the animal goes before it",
        keys=("rules.quarantine_days", "rules.quarantine_test"),
        unit="",
        judge=_judge_quarantine,
    ),
    AnimalRule(
        id="illness",
        title="No animal that is ill, or whose last test was not negative, until a vet clears it",
        because=f"{PRACTICE}: a licensed vet decides on health",
        keys=(),
        unit="",
        judge=_judge_illness,
    ),
    AnimalRule(
        id="wasting",
        title="A loss of 20 % in six months that no laying explains bars until a vet clears it",
        because=f"{PRACTICE}: it is more than a male loses that fasts over winter",
        keys=(),
        unit="",
        judge=_judge_wasting,
    ),
    AnimalRule(
        id="own-welfare",
        title="An animal whose own genes make laying or fertility a risk needs a vet's clearance "
        "and the keeper's acceptance by name",
        because="the notes of the catalogue, each with its own source; a licensed vet decides",
        keys=("rules.accept_welfare",),
        unit="",
        judge=_judge_own_welfare,
    ),
    AnimalRule(
        id="own-harm",
        title="No animal that may carry a gene of which one copy is lethal or a disorder of the "
        "nerves",
        because="animal welfare: every pair of it would be barred; Rose & Williams 2014, J Exot "
        "Pet Med 23, and Starck et al. 2022, PLOS ONE e0262788 (abstracts read), on one such "
        "disorder; each note names its own source",
        keys=("rules.accept_welfare",),
        unit="",
        judge=_judge_own_harm,
    ),
)
