"""The clutches table: one row a clutch of an earlier season, with what hatched from it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from brumal.records.animal_table import MOST_EGGS, Herd
from brumal.records.animals import Clutch, Sex
from brumal.records.cells import RowReader, quote
from brumal.records.faults import Fault, Severity, Where
from brumal.records.settings import SeasonDates
from brumal.records.tables import Table, TableShape

CLUTCHES = TableShape(
    stem="clutches",
    columns=("dam", "sire", "laid", "eggs", "slugs", "hatched", "morphs", "trouble", "note"),
    required=("dam", "laid", "eggs"),
)

BETWEEN_CLUTCHES = timedelta(days=150)
"""Common practice, no source: a female lays at most once a season."""

_COUNTED = re.compile(r"(\d+)\s*(?:[x×]\s*|\s)(\S.*)", re.IGNORECASE)
_COUNT_LAST = re.compile(r"(.*\S)\s*[x×]\s*(\d+)", re.IGNORECASE)

_SEXED = re.compile(r"(\d{1,3})\.(\d{1,3})(?:\.(\d{1,3}))?\s*(?:[x×]\s*|\s)(\S.*)", re.IGNORECASE)
_OF_SEX = re.compile(r"(male|female)s?\b(?![\s-]*maker)[\s:]*(\S.*)", re.IGNORECASE)

Young = tuple[tuple[int, str, Sex | None], ...]


def read_clutches(
    table: Table, before: date | None = None, by: date | None = None
) -> tuple[tuple[Clutch, ...], list[Fault]]:
    """Turn the rows of the clutches table into records, in the order of the table.

    A month or year of laying is counted as in :func:`brumal.records.animal_table.read_animals`.
    """
    faults: list[Fault] = []
    bounds = [day for day in (before, by) if day is not None]
    clutches = []
    for row in table.rows:
        reader = RowReader(table, row, faults)
        laid, first = reader.latest("laid", bounds)
        clutch = Clutch(
            dam=reader.required("dam", "the id of the dam"),
            sire=reader.known("sire") or None,
            laid=laid,
            laid_from=first,
            eggs=reader.whole("eggs"),
            slugs=reader.whole("slugs"),
            hatched=reader.whole("hatched"),
            young=parse_young(reader.known("morphs")),
            trouble=reader.known("trouble"),
            note=reader.text("note"),
            row=row.number,
        )
        _check_counts(reader, clutch)
        if clutch.dam:
            clutches.append(clutch)
    return tuple(clutches), faults


def parse_young(text: str) -> Young:
    """Read ``2 Clown; 3 Normal`` as (count, trade notation, sex), the sex ``None`` if not told.

    A part without a count is one hatchling; ``2x Clown`` and ``Clown x2`` are understood. So are
    ``3 male Banana`` and the keepers' ``1.2 Banana``: males, females and, after another full stop,
    young not sexed.
    """
    young: list[tuple[int, str, Sex | None]] = []
    for part in re.split(r"[;,|]", text):
        words = part.strip()
        if not words:
            continue
        if match := _SEXED.fullmatch(words):
            counts = (int(match[1]), int(match[2]), int(match[3] or 0))
            sexes = (Sex.MALE, Sex.FEMALE, None)
            told = [(n, match[4].strip(), sex) for n, sex in zip(counts, sexes, strict=True) if n]
            # None of a kind, "0.0 Clown", is told like a count of none.
            young += told or [(0, match[4].strip(), None)]
        elif match := _COUNTED.fullmatch(words):
            young.append((int(match[1]), *_of_sex(match[2])))
        elif match := _COUNT_LAST.fullmatch(words):
            young.append((int(match[2]), *_of_sex(match[1])))
        else:
            young.append((1, *_of_sex(words)))
    return tuple(young)


def _of_sex(words: str) -> tuple[str, Sex | None]:
    """Take the sex off the front: ``male Banana``, but not ``male maker Banana``."""
    match = _OF_SEX.fullmatch(words.strip())
    if match is None:
        return words.strip(), None
    return match[2].strip(), Sex(match[1].lower())


def _check_counts(reader: RowReader, clutch: Clutch) -> None:
    eggs, slugs, hatched = clutch.eggs, clutch.slugs or 0, clutch.hatched
    if eggs is not None:
        if slugs > eggs:
            reader.fault("slugs", f"at most the {eggs} eggs of the clutch, slugs being among them")
        elif hatched is not None and hatched > eggs - slugs:
            reader.fault("hatched", f"at most {eggs - slugs}: {eggs} eggs less {slugs} slugs")
        if eggs > MOST_EGGS:
            reader.fault(
                "eggs",
                f"at most {MOST_EGGS} eggs in one clutch",
                "13 is exceptional; check the number.",
                severity=Severity.WARNING,
            )
    counted = sum(count for count, _, _ in clutch.young)
    if hatched is not None and counted > hatched:
        reader.fault("morphs", f"at most the {hatched} that hatched, not {counted}")
    if hatched is not None and 0 < counted < hatched:
        reader.fault(
            "morphs",
            f"the morph of each of the {hatched} that hatched",
            f"{hatched - counted} are not told; normals count as evidence too.",
            severity=Severity.WARNING,
        )


def check_clutches(
    clutches: Sequence[Clutch], file: str, herd: Herd, season: SeasonDates | None
) -> list[Fault]:
    """Check clutches against the animals, the season and each other."""
    faults = [*_parents(clutches, file, herd), *_twice_in_a_season(clutches, file)]
    for clutch in clutches:
        dam = herd.by_id.get(clutch.dam)
        expected = ""
        if clutch.laid is None:
            continue
        if dam and dam.hatched_first and clutch.laid <= dam.hatched_first:
            expected = f"a date after its dam hatched ({dam.hatched_written})"
        elif season is not None and clutch.laid > season.last_day:
            expected = season.not_after
        if expected:
            faults.append(
                Fault(
                    where=Where(file=file, row=clutch.row, column="laid"),
                    found=quote(clutch.laid.isoformat()),
                    expected=expected,
                    repair="Is it the right year?",
                )
            )
    return faults


def _parents(clutches: Sequence[Clutch], file: str, herd: Herd) -> list[Fault]:
    faults = []
    outside: set[str] = set()
    for clutch in clutches:
        for column, parent, wrong in (
            ("dam", clutch.dam, Sex.MALE),
            ("sire", clutch.sire, Sex.FEMALE),
        ):
            if parent is None:
                continue
            where = Where(file=file, row=clutch.row, column=column)
            animal = herd.by_id.get(parent)
            close = None if animal else herd.known.nearest(parent)
            close = close if close is not None and herd.may_be(close, column) else None
            if animal and animal.sex is wrong:
                faults.append(
                    Fault(
                        where=where,
                        found=f"{quote(parent)}, a {wrong.value}",
                        expected="a female" if wrong is Sex.MALE else "a male",
                        repair="Are dam and sire swapped?",
                    )
                )
            elif close is not None:
                faults.append(
                    Fault(
                        where=where,
                        found=quote(parent),
                        expected="an id of the animals table",
                        repair=f"Did you mean {quote(close)}?",
                        severity=Severity.WARNING,
                    )
                )
            elif animal is None:
                outside.add(parent)
    if outside:
        faults.append(
            Fault(
                where=Where(file=file),
                found=f"parents without a row: {', '.join(sorted(outside))}",
                expected="ids of the animals table",
                repair="They are taken as animals outside the collection.",
                severity=Severity.NOTICE,
            )
        )
    return faults


def _twice_in_a_season(clutches: Sequence[Clutch], file: str) -> list[Fault]:
    faults = []
    ordered = sorted(
        ((c.dam, c.laid, c) for c in clutches if c.laid is not None),
        key=lambda entry: (entry[0], entry[1], entry[2].row),
    )
    for (dam, day, first), (next_dam, next_day, second) in pairwise(ordered):
        if dam == next_dam and next_day - day < BETWEEN_CLUTCHES:
            faults.append(
                Fault(
                    where=Where(file=file, row=second.row, column="laid"),
                    found=f"a second clutch of {quote(dam)} within {(next_day - day).days} days",
                    expected="one clutch a season",
                    repair=f"The other one stands in row {first.row}.",
                    severity=Severity.WARNING,
                )
            )
    return faults
