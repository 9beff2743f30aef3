"""Types of figures that settings share: their ranges, and what is refused."""

from __future__ import annotations

import re
from typing import Annotated, Literal, TypeVar, get_args

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field, StringConstraints

STRICT = ConfigDict(extra="forbid")

Share = Annotated[float, Field(ge=0, le=1)]
Cost = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
Price = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
Label = Annotated[int, Field(ge=1, le=100)]
Count = Annotated[int, Field(ge=0, le=10_000)]
Whole = Annotated[int, Field(ge=1, le=1_000)]
Wanting = Annotated[int, Field(ge=0, le=1_000)]
Days = Annotated[int, Field(ge=0, le=1_000)]
Eggs = Annotated[float, Field(gt=0, le=20, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False)]
IdPair = tuple[str, str]
Portion = Annotated[float, Field(ge=0, lt=1)]
DayOfYear = Annotated[str, StringConstraints(pattern=r"^(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$")]
DayName = Literal["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
WEEKDAYS: tuple[DayName, ...] = get_args(DayName)
Reason = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]

Number = TypeVar("Number", int, float)


def _weekday(found: object) -> object:
    """Read a weekday written short: ``sat`` is Saturday."""
    if not isinstance(found, str) or len(found) < 2:
        return found
    fits = [day for day in WEEKDAYS if day.startswith(found.strip().capitalize())]
    return fits[0] if len(fits) == 1 else found


def _off(found: object) -> object:
    """Read the word as a file holds it."""
    return False if isinstance(found, str) and found.strip().lower() == "false" else found


Off = Annotated[Literal[False], BeforeValidator(_off)]
Weekday = Annotated[DayName, BeforeValidator(_weekday)]


def _in_order(ends: tuple[Number, Number]) -> tuple[Number, Number]:
    if ends[0] > ends[1]:
        raise ValueError("the first number must not be larger than the second")
    return ends


DayRange = Annotated[tuple[Days, Days], AfterValidator(_in_order)]
ScoreRange = Annotated[tuple[float, float], AfterValidator(_in_order)]


def _chance(found: object) -> object:
    """Read a percentage as notation does: ``66%`` is 2/3."""
    if isinstance(found, str) and (match := _PERCENT.fullmatch(found)):
        exact = {"66": 2 / 3, "33": 1 / 3}
        return exact.get(match[1], float(match[1].replace(",", ".")) / 100)
    return found


_PERCENT = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*%\s*")
Chance = Annotated[float, BeforeValidator(_chance), Field(gt=0, lt=1)]
