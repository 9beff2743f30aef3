"""The weights table: weighings, and the slips of scales and pens."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.records.animals import Weighing
from brumal.records.faults import Severity
from brumal.records.read import read_season
from season_folders import faults_in, season_folder, told


def weights(*rows: str) -> str:
    return "\n".join(("animal,date,grams,note", *rows)) + "\n"


def test_rows_become_weighings(tmp_path: Path) -> None:
    folder = season_folder(
        tmp_path, weights=weights("F01,2026-10-01,1800,before a meal", "F01,2026-11-01,1.82 kg,")
    )
    records, faults = read_season(folder)
    assert faults == ()
    assert records is not None
    assert records.weighings == (
        Weighing(animal="F01", date=date(2026, 10, 1), grams=1800, note="before a meal", row=2),
        Weighing(animal="F01", date=date(2026, 11, 1), grams=1820, row=3),
    )


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            ",2026-10-01,1800,",
            "weights.csv, row 2, animal: found an empty cell; expected the id of the animal "
            "weighed",
        ),
        (
            "F01,,1800,",
            "weights.csv, row 2, date: found an empty cell; expected the day of the weighing",
        ),
        (
            "F01,2026-10-01,?,",
            "weights.csv, row 2, grams: found '?'; expected the weight in grams",
        ),
        (
            "F01,2019-10-01,1800,",
            "weights.csv, row 2, date: found '2019-10-01'; expected a date after Frost (F01) "
            "hatched (2021-06-10). Is it the right year?",
        ),
        (
            "F01,2027-10-01,1800,",
            "weights.csv, row 2, date: found '2027-10-01'; expected a date not after the season's "
            "pair_to (2027-03-31). Is it the right year?",
        ),
        (
            "F01,2026-10-01,1.8,",
            "weights.csv, row 2, grams: found '1.8'; expected a weight of 15 g or more. If that is "
            "kilograms, write 1800.",
        ),
    ],
)
def test_what_cannot_be_is_an_error(tmp_path: Path, row: str, said: str) -> None:
    assert told(faults_in(tmp_path, weights=weights(row))) == [said]


@pytest.mark.parametrize(
    ("series", "row", "likely"),
    [
        ((1700, 180, 1800), 3, "1800"),
        ((900, 8800, 950), 3, "880"),
        ((900, 910, 9300), 4, "930"),
        ((175, 1750, 1760), 2, "1750"),
    ],
)
def test_a_weight_off_by_ten_is_warned_of(
    tmp_path: Path, series: tuple[int, ...], row: int, likely: str
) -> None:
    rows = [f"F01,2026-{8 + n:02d}-01,{grams}," for n, grams in enumerate(series)]
    (fault,) = faults_in(tmp_path, weights=weights(*rows))
    assert (fault.where.row, fault.severity) == (row, Severity.WARNING)
    assert fault.repair == f"Is it {likely} g?"


def test_growth_laying_and_fasting_are_no_slips(tmp_path: Path) -> None:
    """A hatchling grows sevenfold in a year; a female loses 40 % at laying."""
    rows = [
        "F02,2022-07-02,70,",
        "F02,2022-10-02,150,",
        "F02,2023-07-02,560,",
        "F01,2025-03-20,2200,",
        "F01,2025-04-03,1320,",
        "M01,2025-11-01,900,",
        "M01,2026-02-01,640,",
    ]
    assert faults_in(tmp_path, weights=weights(*rows)) == ()


def test_two_weighings_a_day_are_warned_of(tmp_path: Path) -> None:
    rows = ("F01,2026-10-01,1800,", "F01,2026-10-01,1780,")
    (said,) = told(faults_in(tmp_path, weights=weights(*rows)), Severity.WARNING)
    assert "Row 2 says 1800 g, this one 1780 g." in said


def test_unknown_animals_are_named_once(tmp_path: Path) -> None:
    rows = ("f1,2026-10-01,1800,", "f1,2026-11-01,1800,", "Z7,2026-11-01,90,", "Z8,2026-11-01,90,")
    faults = faults_in(tmp_path, weights=weights(*rows))
    assert [(f.where.row, f.severity) for f in faults] == [
        (None, Severity.NOTICE),
        (2, Severity.WARNING),
    ]
    assert "Z7, Z8" in faults[0].found
    assert "Did you mean 'F01'?" in faults[1].repair
