"""The steps of a sweep: ``{from: 10, to: 40, by: 2}``, a list of values, or ``10:40:2``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from brumal.records.cells import quote
from brumal.records.faults import Fault, Where, did_you_mean
from brumal.records.yaml_text import Path

MOST_STEPS = 400
RANGE_KEYS = ("from", "to", "by")


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepAxis:
    """One value that runs over a range: its key as written, the path, the steps as text."""

    key: str
    path: Path
    steps: tuple[str, ...]


def key_path(key: str) -> Path:
    """Return the path of a dotted key (``values.wanted.Pastel Clown.value``)."""
    return tuple(part.strip() for part in key.split("."))


def axis_of(key: str, steps: object, where: Where) -> tuple[SweepAxis | None, list[Fault]]:
    """Return the axis of a key over ``steps``: a range by its ends, or a list of values."""
    if isinstance(steps, list) and steps and all(isinstance(step, str) for step in steps):
        values = tuple(dict.fromkeys(str(step) for step in steps))
        return SweepAxis(key=key, path=key_path(key), steps=values), []
    if not isinstance(steps, Mapping):
        return None, [_bad(where, quote(str(steps)))]
    unknown = [name for name in steps if name not in RANGE_KEYS]
    if unknown:
        repair = did_you_mean(unknown[0], RANGE_KEYS)
        return None, [_bad(where, f"an unknown key {quote(unknown[0])}", repair)]
    unit = "%" if str(steps.get("from")).strip().endswith("%") else ""
    ends = [_number(steps.get(name, "1" if name == "by" else None), unit) for name in RANGE_KEYS]
    first, last, by = ends
    if first is None or last is None or by is None:
        wrong = next(name for name, end in zip(RANGE_KEYS, ends, strict=True) if end is None)
        found = steps.get(wrong)
        return None, [_bad(where, f"{wrong}: {'nothing' if found is None else quote(str(found))}")]
    signed = bool(unit) or str(steps["from"]).strip().startswith(("+", "-"))
    return _range(key, where, (first, last, by), unit, signed)


def axis_of_text(text: str) -> tuple[SweepAxis | None, list[Fault]]:
    """Return the axis that ``limits.boxes=10:40:2`` asks for; without a step it goes by 1."""
    where = Where(file="--sweep", column=text)
    key, equals, ends = text.partition("=")
    parts = [part.strip() for part in ends.split(":")]
    if not equals or not key.strip() or len(parts) not in (2, 3):
        return None, [_bad(where, quote(text), "Write it as limits.boxes=10:40:2.")]
    return axis_of(key.strip(), dict(zip(RANGE_KEYS, parts, strict=False)), where)


def _range(
    key: str, where: Where, ends: tuple[Decimal, Decimal, Decimal], unit: str, signed: bool
) -> tuple[SweepAxis | None, list[Fault]]:
    """Return the steps between the ends; signed ones (``+50``) are differences, each signed."""
    first, last, by = ends
    if by <= 0 or last < first:
        return None, [_bad(where, f"from {first} to {last} by {by}")]
    count = int((last - first) / by) + 1
    if count > MOST_STEPS:
        return None, [_bad(where, f"{count:,} steps", f"At most {MOST_STEPS}: take larger ones.")]
    values = [first + by * number for number in range(count)]
    steps = tuple(("+" if signed and each >= 0 else "") + _plain(each) + unit for each in values)
    return SweepAxis(key=key, path=key_path(key), steps=steps), []


def _number(value: object, unit: str = "") -> Decimal | None:
    try:
        number = Decimal(str(value).strip().removesuffix(unit))
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def _plain(number: Decimal) -> str:
    """Write a step without a needless fraction or exponent: ``10``, ``0.0625``."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _bad(where: Where, found: str, repair: str = "") -> Fault:
    return Fault(
        where=where,
        found=found,
        expected="numbers {from: 10, to: 40, by: 2}, from the smaller to the larger, or a list",
        repair=repair,
    )
