"""From raw rows to animals: every field settled, or blank with a question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from brumal.importing import statuses
from brumal.importing.body import condition_of
from brumal.importing.collect import Raw, is_slipped, young_counted
from brumal.importing.grids import Cell
from brumal.importing.morphs import morph_text, read_morph
from brumal.importing.parents import parents_of
from brumal.importing.register import Register, give_keys
from brumal.importing.statuses import UNCLEAR, Reading, Sign
from brumal.importing.study import Study
from brumal.importing.words import is_not_known, plain, sex_of_heading, words
from brumal.records.animals import Status

STATUSES = tuple(status.value for status in Status)
YES = frozenset({"yes", "y", "ja", "oui", "si", "tak", "true"})


@dataclass(slots=True, kw_only=True)
class Settled:
    """One animal as it is written, text by column; ``raw`` is where it came from."""

    raw: Raw
    values: dict[str, str] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """Return the animal's id."""
        return self.raw.key


def settle_animals(
    study: Study, raws: Sequence[Raw], legends: Mapping[str, str]
) -> tuple[list[Settled], Register]:
    """Settle every animal; rows that are no animal for certain are asked about and left out."""
    kept = [raw for raw in raws if _is_one_animal(study, raw, raws)]
    doubled = give_keys(kept)
    for text, others in doubled.items():
        _ask_double(study, text, others)
    study.notes += [
        f"{raw.text('name')} stands for more than one animal: written as {raw.key} too."
        for raw in kept
        if raw.text("name") and not raw.text("id") and raw.key != raw.text("name")
    ]
    register = Register(kept)
    sexes = {raw.key: _sex(study, raw) for raw in kept}
    colours = statuses.telling_colours(kept, legends)
    found = []
    for raw in kept:
        values = {"id": raw.key, "name": raw.text("name"), "sex": sexes[raw.key]}
        values |= parents_of(study, register, raw, sexes)
        values["hatched"] = _day(study, raw, "hatched")
        values["arrived"] = _arrived(study, raw)
        values["condition"] = condition_of(study, raw)
        values["last_laid"] = _dated(study, raw, "last_laid")
        values["morph"] = _morph(study, raw)
        values["status"] = _status(study, raw, colours, legends)
        values["notes"] = _notes(raw)
        _clear_conflicts(study, raw, values)
        if not values["morph"] and values["status"] == "breeder":
            values["status"] = UNCLEAR  # no morph would read as Normal
        found.append(Settled(raw=raw, values=values))
    return found, register


def _is_one_animal(study: Study, raw: Raw, raws: Sequence[Raw]) -> bool:
    cause, text = "", ""
    if young_counted(raw) > 1:
        cause, text = (
            "several",
            "A row for several young. In the book, give each one a row of its own.",
        )
    elif not (raw.text("id") or raw.text("name")):
        if not any(raw.cell(name) for name in ("sex", "morph", "het", "hatched", "dam", "sire")):
            return False
        cause, text = "nameless", "A row without an id or a name. What is the animal called?"
    elif is_slipped(raw, raws):
        cause = "slipped"
        text = "The number in the column of ids looks like the tub number. What is the id?"
    elif raw.grid.hidden:
        cause, text = "hidden", "Animals of a hidden sheet. Do they belong to the collection?"
    if not cause:
        return True
    choices = ("yes", "no") if cause == "hidden" else ()
    answer = study.asker.ask(
        cause, "animal", raw.grid, raw.cells, item=raw.label if cause == "hidden" else
        f"row {raw.row}", text=text, until="not imported", choices=choices,
    )  # fmt: skip
    if not answer or cause == "several":
        return False
    if cause == "hidden":
        return answer.casefold() in YES
    pairs = raw.fields.get("name") or raw.fields.get("id") or []
    column = pairs[0][0] if pairs else None
    if column is None:
        return False
    cell = Cell(row=raw.row, column=column.number, value=answer)
    raw.fields[column.field] = [(column, cell)]
    return True


def _ask_double(study: Study, text: str, raws: Sequence[Raw]) -> None:
    for raw in raws:
        cell = raw.cell("id")
        answer = study.asker.ask(
            "twice",
            "id",
            raw.grid,
            [cell] if cell else [],
            item=raw.key,
            text="An id that stands twice. What is the id of each?",
            until="the name stands for the id",
        )
        if answer and answer != text:
            raw.key = answer


def _sex(study: Study, raw: Raw) -> str:
    cell = raw.cell("sex")
    heading = sex_of_heading(raw.section)
    if cell is None:
        return heading
    text = cell.text.strip()
    bare = plain(text) or text
    sex = words().sexes.get(text.casefold()) or words().sexes.get(bare)
    if text == "1" and _counts_beside(study, raw):
        sex = "male"
    if sex is None and is_not_known(text):
        sex = "unknown"
    clash = bool(heading) and sex in ("male", "female") and sex != heading
    if sex is not None and not clash:
        return heading if sex == "unknown" and heading else sex.replace("unknown", "")
    column = raw.column("sex")
    answer = study.asker.ask(
        "sex" if not clash else "other than its heading",
        "sex",
        raw.grid,
        [cell],
        item=raw.key,
        column=column.heading if column else "",
        text=f"A male under the heading {raw.section!r}, or the other way round. Which sex?"
        if clash
        else "Not read as a sex. Which is it?",
        until="left blank",
        choices=("female", "male"),
    )
    return study.use("sex", raw.key, answer, lambda told: words().sexes.get(plain(told), ""))


def _counts_beside(study: Study, raw: Raw) -> bool:
    """Say whether the sexes of the column are counts, so that 1 is a male (1.0)."""
    column = raw.column("sex")
    others = study.beside(raw.grid, column) if column else []
    return any(cell.text in ("0.1", "1.0", "0.0.1") for cell in others)


def _day(study: Study, raw: Raw, about: str) -> str:
    pairs = raw.fields.get(about, [])
    if not pairs:
        return ""
    column, cell = pairs[0]
    cells = None if raw.table is not None else study.beside_cards(about)
    return study.date(raw.grid, column, cell, item=raw.key, about=about, cells=cells)


def _dated(study: Study, raw: Raw, about: str) -> str:
    """Return a date, whole or in part; a column of other things than dates is not taken for it."""
    column = raw.column(about)
    if column is None or not study.is_of_dates(raw.grid, column):
        return ""
    return _day(study, raw, about)


def _arrived(study: Study, raw: Raw) -> str:
    found = _dated(study, raw, "arrived")
    return found if len(found) == 10 else ""


def _morph(study: Study, raw: Raw) -> str:
    reading = read_morph(raw, study.catalogue)
    if reading.text:
        return reading.text
    column = raw.column("morph")
    cells = list(reading.cells) or raw.cells
    answer = study.asker.ask(
        "blank" if reading.blank else "morph",
        "morph",
        raw.grid,
        cells,
        item=raw.key,
        column=column.heading if column else "",
        text="No morph is told; an empty one would be read as Normal. Which is it?"
        if reading.blank
        else "Morphs that are not understood for certain. What is each?",
        until="left blank and not planned",
        choices=reading.choices,
    )
    return study.use("morph", raw.key, answer, lambda told: morph_text(told, study.catalogue))


def _notes(raw: Raw) -> str:
    found = [cell.text for _, cell in raw.fields.get("notes", [])]
    return "; ".join(dict.fromkeys(found))


def _clear_conflicts(study: Study, raw: Raw, values: dict[str, str]) -> None:
    """Blank what two tables say differently."""
    for name, cells in raw.conflicts.items():
        own = raw.cell(name)
        answer = study.asker.ask(
            "two tables",
            name,
            raw.grid,
            [own] if own else [],
            item=raw.key,
            text=f"Another table says otherwise: {', '.join(cell.text for cell in cells)}. "
            "Which is right?",
            until="left blank",
            choices=tuple(cell.text for cell in ([own] if own else []) + cells),
        )
        values[name] = answer or (UNCLEAR if name == "status" else "")


@dataclass(frozen=True, slots=True)
class _Told:
    cause: str
    text: str
    until: str


_ASKED = {
    Sign.COLUMN: _Told("column", "What is each of these animals this season?", "not planned"),
    Sign.NOTE: _Told("notes", "What do these notes say of the animal?", "not planned"),
    Sign.MENTION: _Told(
        "mention",
        "These notes name an animal that is gone, it seems another one. Is that so? "
        "Answer breeder, or what the animal is.",
        "taken as in the collection",
    ),
    Sign.HEADING: _Told("heading", "What are the animals under these headings?", "not planned"),
    Sign.STRIKE: _Told("struck", "Rows struck through. What are these animals?", "not planned"),
    Sign.COLOUR: _Told(
        "colour", "Rows in a colour that nothing explains. What are they?", "not planned"
    ),
    Sign.LEGEND: _Told(
        "legend", "Rows in a colour that the book explains. Is it right?", "taken as explained"
    ),
    Sign.PRICE: _Told("price", "Words among the prices. What are these animals?", "not planned"),
    Sign.SALE: _Told(
        "sale", "Animals on a list for sale. What are they this season?", "not planned"
    ),
}


def _status(study: Study, raw: Raw, colours: Mapping[str, str], legends: Mapping[str, str]) -> str:
    found = _signs(raw, colours, legends)
    if not found:
        return "breeder"
    reading, cells = found
    told = _ASKED[reading.sign]
    sure = reading.status not in (UNCLEAR, "")
    if sure and reading.status == "breeder":
        return "breeder"
    answer = study.asker.ask(
        f"{told.cause} read" if sure else told.cause,
        "status",
        raw.grid,
        cells,
        item=raw.key,
        text="The status is read from these words. Is it right?" if sure else told.text,
        until="as read" if sure else told.until,
        choices=STATUSES[:-1],
        taken=reading.status if sure else "",
    )
    read = study.use("status", raw.key, answer, lambda text: text if text in STATUSES else "")
    return read or reading.status or "breeder"


def _signs(
    raw: Raw, colours: Mapping[str, str], legends: Mapping[str, str]
) -> tuple[Reading, list[Cell]] | None:
    """Return the sign that decides: a word of its own before a heading, a line or a colour."""
    own = raw.cell("status")
    if own is not None and (told := statuses.in_column(own.text)):
        return Reading(told, Sign.COLUMN), [own]
    price = raw.cell("price")
    if price is not None and (reading := statuses.in_price(price.text)):
        return reading, [price]
    for _, cell in raw.fields.get("notes", []):
        if reading := statuses.in_note(cell.text):
            return reading, [cell]
    if statuses.is_struck(raw):
        return Reading(UNCLEAR, Sign.STRIKE), raw.cells
    colour = statuses.colour_of(raw)
    if colour in colours:
        sign = Sign.LEGEND if colour in legends else Sign.COLOUR
        return Reading(colours[colour], sign), raw.cells
    if heading := statuses.by_heading(raw.section):
        return heading, raw.cells
    if words().any_of("for_sale", f"{raw.section} {raw.grid.sheet}"):
        return Reading(UNCLEAR, Sign.SALE), raw.cells
    return None
