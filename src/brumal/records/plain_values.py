"""Numbers and dates as keepers write them: read where plain, explained where not."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta

LARGEST_WEIGHT_G = 10_000.0
"""No ball python weighs more: adults of 3 kg are large (common practice, no source). It also tells
a thousands mark from a decimal one."""

GRAMS = {"": 1.0, "g": 1.0, "gr": 1.0, "gram": 1.0, "grams": 1.0, "kg": 1000.0}

_NUMBER = re.compile(r"([+-]?)(\d[\d.,' \u00a0\u202f]*)\s*([a-z]*)\.?", re.IGNORECASE)
_ISO_DAY = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d.*)?")
_BASIC_DAY = re.compile(r"(\d{4})(\d{2})(\d{2})")
_MIXED_DAY = re.compile(r"(\d{1,2})([-/.])(\d{1,2})[-/.](\d{4}|\d{2})")
_NAMED_DAYS = ("%d %B %Y", "%d %b %Y", "%B %d %Y", "%b %d %Y", "%d %B %y", "%d %b %y")
_SPREADSHEET_DAY_ZERO = date(1899, 12, 30)


def parse_number(text: str) -> tuple[float | None, str]:
    """Read a count or a score; return the value, or ``None`` with a repair.

    A decimal comma is forgiven; anything behind the number is not.
    """
    match = _NUMBER.fullmatch(text)
    if not match:
        return None, ""
    if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+", match[2].strip()):
        return None, _either(match[2].strip())
    if match[3]:
        return None, f"Write {_plain(_signed(match[1], _decimal(match[2])))}."
    return _signed(match[1], _decimal(match[2])), ""


@dataclass(frozen=True, slots=True)
class Step:
    """A difference to a figure: so much more or less, or so many per cent of it."""

    amount: float
    percent: bool

    def of(self, figure: float) -> float:
        """Return the figure with the difference made."""
        if self.percent:
            return round(figure * (1 + self.amount / 100), 6)
        return round(figure + self.amount, 6)


def parse_step(text: str) -> Step | None:
    """Read a difference: a number with its sign, in per cent or not (``+2``, ``-10%``)."""
    if not text.startswith(("+", "-")):
        return None
    percent = text.endswith("%")
    amount, _ = parse_number(text.rstrip("% "))
    return None if amount is None else Step(amount, percent)


def _either(digits: str) -> str:
    """Ask which is meant by ``5,000``: nobody can know whether the comma groups or divides."""
    grouped = digits.replace(",", "")
    divided = _decimal(digits)
    if divided is None:
        return f"Write {grouped} if that is meant."
    return f"It may mean {grouped} or {_plain(divided)}: write the one that is meant."


def parse_grams(text: str) -> tuple[float | None, str]:
    """Read a weight in grams; ``1520``, ``1520 g``, ``1 520`` and ``1,52 kg`` are understood.

    ``1.520`` may be a thousand and a half or one and a half: that is for the keeper to say, so it
    comes back as ``None`` with the plain form as repair, unless one reading is no snake at all.
    """
    match = _NUMBER.fullmatch(text)
    if not match or match[3].casefold() not in GRAMS:
        return None, "Write the weight in grams, the number alone."
    sign, digits, unit = match[1], match[2].strip(), match[3].casefold()
    factor = GRAMS[unit]
    thousands = _as_thousands(digits)
    if factor == 1.0 and thousands is not None and thousands <= LARGEST_WEIGHT_G:
        return None, f"Write {_plain(thousands)} if that is the weight in grams."
    value = _decimal(digits)
    return _signed(sign, value * factor if value is not None else None), ""


def parse_day(text: str) -> tuple[date | None, str]:
    """Read an ISO 8601 date; return it, or ``None`` with the ISO form of what was written."""
    match = _ISO_DAY.fullmatch(text) or _BASIC_DAY.fullmatch(text)
    if match:
        day = _day(int(match[1]), int(match[2]), int(match[3]))
        return day, "" if day else "There is no such day."
    return None, _day_repair(text)


def sure_money(amount: float, spread: float = 0.0, *, up: bool = False) -> str:
    """Write an expectation of money in the digits that are sure, as in ``20,800``.

    What must not be told too low is rounded ``up``.

    Two digits of its ``spread`` are kept; where that is not given, three digits of the amount.
    Less than ten keeps its cents.
    """
    size = spread if spread > 0 else abs(amount) / 10
    if abs(amount) < 10 and spread < 1:
        return f"{amount + 0.0:,.2f}"
    step = 10 ** max(0, math.floor(math.log10(max(size, 1.0))) - 1)
    steps = math.ceil(amount / step - 1e-9) if up else round(amount / step)
    return f"{steps * step + 0.0:,.0f}"


def letters(number: int) -> str:
    """Return A, B, ... Z, AA, AB, ... for 1, 2, ... as spreadsheets count columns."""
    found = ""
    while number:
        number, rest = divmod(number - 1, 26)
        found = chr(ord("A") + rest) + found
    return found


def fold_morph(text: str) -> str:
    """Return a morph as keys are compared: case and spacing do not matter."""
    return " ".join(text.split()).casefold()


def parse_period(text: str) -> tuple[date | None, date | None, str]:
    """Read a day, a month (``2022-03``) or a year (``2021``) as its first and last day.

    For a day both are that day; ``None`` twice with a repair where it is none of the three.
    """
    match = re.fullmatch(r"((?:19|20)\d{2})(?:-(\d{1,2}))?", text)
    if not match:
        day, repair = parse_day(text)
        return day, day, repair
    first = _day(int(match[1]), int(match[2] or 1), 1)
    if first is None:
        return None, None, "There is no such month."
    month = first.month if match[2] else 12
    after = date(first.year + month // 12, month % 12 + 1, 1)
    return first, after - timedelta(days=1), ""


def plain_number(value: float) -> str:
    """Write a number without a needless fraction (``1520``, ``2.5``)."""
    return f"{value:.10g}"


def _plain(value: float | None) -> str:
    return plain_number(value) if value is not None else "the number alone"


def _signed(sign: str, value: float | None) -> float | None:
    return -value if sign == "-" and value is not None else value


def _as_thousands(digits: str) -> float | None:
    """Return ``1.520`` or ``1,520`` read as one thousand five hundred and twenty."""
    if re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", digits):
        return float(re.sub(r"[.,]", "", digits))
    return None


def _decimal(digits: str) -> float | None:
    """Read digits whose last mark is the decimal one; other marks and spaces group thousands."""
    digits = re.sub(r"[' \u00a0\u202f]", "", digits)
    last = max(digits.rfind(","), digits.rfind("."))
    if last < 0:
        return _finite(digits)
    whole, mark, fraction = digits[:last], digits[last], digits[last + 1 :]
    grouped = re.fullmatch(r"\d+|\d{1,3}([.,]\d{3})+", whole)
    if mark in whole or not grouped:
        return None
    return _finite(f"{re.sub('[.,]', '', whole)}.{fraction or '0'}")


def _finite(digits: str) -> float | None:
    """Return the number, or ``None`` where it is too large to be one."""
    value = float(digits)
    return value if math.isfinite(value) else None


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _day_repair(text: str) -> str:
    match = _MIXED_DAY.fullmatch(text)
    if match:
        return _mixed_day_repair(match)
    if re.fullmatch(r"\d{5}", text):
        day = _SPREADSHEET_DAY_ZERO + timedelta(days=int(text))
        return f"As a spreadsheet's day number it is {day.isoformat()}: format the cell as a date."
    if re.fullmatch(r"(19|20)\d{2}", text):
        return f"Where only the year is known, write its middle: {text}-07-01."
    if re.fullmatch(r"(19|20)\d{2}-\d{1,2}", text):
        year, month = text.split("-")
        return f"Where only the month is known, write its middle: {year}-{int(month):02d}-15."
    words = " ".join(re.sub(r"[,.\-/]", " ", text).split())
    words = re.sub(r"(\d)(st|nd|rd|th)\b", r"\1", words)
    for form in _NAMED_DAYS:
        try:
            day = datetime.strptime(words, form).date()
        except ValueError:
            continue
        return f"Write {day.isoformat()}."
    return ""


def _mixed_day_repair(match: re.Match[str]) -> str:
    first, mark, second = int(match[1]), match[2], int(match[3])
    year = int(match[4])
    if year < 100:
        year += 1900 if year >= 70 else 2000
    day_first = _day(year, second, first)
    month_first = _day(year, first, second)
    if day_first and month_first and day_first != month_first and mark != ".":
        return (
            f"It may mean {day_first.isoformat()} (day first) or {month_first.isoformat()} "
            "(month first); write the one that is meant."
        )
    known = day_first or month_first
    return f"Write {known.isoformat()}." if known else "There is no such day."
