"""Rows to take over into next year's tables: this season's clutches, changed animals, young."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from datetime import date

from brumal.insight.review.season import Review
from brumal.records.animals import Animal, Sex, Status
from brumal.records.folder import SeasonRecords
from brumal.records.plain_values import plain_number
from brumal.records.season_facts import SeasonClutch
from brumal.records.season_state import UNKNOWN_SIRE

Rows = tuple[dict[str, str], ...]
_CELLS = [each.name for each in fields(Animal) if each.name not in ("row", "blank", "hatched_from")]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextYear:
    """Rows by column: to add to ``clutches``, to put in place of ``animals``, ``young`` to keep."""

    clutches: Rows
    animals: Rows
    young: Rows


def next_year(records: SeasonRecords, review: Review) -> NextYear:
    """Return the rows that this season adds to the tables or changes in them.

    A clutch that stands in the clutches table already is left out. Of young, every one that hatched
    has a row, to be kept where it is held back.
    """
    sires = {each.dam: each.sires for each in review.clutches}
    sure = {dam: odds[0][0] for dam, odds in sires.items() if len(odds) == 1 or odds[0][1] == 1.0}
    sure = {dam: sire for dam, sire in sure.items() if sire != UNKNOWN_SIRE.id}
    laid = [each for each in records.this_season if each.row == 0]
    failed = [each.dam for each in review.clutches if each.went is False]
    return NextYear(
        clutches=(
            *(_clutch(each, sure.get(each.dam, "")) for each in laid),
            *({"dam": dam, "sire": sure.get(dam, ""), "eggs": "0"} for dam in failed),
        ),
        animals=tuple(_changed(records)),
        young=tuple(row for each in records.this_season for row in _young(each, sure)),
    )


def _clutch(clutch: SeasonClutch, sire: str) -> dict[str, str]:
    morphs = "; ".join(
        f"{count} {sex} {look}" if sex else f"{count} {look}" for count, look, sex in clutch.young
    )
    told = {
        "dam": clutch.dam,
        "sire": sire,
        "laid": clutch.laid,
        "eggs": clutch.eggs,
        "slugs": clutch.slugs,
        "hatched": clutch.hatched,
        "morphs": morphs,
    }
    return {column: "" if value is None else str(value) for column, value in told.items()}


def _changed(records: SeasonRecords) -> Iterator[dict[str, str]]:
    """Yield the rows of animals that laid, left or came in by the events."""
    laid = {each.dam: each.laid for each in records.this_season if each.laid is not None}
    gone = {event.animal for event in records.events if str(event.kind) in (*Status,)}
    came = {event.animal for event in records.events if event.kind == "arrived"}
    for animal in records.known:
        if animal.id in laid or animal.id in gone or animal.id in came:
            yield _cells(replace(animal, last_laid=laid.get(animal.id, animal.last_laid)))


def _cells(animal: Animal) -> dict[str, str]:
    found = {}
    for name in _CELLS:
        value = getattr(animal, name)
        if name == "hatched":
            found[name] = animal.hatched_written
        elif value is None or name in animal.blank:
            found[name] = ""
        else:
            found[name] = plain_number(value) if isinstance(value, float) else str(value)
    return found


def _young(clutch: SeasonClutch, sure: dict[str, str]) -> Iterator[dict[str, str]]:
    if clutch.hatched is None and not clutch.young:
        return
    looks: list[tuple[str, Sex | None]] = [
        (look, sex) for count, look, sex in clutch.young for _ in range(count)
    ]
    looks += [("", None)] * ((clutch.hatched or 0) - len(looks))
    year = (clutch.hatched_on or clutch.laid or date.min).year
    for number, (look, sex) in enumerate(looks, start=1):
        yield {
            "id": f"{clutch.dam}-{year}-{number}",
            "sex": str(sex or ""),
            "hatched": clutch.hatched_on.isoformat() if clutch.hatched_on else "",
            "dam": clutch.dam,
            "sire": sure.get(clutch.dam, ""),
            "morph": look,
            "status": str(Status.HOLDBACK),
        }
