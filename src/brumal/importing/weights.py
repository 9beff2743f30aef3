"""Weights as keepers write them: grams, kilograms, ounces and pounds, with remarks in the cell."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from brumal.importing.grids import Cell
from brumal.importing.words import is_not_known, plain, words

GRAMS = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
"""Exact by definition (international avoirdupois pound of 1959)."""

LEAST_G, MOST_G = 15.0, 5000.0
"""From below the lightest hatchling measured (25 g, Gorzula, Nsiah & Oduro 1997) to more than any
usual adult (common practice, no source)."""

_NUMBER = r"\d[\d.,'\u00a0\u202f ]*"
_GROUPED = re.compile(r"\d{1,3}(['\u00a0\u202f ]\d{3})+([.,]\d+)?")
_POUNDS = re.compile(rf"({_NUMBER})\s*(?:lbs?|pounds?)\.?\s*({_NUMBER})\s*(?:oz|ounces?)\.?", re.I)
_WEIGHT = re.compile(rf"({_NUMBER})\s*([^\W\d_]*)\.?(?:[\s,;(]+(.*))?", re.DOTALL)


class WeightDoubt(StrEnum):
    """Why a weight is for the keeper to say."""

    UNCLEAR = "unclear"
    UNIT = "unit"
    RANGE = "range"
    UNSAVED = "unsaved"


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightReading:
    """A number with the unit of its own cell (empty without one) and the remark behind it."""

    amount: float | None = None
    unit: str = ""
    remark: str = ""
    written: str = ""
    blank: bool = False


def read_weight(cell: Cell) -> WeightReading:
    """Read one cell by itself; without an amount and not blank it is unclear."""
    value = cell.value
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return WeightReading(amount=float(value), written=cell.text)
    text = cell.text
    if is_not_known(text) or (text and not re.search(r"\d", text)):
        return WeightReading(blank=True)
    if match := _POUNDS.fullmatch(text):
        pounds, ounces = _amount(match[1], "lb"), _amount(match[2], "oz")
        if pounds is not None and ounces is not None:
            return WeightReading(amount=pounds * 16 + ounces, unit="oz", written=text)
    match = _WEIGHT.fullmatch(text)
    if match is None:
        return WeightReading()
    word, rest = match[2], match[3] or ""
    unit = words().units.get(plain(word), "")
    remark = rest if unit or not word else f"{word} {rest}".strip()
    if re.search(r"\d", remark) or words().any_of("approximate", remark) or "?" in remark:
        return WeightReading()
    return WeightReading(
        amount=_amount(match[1], unit), unit=unit, remark=remark.strip("()[] "), written=match[1]
    )


def _amount(digits: str, unit: str) -> float | None:
    """Read digits; three behind a lone mark are thousands of grams, but a fraction of kilograms."""
    spaced = digits.strip().rstrip(".,")
    if re.search(r"['\u00a0\u202f ]", spaced) and not _GROUPED.fullmatch(spaced):
        return None
    bare = re.sub(r"['\u00a0\u202f ]", "", spaced)
    if re.fullmatch(r"\d+", bare):
        return float(bare)
    if re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", bare) and unit in ("", "g"):
        return float(re.sub(r"[.,]", "", bare))
    if re.fullmatch(r"\d+[.,]\d+", bare):
        return float(bare.replace(",", "."))
    return None


def unit_of(heading: str) -> str:
    """Return the unit that a heading states: ``Gewicht (kg)``, ``waga w gramach``."""
    found = {unit for word in plain(heading).split() if (unit := words().units.get(word))}
    return found.pop() if len(found) == 1 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightColumn:
    """The unit of cells without one of their own; empty where it is for the keeper to say."""

    unit: str = ""


def settle_unit(cells: Iterable[Cell], stated: str, other_units: bool) -> WeightColumn:
    """Settle the unit of a column.

    ``stated`` is the heading's; ``other_units`` says that the book uses ounces, pounds or
    kilograms somewhere. Without a stated unit grams are taken only where another unit cannot be.
    """
    if stated:
        return WeightColumn(unit=stated)
    amounts = [
        reading.amount
        for cell in cells
        if (reading := read_weight(cell)).amount is not None and not reading.unit
    ]
    if not amounts:
        return WeightColumn(unit="g")
    top = max(amounts)
    if top * GRAMS["oz"] > MOST_G and min(amounts) >= 1:
        return WeightColumn(unit="g")
    small = min(amounts) >= 25 and not other_units
    return WeightColumn(unit="g" if small else "")


def grams_in(cell: Cell, column: WeightColumn) -> tuple[float | None, str, WeightDoubt | None]:
    """Return the grams of a cell, the remark in it, and why it is not known (``None``: blank)."""
    if cell.unsaved:
        return None, "", WeightDoubt.UNSAVED
    reading = read_weight(cell)
    if reading.blank:
        return None, cell.text, None
    if reading.amount is None:
        return None, "", WeightDoubt.UNCLEAR
    unit = reading.unit or column.unit
    if not unit:
        return None, "", WeightDoubt.UNIT
    amount = reading.amount
    if reading.written and not reading.unit and unit != "g":
        amount = _amount(reading.written, unit) or amount
    grams = amount * GRAMS[unit]
    if not LEAST_G <= grams <= MOST_G:
        return None, reading.remark, WeightDoubt.RANGE
    return round(grams, 1), reading.remark, None
