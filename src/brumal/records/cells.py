"""One row of a table read cell by cell: typed values out, faults gathered on the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from brumal.records.faults import Fault, Severity, Where, nearest
from brumal.records.plain_values import (
    LARGEST_WEIGHT_G,
    parse_day,
    parse_grams,
    parse_number,
    parse_period,
    plain_number,
)
from brumal.records.tables import Row, Table

NOT_KNOWN = frozenset({"-", "--", "?", "??", "n/a", "na", "none", "unknown", "not known"})
LONGEST_QUOTE = 60

EARLIEST_YEAR = 1950


def quote(text: str) -> str:
    """Quote what stands in a file, cut short where it is long."""
    shown = text if len(text) <= LONGEST_QUOTE else f"{text[: LONGEST_QUOTE - 3]}..."
    return f"'{shown}'"


class RowReader:
    """Reads the cells of one row; an empty cell or one that says "unknown" is not known."""

    def __init__(self, table: Table, row: Row, faults: list[Fault]) -> None:
        self.file = table.file
        self.row = row
        self.faults = faults

    def where(self, column: str) -> Where:
        """Return the place of a cell of this row."""
        return Where(file=self.file, row=self.row.number, column=column)

    def fault(
        self,
        column: str,
        expected: str,
        repair: str = "",
        found: str = "",
        severity: Severity = Severity.ERROR,
    ) -> None:
        """Note a fault of a cell; what was found is the cell itself unless said otherwise."""
        self.faults.append(
            Fault(
                where=self.where(column),
                found=found or quote(self.text(column)),
                expected=expected,
                repair=repair,
                severity=severity,
            )
        )

    def text(self, column: str) -> str:
        """Return a cell as written."""
        return self.row.cells.get(column, "")

    def known(self, column: str) -> str:
        """Return a cell, or nothing where it says that the thing is not known."""
        text = self.text(column)
        return "" if text.casefold() in NOT_KNOWN else text

    def required(self, column: str, expected: str) -> str:
        """Return a cell that must be filled."""
        text = self.known(column)
        if not text:
            self.fault(
                column,
                expected,
                found=quote(self.text(column)) if self.text(column) else "an empty cell",
            )
        return text

    def day(self, column: str, not_known: str = "") -> date | None:
        """Return a date."""
        text = self.known(column)
        if not text:
            return None
        day, repair = parse_day(text)
        if day is None:
            partly = parse_period(text)[0] is not None
            repair = not_known if not_known and partly else repair
            self.fault(column, "a date as year-month-day, such as 2026-12-01", repair)
        elif day.year < EARLIEST_YEAR:
            self.fault(column, f"a date after {EARLIEST_YEAR}")
            return None
        return day

    def period(self, column: str) -> tuple[date | None, date | None]:
        """Return the first and last day of a day, month or year."""
        text = self.known(column)
        if not text:
            return None, None
        first, last, repair = parse_period(text)
        if first is None:
            self.fault(
                column,
                "a date as year-month-day, such as 2026-12-01; 2026-12 or 2026 where no more is "
                "known",
                repair,
            )
        elif first.year < EARLIEST_YEAR:
            self.fault(column, f"a date after {EARLIEST_YEAR}")
            return None, None
        return first, last

    def latest(self, column: str, bounds: Sequence[date] = ()) -> tuple[date | None, date | None]:
        """Return the last day that a day, month or year can mean, and the first if it is another.

        ``bounds`` are days past which it cannot lie where it began by then, the earliest
        counts: what is said of a whole year was so by the day that it is said on.
        """
        first, last = self.period(column)
        if first is None or first == last:
            return last, None
        self.fault(
            column,
            "the day, where it is known",
            "Counted as the last day that it can have been.",
            severity=Severity.NOTICE,
        )
        assert last is not None
        return min((bound for bound in bounds if first <= bound < last), default=last), first

    def grams(self, column: str, smallest: float) -> float | None:
        """Return a weight in grams; one below ``smallest`` or beyond any python is a fault."""
        text = self.known(column)
        if not text:
            return None
        value, repair = parse_grams(text)
        if value is None:
            self.fault(column, "grams as a plain number, such as 1520", repair)
            return None
        if value < smallest:
            in_kilograms = plain_number(value * 1000)
            self.fault(
                column,
                f"a weight of {plain_number(smallest)} g or more",
                f"If that is kilograms, write {in_kilograms}." if value > 0 else "",
            )
            return None
        if value > LARGEST_WEIGHT_G:
            likely = value / 10
            self.fault(
                column,
                f"a weight of {plain_number(LARGEST_WEIGHT_G)} g or less",
                f"Was {plain_number(likely)} g meant?" if likely <= LARGEST_WEIGHT_G else "",
            )
            return None
        return value

    def number(self, column: str, least: float, most: float | None = None) -> float | None:
        """Return a number from ``least`` to ``most``."""
        text = self.known(column)
        if not text:
            return None
        value, repair = parse_number(text)
        expected = f"a number of {plain_number(least)} or more"
        if most is not None:
            expected = f"a number from {plain_number(least)} to {plain_number(most)}"
        if value is None or value < least or (most is not None and value > most):
            self.fault(column, expected, repair)
            return None
        return value

    def whole(self, column: str) -> int | None:
        """Return a whole number of zero or more."""
        text = self.known(column)
        if not text:
            return None
        value, repair = parse_number(text)
        if value is None or value < 0 or value != int(value):
            self.fault(column, "a whole number of 0 or more", repair)
            return None
        return int(value)

    def word(self, column: str, spellings: Mapping[str, str], expected: str) -> str:
        """Return the word that the cell's spelling stands for; nothing for an empty cell."""
        text = self.known(column).casefold()
        if not text:
            return ""
        if text in spellings:
            return spellings[text]
        close = nearest(text, spellings.values(), count=1, cutoff=0.5)
        self.fault(column, expected, f"Did you mean {quote(close[0])}?" if close else "")
        return ""
