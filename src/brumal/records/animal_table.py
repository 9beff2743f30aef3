"""The animals table: one row an animal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from brumal.records.animals import Animal, Sex, Status
from brumal.records.cells import RowReader, quote
from brumal.records.faults import Fault, Severity, Where
from brumal.records.known_ids import KnownIds, fold
from brumal.records.settings import SeasonDates
from brumal.records.tables import Row, Table, TableShape

ANIMALS = TableShape(
    stem="animals",
    columns=(
        "id",
        "name",
        "sex",
        "hatched",
        "dam",
        "sire",
        "morph",
        "weight_g",
        "weighed",
        "condition",
        "status",
        "last_laid",
        "max_pairings",
        "expected_eggs",
        "arrived",
        "vet_cleared",
        "notes",
    ),
    required=("id", "sex", "morph"),
)

DATED = ("weighed", "last_laid", "arrived", "vet_cleared")
"""Columns of things that happened to the animal after it hatched."""

SMALLEST_WEIGHT_G = 15.0
"""Below the lightest hatchling measured (25 g, Gorzula, Nsiah & Oduro 1997), with room."""

HEAVIEST_USUAL_G = 5000.0
"""Common practice, no source: heavier than this is more likely a slip of the pen."""

MOST_EGGS = 20
"""Above the largest clutch counted (15 eggs, Gorzula, Nsiah & Oduro 1997), with room."""

SEX_WORDS = {
    **dict.fromkeys(("female", "f", "fem", "♀", "0.1", "0,1"), "female"),
    **dict.fromkeys(("male", "m", "♂", "1.0", "1,0"), "male"),
    **dict.fromkeys(("u", "unsexed", "0.0.1", "0,0,1"), ""),
}
ASKED_BY_RULES = ("hatched", "morph", "condition", "status", "arrived")
"""Columns that rules ask for: an empty cell is not known, whatever is taken elsewhere."""

_WEIGHED = "Leave it empty where the day is not known: the weight then is of unknown age."
_CLEARED = "A clearance counts from its day, which stands on the vet's paper."
STATUS_WORDS = {status.value: status.value for status in Status}


def read_animals(
    table: Table, before: date | None = None, by: date | None = None
) -> tuple[tuple[Animal, ...], list[Fault]]:
    """Turn the rows of the animals table into records, in the order of the table.

    A month or year without a day is counted as its last day, no later than the day it is seen from
    (``by``), and a laying as one of before the season (``before`` its first day) if it can be.
    """
    faults: list[Fault] = []
    bounds = [day for day in (before, by) if day is not None]
    animals = [_animal(RowReader(table, row, faults), row, bounds) for row in table.rows]
    return tuple(animal for animal in animals if animal.id), faults


def _animal(reader: RowReader, row: Row, bounds: Sequence[date]) -> Animal:
    sex = reader.word("sex", SEX_WORDS, "female or male (empty when not known)")
    status = reader.word("status", STATUS_WORDS, f"one of {', '.join(STATUS_WORDS)}")
    first, last = reader.period("hatched")
    laid = reader.latest("last_laid", bounds)
    arrived = reader.latest("arrived", bounds[-1:])
    animal = Animal(
        id=reader.required("id", "the animal's id"),
        name=reader.text("name"),
        sex=Sex(sex) if sex else None,
        hatched=last,
        hatched_from=first if first != last else None,
        dam=reader.known("dam") or None,
        sire=reader.known("sire") or None,
        morph=reader.known("morph") or "Normal",
        weight_g=reader.grams("weight_g", SMALLEST_WEIGHT_G),
        weighed=reader.day("weighed", _WEIGHED),
        condition=reader.number("condition", 1, 5),
        status=Status(status) if status else Status.BREEDER,
        last_laid=laid[0],
        last_laid_from=laid[1],
        max_pairings=reader.whole("max_pairings"),
        expected_eggs=reader.number("expected_eggs", 0, MOST_EGGS),
        arrived=arrived[0],
        arrived_from=arrived[1],
        vet_cleared=reader.day("vet_cleared", _CLEARED),
        notes=reader.text("notes"),
        row=row.number,
        blank=frozenset(
            column for column in ASKED_BY_RULES if column in row.cells and not reader.known(column)
        ),
    )
    _check_row(reader, animal)
    return animal


def _check_row(reader: RowReader, animal: Animal) -> None:
    """Check what one row alone can tell."""
    for column in ("dam", "sire"):
        if animal.id and getattr(animal, column) == animal.id:
            reader.fault(column, "another animal: no animal is its own parent")
    if animal.dam and animal.dam == animal.sire:
        reader.fault("sire", f"an animal other than the dam {quote(animal.dam)}")
    if animal.hatched_first is not None:
        for column in DATED:
            day = getattr(animal, column)
            if day is not None and day < animal.hatched_first:
                reader.fault(column, f"a date after it hatched ({animal.hatched_written})")
    if animal.last_laid is not None and animal.sex is Sex.MALE:
        reader.fault("last_laid", "nothing: a male lays no eggs")
    if animal.weight_g is not None and animal.weight_g > HEAVIEST_USUAL_G:
        reader.fault(
            "weight_g",
            f"a weight of at most {HEAVIEST_USUAL_G:.0f} g",
            f"Was {animal.weight_g / 10:.0f} g meant?",
            severity=Severity.WARNING,
        )
    if animal.weight_g is not None and animal.weighed is None:
        reader.fault(
            "weighed",
            "the day of the weight in this row",
            "Without it the weight is of unknown age.",
            found="an empty cell",
            severity=Severity.NOTICE,
        )


@dataclass(frozen=True, slots=True)
class Herd:
    """The animals with the file they stand in, for checks across rows and tables."""

    file: str
    animals: tuple[Animal, ...]
    known: KnownIds
    by_id: Mapping[str, Animal]

    def may_be(self, name: str, role: str) -> bool:
        """Say whether an animal's sex allows it to be a ``dam`` or a ``sire``."""
        wrong = Sex.MALE if role == "dam" else Sex.FEMALE
        return name not in self.by_id or self.by_id[name].sex is not wrong


def herd_of(animals: Sequence[Animal], file: str) -> Herd:
    """Gather the animals of a table for checks."""
    by_id = {animal.id: animal for animal in reversed(animals)}
    return Herd(file, tuple(animals), KnownIds(animal.id for animal in animals), by_id)


def check_herd(herd: Herd, season: SeasonDates | None) -> list[Fault]:
    """Check animals against each other and against the season."""
    faults = [*_doubles(herd), *_parents(herd)]
    if season is not None:
        faults.extend(_future(herd, season))
    return faults


def _doubles(herd: Herd) -> list[Fault]:
    faults = []
    first_rows: dict[str, Animal] = {}
    alike: dict[str, Animal] = {}
    for animal in herd.animals:
        where = Where(file=herd.file, row=animal.row, column="id")
        earlier = first_rows.setdefault(animal.id, animal)
        twin = alike.setdefault(fold(animal.id) or animal.id, animal)
        if earlier is not animal:
            faults.append(
                Fault(
                    where=where,
                    found=f"{quote(animal.id)} again (first in row {earlier.row})",
                    expected="each id once",
                    repair="Give one of the two another id, or remove the row that is twice there.",
                )
            )
        elif twin is not animal:
            faults.append(
                Fault(
                    where=where,
                    found=quote(animal.id),
                    expected="ids that differ in more than case, spaces or hyphens",
                    repair=f"Is it the same animal as {quote(twin.id)} in row {twin.row}?",
                    severity=Severity.WARNING,
                )
            )
    return faults


def _parents(herd: Herd) -> list[Fault]:
    """Tell near misses of known ids one by one, ancestors outside the table all at once."""
    faults = []
    outside: dict[str, None] = {}
    for animal in herd.animals:
        for column in ("dam", "sire"):
            parent: str | None = getattr(animal, column)
            if parent is None or parent in herd.known:
                continue
            named = [each for each in herd.animals if each.name.casefold() == parent.casefold()]
            if len(named) > 1:
                faults.append(
                    Fault(
                        where=Where(file=herd.file, row=animal.row, column=column),
                        found=f"{quote(parent)}, the name of {len(named)} animals",
                        expected="the id of the parent",
                        repair=f"Did you mean {' or '.join(quote(each.id) for each in named)}?",
                    )
                )
                continue
            close = herd.known.nearest(parent)
            if close is None or close == animal.id or not herd.may_be(close, column):
                outside[parent] = None
                continue
            faults.append(
                Fault(
                    where=Where(file=herd.file, row=animal.row, column=column),
                    found=quote(parent),
                    expected="an id of this table, or an ancestor outside it",
                    repair=f"Did you mean {quote(close)}?",
                    severity=Severity.WARNING,
                )
            )
    if outside:
        faults.append(
            Fault(
                where=Where(file=herd.file),
                found=f"parents without a row of their own: {', '.join(sorted(outside))}",
                expected="a row for each parent whose own parents are known",
                repair="They are taken as unrelated founders of unknown genes.",
                severity=Severity.NOTICE,
            )
        )
    return faults


def _future(herd: Herd, season: SeasonDates) -> list[Fault]:
    return [
        Fault(
            where=Where(file=herd.file, row=animal.row, column=column.removesuffix("_first")),
            found=quote(day.isoformat()),
            expected=season.not_after,
            repair="Is it the right year?",
        )
        for animal in herd.animals
        for column in ("hatched_first", *DATED)
        if (day := getattr(animal, column)) is not None and day > season.last_day
    ]
