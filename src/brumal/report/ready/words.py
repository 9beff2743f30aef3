"""The words of the readiness report, the same on the terminal, the page and in the table."""

from __future__ import annotations

from datetime import date

from brumal.report.words import figure, percent
from brumal.rules.ages import months_old
from brumal.rules.readiness import Readiness, State

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
    if one.state is State.NOT_READY:
        if one.ready_on is None:
            return "No day of readiness can be told from the records."
        all_of = "All of that" if len(one.failed) > 1 else "That"
        return f"{all_of} should be met about {one.ready_on}."
    if one.pairings is not None:
        count, reason = one.pairings
        return f"Up to {count} female{'' if count == 1 else 's'}: {reason}."
    if one.clutch is not None and one.animal.sex is not None and one.state is not State.NOT_PLANNED:
        goes, eggs = percent(one.clutch.goes), figure(one.clutch.eggs)
        if one.clutch.eggs_stated:
            return f"Goes in {goes} of seasons; {eggs} eggs as you state them."
        return (
            f"Goes in {goes} of seasons; {eggs} eggs expected, "
            f"{figure(one.clutch.eggs_p90)} or fewer in nine of ten clutches."
        )
    return ""


def reasons(one: Readiness) -> list[str]:
    """Return what bars the animal and what would change it, then what to look at."""
    told = [f"{verdict.text} {verdict.remedy}".strip() for verdict in one.failed]
    told += [f"Caution: {verdict.text}" for verdict in one.cautions]
    if one.rests:
        told.append("You asked for this animal to rest this season (locks.sit_out).")
    return told
