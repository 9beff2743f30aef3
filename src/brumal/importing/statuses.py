"""What an animal is to the keeper: by column, note, heading, strike-through or colour.

Only a plain word is taken, and it is always shown as a question. Whatever else points to an animal
that may be gone makes it ``unclear``: it is not planned before the keeper has answered.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from brumal.importing.collect import Raw
from brumal.importing.words import is_not_known, plain, words
from brumal.records.animals import Status

UNCLEAR = Status.UNCLEAR.value
_CLAUSE = re.compile(r"[.,;:()\n–—]|\s-\s")


class Sign(StrEnum):
    """What a status was read from."""

    COLUMN = "column"
    NOTE = "note"
    MENTION = "mention"
    HEADING = "heading"
    STRIKE = "strike"
    COLOUR = "colour"
    LEGEND = "legend"
    PRICE = "price"
    SALE = "sale"


@dataclass(frozen=True, slots=True)
class Reading:
    """A status (``unclear`` where the keeper must say, empty where none is meant) and its sign."""

    status: str
    sign: Sign


def in_column(text: str) -> str:
    """Read a cell of a status column: its first words decide, and nothing else may speak."""
    if is_not_known(text):
        return ""
    bare = plain(text)
    first = _leading(bare)
    others = {words().statuses[word] for word in _within(bare)} - {first, "unclear"}
    return first if first and not others and "?" not in text else UNCLEAR


def in_note(text: str) -> Reading | None:
    """Read a note: a status word that opens a clause is the animal's, one further in may not be."""
    found: list[Reading] = []
    for clause in _CLAUSE.split(text):
        bare = plain(clause)
        loud = [
            word
            for word in _within(bare)
            if word not in words().lists["quiet"] and words().statuses[word] != "breeder"
        ]
        if loud:
            found.append(_of_clause(bare, loud, clause))
    if len(set(found)) < 2:
        return found[0] if found else None
    return Reading(UNCLEAR, Sign.NOTE)


def _of_clause(bare: str, loud: Sequence[str], clause: str) -> Reading:
    relatives = words().lists["relatives"]
    if any(part in relatives for part in bare.split()):
        return Reading("", Sign.MENTION)
    opening = next((word for word in loud if bare == word or bare.startswith(f"{word} ")), "")
    rest = bare.removeprefix(opening).split()
    otherwise = bool(set(rest) & words().lists["sold_otherwise"]) and opening.endswith("sold")
    to_keeper = otherwise or rest[:2] in (["to", "me"], ["to", "us"])
    if not opening or to_keeper or "?" in clause or len({words().statuses[w] for w in loud}) > 1:
        return Reading(UNCLEAR, Sign.NOTE)
    return Reading(words().statuses[opening], Sign.NOTE)


def _leading(bare: str) -> str:
    opening = [word for word in words().statuses if bare == word or bare.startswith(f"{word} ")]
    return words().statuses[max(opening, key=len)] if opening else ""


def _within(bare: str) -> list[str]:
    padded = f" {bare} "
    found = [word for word in words().statuses if f" {word} " in padded]
    # "on loan from" is not "on loan" as well.
    return [w for w in found if not any(w != o and f" {w} " in f" {o} " for o in found)]


def by_heading(section: str) -> Reading | None:
    """Read the heading over a row: ``SOLD`` is a word, ``Gone`` is not enough of one."""
    known = words()
    told = known.statuses.get(plain(section), "")
    if told in ("sold", "died", "retired"):
        return Reading(told, Sign.HEADING)
    if known.among("gone", section) or known.among("holdbacks", section):
        return Reading(UNCLEAR, Sign.HEADING)
    return None


def in_price(text: str) -> Reading | None:
    """Read a word in a column of prices: ``SOLD``, ``on hold``."""
    bare = plain(text)
    told = _leading(bare)
    if told and not re.search(r"\d", text):
        return Reading(told if told == "sold" and "?" not in text else UNCLEAR, Sign.PRICE)
    return None


def colour_of(raw: Raw) -> str:
    """Return the colour of a row: that of its key cell, where half of its cells share it."""
    first = raw.cell("id", "name")
    if first is None or not first.fill:
        return ""
    same = [cell for cell in raw.cells if cell.fill == first.fill]
    return first.fill if 2 * len(same) >= len(raw.cells) else ""


def is_struck(raw: Raw) -> bool:
    """Say whether every text of a row that may be struck through is."""
    texts = [cell for cell in raw.cells if isinstance(cell.value, str)]
    return bool(texts) and 2 * sum(cell.strike for cell in texts) > len(texts)


def telling_colours(raws: Sequence[Raw], legends: Mapping[str, str]) -> dict[str, str]:
    """Return the colours that may say something, with the status of the legend (or unclear).

    A colour of half the rows or more, or one that each sex has of its own, is decoration.
    """
    colours = Counter(colour for raw in raws if (colour := colour_of(raw)))
    found = {}
    for colour, times in colours.items():
        if colour in legends:
            found[colour] = in_column(legends[colour]) or UNCLEAR
        elif 2 * times < len(raws) and not _is_of_a_sex(raws, colours):
            found[colour] = UNCLEAR
    return found


def _is_of_a_sex(raws: Sequence[Raw], colours: Counter[str]) -> bool:
    sexes = words().sexes
    by_colour: dict[str, set[str]] = {}
    for raw in raws:
        by_colour.setdefault(colour_of(raw), set()).add(sexes.get(plain(raw.text("sex")), ""))
    told = [found for colour, found in by_colour.items() if colour]
    return len(colours) == 2 and all(len(found) == 1 for found in told) and told[0] != told[1]
