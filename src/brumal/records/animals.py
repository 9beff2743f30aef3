"""The records of a collection: animals, weighings, clutches."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Sex(StrEnum):
    """Sex of an animal."""

    FEMALE = "female"
    MALE = "male"


class Status(StrEnum):
    """What an animal is to the keeper this season."""

    BREEDER = "breeder"
    HOLDBACK = "holdback"
    RETIRED = "retired"
    LOAN = "loan"
    OUTSIDE = "outside"
    SOLD = "sold"
    DIED = "died"
    UNCLEAR = "unclear"


GONE = (Status.OUTSIDE, Status.SOLD, Status.DIED)
"""Animals that are not in the collection."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Animal:
    """One row of the animals table; ``None`` means not known.

    Weights are grams, ``condition`` is body condition from 1 (thin) to 5 (obese), ``morph`` is the
    trade notation as written, ``row`` the row of the table it stands in (0 when made in code).
    ``arrived`` is the day the animal last came into the collection, ``vet_cleared`` the day a vet
    cleared her for breeding after trouble at laying. ``blank`` names the columns that the table has
    and this row leaves empty: what stands there is not known, whatever the field's default. Where
    only the year or month of hatching is known, ``hatched`` is its last day, so that no animal
    counts as older than it is for certain, and ``hatched_from`` its first; so are ``last_laid`` and
    ``arrived`` the last day that it can have been, and the same with ``_from`` the first.
    """

    id: str
    name: str = ""
    sex: Sex | None = None
    hatched: date | None = None
    hatched_from: date | None = None
    dam: str | None = None
    sire: str | None = None
    morph: str = "Normal"
    weight_g: float | None = None
    weighed: date | None = None
    condition: float | None = None
    status: Status = Status.BREEDER
    last_laid: date | None = None
    last_laid_from: date | None = None
    max_pairings: int | None = None
    expected_eggs: float | None = None
    arrived: date | None = None
    arrived_from: date | None = None
    vet_cleared: date | None = None
    notes: str = ""
    row: int = 0
    blank: frozenset[str] = frozenset()

    @property
    def hatched_first(self) -> date | None:
        """Return the first day on which it can have hatched."""
        return self.hatched_from or self.hatched

    @property
    def hatched_written(self) -> str:
        """Return when it hatched as exactly as it is known: ``2021``, ``2022-03`` or the day."""
        if self.hatched is None:
            return ""
        if self.hatched_from is None:
            return self.hatched.isoformat()
        whole_year = self.hatched_from.month != self.hatched.month
        return self.hatched.isoformat()[: 4 if whole_year else 7]

    @property
    def look(self) -> str:
        """Return the morph as reports show it: one that is left empty is not called Normal."""
        return "morph not recorded" if "morph" in self.blank else self.morph

    @property
    def label(self) -> str:
        """Return the name with the id, as reports show it."""
        return f"{self.name} ({self.id})" if self.name and self.name != self.id else self.id


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """One row of the weights table, in grams."""

    animal: str
    date: date
    grams: float
    note: str = ""
    row: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clutch:
    """One row of the clutches table.

    ``young`` holds what hatched as written: (count, trade notation, sex if told). ``eggs`` counts
    all eggs laid, slugs included; 0 says that she was paired and did not lay. ``trouble`` is what
    went wrong at laying (egg binding, straining, prolapse), empty when nothing did. Where only the
    month or year of laying is known, ``laid`` is the last day that it can have been, ``laid_from``
    the first.
    """

    dam: str
    sire: str | None = None
    laid: date | None = None
    laid_from: date | None = None
    eggs: int | None = None
    slugs: int | None = None
    hatched: int | None = None
    young: tuple[tuple[int, str, Sex | None], ...] = ()
    trouble: str = ""
    note: str = ""
    row: int = 0


class EventKind(StrEnum):
    """What happened; ``WITHDRAWN`` takes the entry with the same id back."""

    VISIT = "visit"
    LOCK = "lock"
    REFUSAL = "refusal"
    FOLLICLES = "follicles"
    OVULATION = "ovulation"
    SHED = "shed"
    LAID = "laid"
    CANDLED = "candled"
    HATCHED = "hatched"
    ILL = "ill"
    CLEARED = "cleared"
    TESTED = "tested"
    ARRIVED = "arrived"
    SOLD = "sold"
    DIED = "died"
    WITHDRAWN = "withdrawn"


class Result(StrEnum):
    """What a test showed."""

    NEGATIVE = "negative"
    POSITIVE = "positive"
    UNCLEAR = "unclear"


ILLNESS, LAYING, WASTING = "illness", "laying", "wasting"
ABOUT = (ILLNESS, LAYING, WASTING)
"""What an event may be about, beside a genotype in trade notation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One row of the events table; ``None`` and empty text mean not known.

    ``mate`` is the other animal of a visit, lock or refusal. ``count`` is of follicles, of all eggs
    laid (``slugs`` of them), of eggs still good or of live young, ``mm`` the size of the largest
    follicle, ``young`` what hatched as in a clutch. ``about`` is one of :data:`ABOUT` or a genotype
    as written. ``id`` names the entry, so that a later row can take it back.
    """

    kind: EventKind
    date: date
    animal: str
    mate: str | None = None
    count: int | None = None
    slugs: int | None = None
    mm: float | None = None
    young: tuple[tuple[int, str, Sex | None], ...] = ()
    result: Result | None = None
    about: str = ""
    id: str = ""
    note: str = ""
    row: int = 0
