"""The weights table: one row a weighing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import timedelta
from itertools import groupby, pairwise

from brumal.records.animal_table import SMALLEST_WEIGHT_G, Herd
from brumal.records.animals import Weighing
from brumal.records.cells import RowReader, quote
from brumal.records.faults import Fault, Severity, Where
from brumal.records.settings import SeasonDates
from brumal.records.tables import Table, TableShape

WEIGHTS = TableShape(
    stem="weights",
    columns=("animal", "date", "grams", "note"),
    required=("animal", "date", "grams"),
)

SCALE_SLIP = 6.0
"""No python gains or loses sixfold between two weighings of one season."""

NEAR_IN_TIME = timedelta(days=120)
FEW = 2
_NO_DAY = "A gain is told by days: leave the row out where the day is not known."


def read_weights(table: Table) -> tuple[tuple[Weighing, ...], list[Fault]]:
    """Turn the rows of the weights table into records, in the order of the table."""
    faults: list[Fault] = []
    weighings = []
    for row in table.rows:
        reader = RowReader(table, row, faults)
        animal = reader.required("animal", "the id of the animal weighed")
        reader.required("date", "the day of the weighing")
        reader.required("grams", "the weight in grams")
        day = reader.day("date", _NO_DAY)
        grams = reader.grams("grams", SMALLEST_WEIGHT_G)
        if animal and day is not None and grams is not None:
            weighings.append(
                Weighing(
                    animal=animal, date=day, grams=grams, note=reader.text("note"), row=row.number
                )
            )
    return tuple(weighings), faults


def check_weights(
    weighings: Sequence[Weighing], file: str, herd: Herd, season: SeasonDates | None
) -> list[Fault]:
    """Check weighings against the animals, the season and each other."""
    return [
        *_unknown_animals(weighings, file, herd),
        *_dates(weighings, file, herd, season),
        *_series(weighings, file),
        *_beside_the_row(weighings, file, herd),
    ]


def _unknown_animals(weighings: Sequence[Weighing], file: str, herd: Herd) -> list[Fault]:
    faults = []
    first_seen = {w.animal: w for w in reversed(weighings) if w.animal not in herd.known}
    strangers = []
    for animal, weighing in sorted(first_seen.items()):
        close = herd.known.nearest(animal)
        if close is None:
            strangers.append(animal)
            continue
        faults.append(
            Fault(
                where=Where(file=file, row=weighing.row, column="animal"),
                found=quote(animal),
                expected="an id of the animals table",
                repair=f"Did you mean {quote(close)}? Until then its weighings are not used.",
                severity=Severity.WARNING,
            )
        )
    if strangers:
        faults.append(
            Fault(
                where=Where(file=file),
                found=f"weighings of animals without a row: {', '.join(strangers)}",
                expected="ids of the animals table",
                repair="They are not used.",
                severity=Severity.NOTICE,
            )
        )
    return faults


def _dates(
    weighings: Sequence[Weighing], file: str, herd: Herd, season: SeasonDates | None
) -> list[Fault]:
    faults = []
    for weighing in weighings:
        animal = herd.by_id.get(weighing.animal)
        expected = ""
        if animal and animal.hatched_first and weighing.date < animal.hatched_first:
            expected = f"a date after {animal.label} hatched ({animal.hatched_written})"
        elif season is not None and weighing.date > season.last_day:
            expected = season.not_after
        if expected:
            faults.append(
                Fault(
                    where=Where(file=file, row=weighing.row, column="date"),
                    found=quote(weighing.date.isoformat()),
                    expected=expected,
                    repair="Is it the right year?",
                )
            )
    return faults


def _beside_the_row(weighings: Sequence[Weighing], file: str, herd: Herd) -> list[Fault]:
    """Warn of a weight far from the one that the animals table gives for about the same time.

    Only where too few weighings stand side by side for one to tell on the other.
    """
    faults = []
    counts = Counter(weighing.animal for weighing in weighings)
    for weighing in weighings:
        animal = herd.by_id.get(weighing.animal)
        if (
            counts[weighing.animal] > FEW
            or animal is None
            or animal.weight_g is None
            or animal.weighed is None
        ):
            continue
        apart = max(weighing.grams, animal.weight_g) >= SCALE_SLIP * min(
            weighing.grams, animal.weight_g
        )
        if apart and abs(weighing.date - animal.weighed) <= NEAR_IN_TIME:
            faults.append(
                Fault(
                    where=Where(file=file, row=weighing.row, column="grams"),
                    found=f"{weighing.grams:.0f} g near {animal.weight_g:.0f} g in {herd.file}, "
                    f"row {animal.row}",
                    expected="a weight like the one there",
                    repair="Correct the one that is wrong.",
                    severity=Severity.WARNING,
                )
            )
    return faults


def _series(weighings: Sequence[Weighing], file: str) -> list[Fault]:
    faults = []
    ordered = sorted(weighings, key=lambda w: (w.animal, w.date, w.row))
    for _, group in groupby(ordered, key=lambda w: w.animal):
        series = list(group)
        faults.extend(_same_day(series, file))
        faults.extend(_scale_slips(series, file))
    return faults


def _same_day(series: Sequence[Weighing], file: str) -> list[Fault]:
    return [
        Fault(
            where=Where(file=file, row=later.row, column="date"),
            found=f"a second weighing of {quote(later.animal)} on {later.date.isoformat()}",
            expected="one weighing a day",
            repair=f"Row {earlier.row} says {earlier.grams:.0f} g, this one {later.grams:.0f} g.",
            severity=Severity.WARNING,
        )
        for earlier, later in pairwise(series)
        if earlier.date == later.date
    ]


def _scale_slips(series: Sequence[Weighing], file: str) -> list[Fault]:
    """Warn of a weight that its two nearest neighbours put out by a factor of about ten."""
    faults = []
    for place, weighing in enumerate(series):
        near = _neighbours(series, place)
        too_much = bool(near) and all(weighing.grams >= SCALE_SLIP * grams for grams in near)
        too_little = bool(near) and all(weighing.grams * SCALE_SLIP <= grams for grams in near)
        if not (too_much or too_little):
            continue
        likely = weighing.grams / 10 if too_much else weighing.grams * 10
        faults.append(
            Fault(
                where=Where(file=file, row=weighing.row, column="grams"),
                found=f"{weighing.grams:.0f} g near {' and '.join(f'{g:.0f} g' for g in near)}",
                expected="a weight like those around it",
                repair=f"Is it {likely:.0f} g?",
                severity=Severity.WARNING,
            )
        )
    return faults


def _neighbours(series: Sequence[Weighing], place: int) -> list[float]:
    """Return the two weights nearest in the series and in time; one is enough for the last."""
    around = sorted(
        (abs(other - place), other)
        for other in range(max(0, place - 2), place + 3)
        if other != place
    )
    near = [
        series[other].grams
        for _, other in around
        if other < len(series) and abs(series[other].date - series[place].date) <= NEAR_IN_TIME
    ][:2]
    return near if len(near) == 2 or place == len(series) - 1 else []
