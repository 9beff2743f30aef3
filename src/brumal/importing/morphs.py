"""Morphs of a row: several columns put together, read by the notation of the catalogue."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.notation.parse import parse_morph
from brumal.importing.collect import Raw
from brumal.importing.grids import Cell
from brumal.importing.words import is_not_known, plain, words

_BEHIND = re.compile(r"^(.*\S)\s*\(\s*(\d{1,3}\s*%)\s*\)$")
_SAYS_HET = re.compile(r"(?i)\b(het|hets|dh|th|heterozygous)\b")
_PERCENT = re.compile(r"\d{1,3}\s*%")


@dataclass(frozen=True, slots=True, kw_only=True)
class MorphReading:
    """A morph in trade notation that the catalogue understands, or why it is none."""

    text: str = ""
    cells: tuple[Cell, ...] = ()
    problem: str = ""
    choices: tuple[str, ...] = ()
    blank: bool = False


def read_morph(raw: Raw, catalogue: Catalogue) -> MorphReading:
    """Read what the columns of a row say of its genes together."""
    parts: list[str] = []
    cells: list[Cell] = []
    unclear: list[Cell] = []
    for name, spell in (("morph", _visual), ("het", _het), ("poss_het", _possible)):
        for _, cell in raw.fields.get(name, []):
            if is_not_known(cell.text):
                unclear += [cell] if cell.text.casefold() in ("tbd", "tba", "tbc") else []
                continue
            parts.append(spell(cell.text))
            cells.append(cell)
    if unclear:
        return MorphReading(cells=tuple(unclear), problem="its look is still to be told")
    if not parts:
        return MorphReading(blank=True)
    if "" in parts:
        at = parts.index("")
        return MorphReading(cells=(cells[at],), problem="a possible het without its percentage")
    return _joined(parts, cells, catalogue)


def are_morphs(cells: Sequence[Cell], catalogue: Catalogue) -> bool:
    """Say whether cells are all morphs of the catalogue, one at least with a gene."""
    read = [morph_text(cell.text, catalogue) for cell in cells if not is_not_known(cell.text)]
    return len(read) > 1 and all(read) and any(text != "Normal" for text in read)


def morph_text(text: str, catalogue: Catalogue) -> str:
    """Return a morph in notation that the catalogue understands, or nothing."""
    return _joined([_visual(text)], [], catalogue).text


def _joined(parts: list[str], cells: list[Cell], catalogue: Catalogue) -> MorphReading:
    shown = [part for part in parts if plain(part) != "normal"] or parts
    text = " ".join(shown)
    morph, problems = parse_morph(text, catalogue)
    if morph is not None:
        return MorphReading(text=text, cells=tuple(cells))
    told = "; ".join(f"{each.found} (expected {each.expected})" for each in problems)
    hints = " ".join(each.repair for each in problems if each.repair)
    choices = tuple(re.findall(r"['‘\"]([^'’\"]+)['’\"]", hints))
    at = [
        cell
        for cell, part in zip(cells, parts, strict=False)
        if parse_morph(part, catalogue)[0] is None
    ]
    return MorphReading(cells=tuple(at or cells), problem=f"{told}. {hints}", choices=choices)


def _visual(text: str) -> str:
    """Return a text with the trade's short forms spelt out."""
    if plain(text) in words().lists["wild_type"]:
        return "Normal"
    spelt = re.sub(r"(?i)\bhet\s*\.\s*", "het ", text)
    spelt = re.sub(r"(?i)(^|\s)h\.\s*", r"\1het ", spelt)
    spelt = re.sub(r"(?i)\b([a-z])\.([a-z])\.?(?=\s|$)", r"\1\2", spelt)
    return " ".join(spelt.split())


def _het(text: str) -> str:
    spelt = _visual(text)
    if _SAYS_HET.search(spelt):
        return spelt
    if match := _BEHIND.match(spelt):
        spelt = f"{match[2]} {match[1]}"
    if _PERCENT.match(spelt):
        return _PERCENT.sub(lambda found: f"{found[0]} het", spelt)
    return f"het {spelt}"


def _possible(text: str) -> str:
    """Return a possible het; without its percentage it cannot be written, and is empty."""
    spelt = _visual(text)
    if match := _BEHIND.match(spelt):
        spelt = f"{match[2]} {match[1]}"
    if not _PERCENT.search(spelt):
        return ""
    return spelt if _SAYS_HET.search(spelt) else _PERCENT.sub(lambda f: f"{f[0]} het", spelt)
