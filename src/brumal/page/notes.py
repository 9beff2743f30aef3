"""What can be noted by the racks: a form for each event of the events table, and for a weight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.datastructures import FormData

from brumal.records.animals import ABOUT, EventKind, Result, Sex
from brumal.records.journal import Entry
from brumal.records.writer import new_entry

WEIGHT = "weight"
GENOTYPE = "genotype"
"""A field of its own for what stands under ``about`` all the same."""
_K = EventKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field: the column it fills, its label, what may be chosen, whether it must be there."""

    name: str
    label: str
    choices: tuple[str, ...] = ()
    required: bool = True
    number: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What is noted: its name, the fields that it has beside animal, day and note, a word on it."""

    event: str
    title: str
    of: Sex | None = Sex.FEMALE
    fields: tuple[Field, ...] = ()
    word: str = ""


WITH = (Field(name="with", label="With"),)
SUBJECT = (
    Field(name="about", label="About", choices=("", *ABOUT), required=False),
    Field(name=GENOTYPE, label="or about a genotype, as in your tables", required=False),
)


def _number(name: str, label: str, required: bool = True) -> Field:
    return Field(name=name, label=label, required=required, number=True)


FORMS = (
    Form(event=_K.VISIT, title="Visit", fields=WITH),
    Form(event=_K.LOCK, title="Lock", fields=WITH),
    Form(event=_K.REFUSAL, title="Refusal", fields=WITH),
    Form(
        event=_K.FOLLICLES,
        title="Follicles",
        fields=(
            _number("count", "How many, if counted", required=False),
            _number("mm", "The largest, in millimetres", required=False),
        ),
    ),
    Form(event=_K.OVULATION, title="Ovulation"),
    Form(event=_K.SHED, title="Pre-lay shed"),
    Form(
        event=_K.LAID,
        title="Clutch laid",
        fields=(_number("count", "Eggs"), _number("slugs", "of them slugs")),
    ),
    Form(event=_K.CANDLED, title="Eggs candled", fields=(_number("count", "Eggs still good"),)),
    Form(
        event=_K.HATCHED,
        title="Clutch hatched",
        fields=(
            _number("count", "Live young"),
            Field(name="morphs", label="Their looks, such as 2 Pastel; 3 Normal", required=False),
        ),
    ),
    Form(event=WEIGHT, title="Weight", of=None, fields=(_number("grams", "Grams"),)),
    Form(
        event=_K.ILL,
        title="Ill",
        of=None,
        fields=(Field(name="about", label="About", choices=ABOUT),),
        word="What it has and what to do, a vet says. The plan gives it no further visit until a "
        "vet's clearance of illness is noted.",
    ),
    Form(
        event=_K.TESTED,
        title="Tested",
        of=None,
        fields=(
            *SUBJECT,
            Field(
                name="result",
                label="Result, if known",
                choices=("", *(each.value for each in Result)),
                required=False,
            ),
        ),
        word="Until a negative result or a vet's clearance is noted, a test about illness, laying "
        "or wasting keeps the animal out of the plan; a test of genes does not.",
    ),
    Form(
        event=_K.CLEARED,
        title="Cleared by a vet",
        of=None,
        fields=SUBJECT,
        word="Only what a vet has said of this animal.",
    ),
    Form(event=_K.ARRIVED, title="Arrived", of=None),
    Form(event=_K.SOLD, title="Sold", of=None),
    Form(event=_K.DIED, title="Died", of=None),
)
BY_EVENT: Mapping[str, Form] = {form.event: form for form in FORMS}
COLUMNS = ("with", "count", "slugs", "mm", "grams", "morphs", "about", GENOTYPE, "result", "note")


def entry_of(form: FormData) -> Entry | None:
    """Return the entry that a form holds, ``None`` for one of no page of ours."""
    event, id_ = str(form.get("event", "")), str(form.get("id", ""))
    if event not in BY_EVENT or not (id_.isalnum() and id_.isascii() and 8 <= len(id_) <= 40):
        return None
    names = ("animal", "date", *(each.name for each in BY_EVENT[event].fields), "note")
    cells = {name: str(form.get(name, "")) for name in names}
    genotype = cells.pop(GENOTYPE, "").strip()
    if genotype:
        cells["about"] = genotype
    if event == WEIGHT:
        return new_entry("weights", cells, id_)
    return new_entry("events", {**cells, "event": event}, id_)


def entry_words(entry: Entry, names: Mapping[str, str]) -> str:
    """Say what an entry notes."""
    cells = entry.cells
    told = [cells.get("date", ""), names.get(cells.get("animal", ""), cells.get("animal", ""))]
    told.append(BY_EVENT[cells["event"]].title if cells.get("event") in BY_EVENT else "Weight")
    for name in COLUMNS:
        if cells.get(name):
            told.append(f"{name} {names.get(cells[name], cells[name])}")
    return ", ".join(told)
