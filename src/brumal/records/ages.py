"""Ages in calendar months."""

from __future__ import annotations

import calendar
import math
from datetime import date, timedelta

MEAN_MONTH_DAYS = 30.4375


def day_of_age(hatched: date, months: float) -> date:
    """Return the day on which an animal is ``months`` old; parts of a month count in days."""
    whole = math.floor(months)
    year, month = divmod(hatched.year * 12 + hatched.month - 1 + whole, 12)
    last = calendar.monthrange(year, month + 1)[1]
    day = date(year, month + 1, min(hatched.day, last))
    return day + timedelta(days=round((months - whole) * MEAN_MONTH_DAYS))


def months_old(hatched: date, on: date) -> int:
    """Return the full months between two days."""
    months = (on.year - hatched.year) * 12 + on.month - hatched.month
    return months if day_of_age(hatched, months) <= on else months - 1
