"""What a column holds: by its heading, and where that tells nothing, by what is in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from brumal.importing.dates import DateReading, read_date
from brumal.importing.grids import Cell
from brumal.importing.weights import unit_of
from brumal.importing.words import plain, words

_BRACKETS = re.compile(r"[(\[]([^)\]]*)[)\]]")
_CURRENCIES = {
    "€": "EUR",
    "eur": "EUR",
    "euro": "EUR",
    "$": "$",
    "usd": "USD",
    "£": "GBP",
    "gbp": "GBP",
}
_CURRENCIES |= {"zl": "PLN", "zł": "PLN", "pln": "PLN", "chf": "CHF", "fr": "CHF"}
_DATES_IN = tuple(
    re.compile(pattern)
    for pattern in (
        r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}",
        r"\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}",
        r"\d{1,2}\.?\s+[^\W\d]{3,}\.?\s+\d{4}",
        r"[^\W\d]{3,}\s+\d{1,2},?\s+\d{4}",
        r"[^\W\d]{3,}\.?\s+\d{4}",
        r"\d{4}[-/.]\d{1,2}",
        r"\d{1,2}[-/.]\d{4}",
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a heading says: the field, words beside it, a unit, and a date if it names one."""

    field: str = ""
    beside: str = ""
    unit: str = ""
    day: DateReading | None = None
    text: str = ""


def meaning_of(cell: Cell, group: str = "") -> Meaning:
    """Read a heading; ``group`` is the heading over it where there are two rows of them."""
    text = f"{group} {cell.text}".strip()
    day = _date_of(cell, group)
    if day is not None:
        return Meaning(field="weight on", unit=unit_of(text), day=day, text=text)
    own = _by_words(cell.text)
    if not group:
        return own
    over = _by_words(group)
    if own.field in ("", "date", "id", "name") and over.field and over.field not in ("name", "id"):
        if over.field == "weight" and own.field == "date":
            return Meaning(field="weighed", text=text)
        return Meaning(field=over.field, beside=own.beside, unit=over.unit or own.unit, text=text)
    return Meaning(
        field=own.field, beside=own.beside, unit=own.unit or over.unit, day=own.day, text=text
    )


def _date_of(cell: Cell, group: str) -> DateReading | None:
    """Return the date of a heading that is one, alone or among words of weighing."""
    reading = read_date(cell)
    if reading.stored:
        return reading
    text = cell.text
    match = _date_match(text)
    if match is None:
        return None
    rest = plain(text[: match.start()] + " " + text[match.end() :])
    if not _is_weighing(rest) or (not rest and group and not _is_weighing(plain(group), True)):
        return None
    found = read_date(Cell(row=cell.row, column=cell.column, value=match[0]))
    return None if found.unclear or found.blank else found


def _date_match(text: str) -> re.Match[str] | None:
    return next((found for form in _DATES_IN if (found := form.search(text))), None)


def date_part(text: str) -> str:
    """Return the date that stands in a heading, or the heading where there is none."""
    match = _date_match(text)
    return match[0] if match else text


def _is_weighing(rest: str, years: bool = False) -> bool:
    known = words()
    fine = {"in", "at", "on", "the", "w", "am", "le"}
    return all(
        word in fine
        or word in known.units
        or known.columns.get(word) in ("weight", "weighed", "date")
        or (years and re.fullmatch(r"(19|20)\d\d", word))
        for word in rest.split()
    )


def _by_words(heading: str) -> Meaning:
    known = words().columns
    bare = _BRACKETS.sub(" ", heading)
    inside = " ".join(_BRACKETS.findall(heading))
    for text in (heading, bare, _BRACKETS.sub(r"\1", heading)):
        words_of = plain(_without_currency(text))
        if words_of in known:
            return Meaning(field=known[words_of], unit=unit_of(heading), text=heading)
    sides = {known.get(plain(side), "") for side in re.split(r"\s+[xX×/&+]\s+|/", bare)}
    if sides == {"dam", "sire"}:
        return Meaning(field="parents", text=heading)
    parts = plain(_without_currency(bare)).split()
    return _among(parts, heading, inside)


def _among(parts: list[str], heading: str, inside: str) -> Meaning:
    """Find the field among several words: ``Fall weight``, ``weights in g``, ``mother's name``."""
    known = words()
    kept = [part for part in parts if part not in known.units or len(parts) == 1]
    for length in range(len(kept), 0, -1):
        for start in range(len(kept) - length + 1):
            field = known.columns.get(" ".join(kept[start : start + length]), "")
            rest = kept[:start] + kept[start + length :]
            if field in ("weight", "weighed") and len(rest) <= 2:
                beside = " ".join(part for part in rest if part not in ("in", "w", "at"))
                return Meaning(
                    field=field, beside=beside, unit=unit_of(f"{heading} {inside}"), text=heading
                )
    return Meaning(text=heading)


def _without_currency(text: str) -> str:
    return " ".join(
        word for word in re.sub(r"[€$£]", " ", text).split() if plain(word) not in _CURRENCIES
    )


def currency_in(text: str) -> str:
    """Return the code of a currency that a text names or shows by its sign, or nothing."""
    found = {
        code
        for word, code in _CURRENCIES.items()
        if (word in text if word in "€$£" else word in plain(text).split())
    }
    return found.pop() if len(found) == 1 else ""


def looks_like_sexes(cells: Sequence[Cell]) -> bool:
    """Say whether the filled cells of a column are all words for sexes, of both or of one."""
    texts = [cell.text for cell in cells if cell]
    sexes = words().sexes
    return len(texts) > 1 and all(
        text.casefold() in sexes or plain(text) in sexes for text in texts
    )
