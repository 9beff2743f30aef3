"""The words of the readiness report, the same on the terminal, the page and in the table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from brumal.forecast.dam import DamForecast
from brumal.forecast.goes import Goes
from brumal.forecast.ledger import MOST_SEASONS
from brumal.records.ages import months_old
from brumal.report.words import figure, percent
from brumal.rules.cautions import shared_cautions, shared_words
from brumal.rules.laying_rules import ledger_words
from brumal.rules.readiness import Readiness, State
from brumal.rules.start import Start

HEADINGS = {
    State.NOT_READY: "Not ready, the nearest first",
    State.LOOK_FIRST: "Ready, but look first",
    State.READY: "Ready",
    State.NOT_PLANNED: "Not planned",
}


def facts(one: Readiness, on: date) -> str:
    """Return sex, age, weight, gain and condition on one line."""
    animal, series = one.animal, one.series
    told = [str(animal.sex or "sex not known")]
    if animal.hatched is not None:
        told.append(f"{months_old(animal.hatched, on)} months on {on}")
    if series.last is not None:
        when = f" ({series.last.on})" if series.last.on else ""
        told.append(f"{series.last.grams:,.0f} g{when}")
    if series.trend is not None:
        told.append(f"{round(series.trend.gain, 1) + 0.0:+.1f} g a day")
    if animal.condition is not None:
        told.append(f"condition {figure(animal.condition)}")
    return "; ".join(told)


def outlook(one: Readiness) -> str:
    """Return when the animal should be ready, or what it should bring."""
    if one.start.provisional:
        return start_words(one.start)
    if one.state is State.NOT_READY:
        if one.start.day is not None:
            return start_words(one.start)
        if one.ready_on is None:
            return "No day of readiness can be told from the records."
        all_of = "All of that" if len(one.failed) > 1 else "That"
        return (
            f"{all_of} should be met about {one.ready_on}, too late or not surely enough to count "
            "on this season."
        )
    if one.pairings is not None:
        count, reason = one.pairings
        return f"Up to {count} female{'' if count == 1 else 's'}: {reason}."
    if one.clutch is not None and one.animal.sex is not None and one.state is not State.NOT_PLANNED:
        goes, eggs = percent(one.clutch.goes), figure(one.clutch.eggs)
        if one.clutch.eggs_stated:
            told = f"Goes in {goes} of seasons; {eggs} eggs as you state them."
        else:
            told = (
                f"Goes in {goes} of seasons; {eggs} eggs expected, "
                f"{figure(one.clutch.eggs_p90)} or fewer in nine of ten clutches."
            )
        return f"{told} {stands_on(one.clutch)}"
    return ""


def start_words(start: Start) -> str:
    """Say from which day an animal may be paired, and what it has to weigh by then."""
    if not start.provisional:
        return f"May be paired from {start.day} on."
    return (
        f"May be paired from {start.day} on, at {start.asked_g or 0:,.0f} g or more then "
        f"(chance {percent(start.chance)}): weigh on {start.weigh_on}, no visit before."
    )


def stands_on(clutch: DamForecast) -> str:
    """Say what the forecast of a female's clutch stands on, and that it is little where it is."""
    told = [] if clutch.goes_on.stated else [f"the chance is taken from {_goes_on(clutch.goes_on)}"]
    if not clutch.eggs_stated:
        told.append(f"the number of eggs {'' if told else 'is taken '}from {_eggs_on(clutch)}")
    words = "; ".join(told)
    return f"{words[0].upper()}{words[1:]}." if words else ""


def _goes_on(goes: Goes) -> str:
    if goes.recorded:
        told = f"{_count(goes.seasons, 'season')} on record in the collection"
        told += f", {goes.own_laid} of {goes.own_paired} of hers with a clutch"
    elif goes.own_paired:
        told = f"what is usual, lowered by hers on record ({goes.own_laid} of {goes.own_paired})"
    else:
        told = "what is usual"
    if goes.doubtful:
        return f"{told}, held down for her age or trouble at laying"
    return f"{told}, {goes.kind}"


def _eggs_on(clutch: DamForecast) -> str:
    mass = "" if clutch.mass_g is not None else "; her weight is not known"
    if not clutch.own_clutches:
        return f"{_at(clutch)}, none of hers is on record{mass}"
    told = f"{_count(clutch.own_clutches, 'clutch', 'clutches')} of hers"
    unweighed = clutch.own_clutches - clutch.own_weighed
    if unweighed:
        whole = "with no weight before it, as laid" if clutch.own_clutches == 1 else ""
        told += f" {whole or f'({unweighed} with no weight before it, as laid)'}"
    return f"{told}{mass}"


def _at(clutch: DamForecast) -> str:
    return "what is usual" if clutch.mass_g is None else "what is usual at her weight"


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def ledger_line(one: Readiness) -> str:
    """Return a female's seasons gone by, nothing where none is on record."""
    if one.ledger is None:
        return ""
    told = ledger_words(one.ledger, MOST_SEASONS)
    return f"Seasons: {told}." if told else ""


def shared_lines(found: Sequence[Readiness]) -> list[str]:
    """Return the cautions that many animals share, each in one line with their names."""
    labels = {one.animal.id: one.animal.label for one in found}
    shown = [one for one in found if one.state is not State.NOT_PLANNED]
    groups = shared_cautions(verdict for one in shown for verdict in one.verdicts)
    return [shared_words(group, labels) for group in groups]


def own_reasons(one: Readiness) -> list[str]:
    """Return the reasons, without the cautions that are told for all animals at once."""
    shared = {f"Caution: {verdict.text}" for verdict in one.cautions if verdict.shared}
    return [line for line in reasons(one) if line not in shared]


def reasons(one: Readiness) -> list[str]:
    """Return what bars the animal and what would change it, then what to look at."""
    told = [f"{verdict.text} {verdict.remedy}".strip() for verdict in one.failed]
    told += [f"Caution: {verdict.text}" for verdict in one.cautions]
    if one.rests:
        told.append("You asked for this animal to rest this season (locks.sit_out).")
    return told
