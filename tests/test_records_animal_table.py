"""The animals table: what is forgiven, what is asked back, all in one go."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.records.animals import Animal, Sex, Status
from brumal.records.faults import Severity
from brumal.records.read import read_season
from season_folders import faults_in, season_folder, told

HEADER = "id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,last_laid"


def animals_of(folder: Path, *rows: str, header: str = HEADER) -> dict[str, Animal]:
    records, faults = read_season(season_folder(folder, animals="\n".join((header, *rows))))
    assert records is not None, told(faults)
    return {animal.id: animal for animal in records.animals}


def test_a_full_row_becomes_a_record(tmp_path: Path) -> None:
    header = f"{HEADER},max_pairings,expected_eggs,arrived,vet_cleared,notes"
    row = (
        "F01,Frost,female,2021-06-10,D9,S9,Pastel het Clown,1820,2026-11-01,3.5,loan,2025-04-02,"
        '2,6.5,2022-01-02,2025-08-01,"calm, eats well"'
    )
    assert animals_of(tmp_path, row, header=header)["F01"] == Animal(
        id="F01",
        name="Frost",
        sex=Sex.FEMALE,
        hatched=date(2021, 6, 10),
        dam="D9",
        sire="S9",
        morph="Pastel het Clown",
        weight_g=1820,
        weighed=date(2026, 11, 1),
        condition=3.5,
        status=Status.LOAN,
        last_laid=date(2025, 4, 2),
        max_pairings=2,
        expected_eggs=6.5,
        arrived=date(2022, 1, 2),
        vet_cleared=date(2025, 8, 1),
        notes="calm, eats well",
        row=2,
    )


def test_an_empty_cell_is_not_known(tmp_path: Path) -> None:
    """What rules ask for is remembered as left empty: its default is no statement."""
    blank = frozenset({"hatched", "morph", "condition", "status"})
    assert animals_of(tmp_path, "F01,,,,,,,,,,,", "F02,,?,unknown,-,n/a,?,?,?,?,?,?") == {
        "F01": Animal(id="F01", row=2, blank=blank),
        "F02": Animal(id="F02", row=3, blank=blank),
    }
    assert Animal(id="F01", blank=blank).look == "morph not recorded"
    assert Animal(id="F01", morph="Pastel").look == "Pastel"


@pytest.mark.parametrize(
    ("written", "sex"),
    [
        *((word, Sex.FEMALE) for word in ("female", "F", "Fem", "0.1", '"0,1"', "♀")),
        *((word, Sex.MALE) for word in ("male", "M", "1.0", '"1,0"', "♂")),
        *((word, None) for word in ("unsexed", "0.0.1", "u", "?")),
    ],
)
def test_spellings_of_sex(tmp_path: Path, written: str, sex: Sex | None) -> None:
    assert animals_of(tmp_path, f"A1,,{written},,,,,,,,,")["A1"].sex is sex


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            "A1,,femal,,,,,,,,,",
            "animals.csv, row 2, sex: found 'femal'; expected female or male (empty when not "
            "known). Did you mean 'female'?",
        ),
        (
            "A1,,,03.12.2021,,,,,,,,",
            "animals.csv, row 2, hatched: found '03.12.2021'; expected a date as year-month-day, "
            "such as 2026-12-01; 2026-12 or 2026 where no more is known. Write 2021-12-03.",
        ),
        (
            "A1,,,0202-12-03,,,,,,,,",
            "animals.csv, row 2, hatched: found '0202-12-03'; expected a date after 1950",
        ),
        (
            "A1,,,2028-01-01,,,,,,,,",
            "animals.csv, row 2, hatched: found '2028-01-01'; expected a date not after the "
            "season's pair_to (2027-03-31). Is it the right year?",
        ),
        (
            "A1,,,2021-06-10,,,,900,2020-11-01,,,",
            "animals.csv, row 2, weighed: found '2020-11-01'; expected a date after it hatched "
            "(2021-06-10)",
        ),
        (
            "A1,,female,2021-06-10,,,,,,,,2020-11-01",
            "animals.csv, row 2, last_laid: found '2020-11-01'; expected a date after it hatched "
            "(2021-06-10)",
        ),
        (
            "A1,,male,2021-06-10,,,,,,,,2024-11-01",
            "animals.csv, row 2, last_laid: found '2024-11-01'; expected nothing: a male lays no "
            "eggs",
        ),
        (
            "A1,,,,,,,1.520 g,2026-11-01,,,",
            "animals.csv, row 2, weight_g: found '1.520 g'; expected grams as a plain number, such "
            "as 1520. Write 1520 if that is the weight in grams.",
        ),
        (
            "A1,,,,,,,1.52,2026-11-01,,,",
            "animals.csv, row 2, weight_g: found '1.52'; expected a weight of 15 g or more. If "
            "that is kilograms, write 1520.",
        ),
        (
            "A1,,,,,,,-20,2026-11-01,,,",
            "animals.csv, row 2, weight_g: found '-20'; expected a weight of 15 g or more",
        ),
        (
            "A1,,,,,,,,,6,,",
            "animals.csv, row 2, condition: found '6'; expected a number from 1 to 5",
        ),
        (
            "A1,,,,,,,,,,breding,",
            "animals.csv, row 2, status: found 'breding'; expected one of breeder, holdback, "
            "retired, loan, outside, sold, died, unclear. Did you mean 'breeder'?",
        ),
        (
            ",Frost,,,,,,,,,,",
            "animals.csv, row 2, id: found an empty cell; expected the animal's id",
        ),
        (
            "A1,,,,A1,,,,,,,",
            "animals.csv, row 2, dam: found 'A1'; expected another animal: no animal is its own "
            "parent",
        ),
        (
            "A1,,,,B9,B9,,,,,,",
            "animals.csv, row 2, sire: found 'B9'; expected an animal other than the dam 'B9'",
        ),
    ],
)
def test_what_cannot_be_is_an_error(tmp_path: Path, row: str, said: str) -> None:
    faults = faults_in(tmp_path, animals=f"{HEADER}\n{row}\n")
    assert told(faults, Severity.ERROR) == [said]


@pytest.mark.parametrize(
    ("column", "cell", "expected"),
    [
        ("max_pairings", "two", "a whole number of 0 or more"),
        ("max_pairings", "2.5", "a whole number of 0 or more"),
        ("expected_eggs", "60", "a number from 0 to 20"),
        ("expected_eggs", "-1", "a number from 0 to 20"),
        ("arrived", "2019-01-01", "a date after it hatched (2020-01-01)"),
    ],
)
def test_the_rarer_columns_are_checked_too(
    tmp_path: Path, column: str, cell: str, expected: str
) -> None:
    table = f"id,sex,morph,hatched,{column}\nA1,f,Normal,2020-01-01,{cell}\n"
    (fault,) = faults_in(tmp_path, animals=table)
    assert (fault.where.row, fault.where.column, fault.expected) == (2, column, expected)


def test_all_faults_come_at_once_in_order(tmp_path: Path) -> None:
    faults = faults_in(
        tmp_path,
        animals=f"{HEADER}\nA2,,x,3/4/25,,,,,,,,\nA1,,,,,,,-1,,9,nope,\nA1,,,,,,,,,,,\n",
        season="season: {name: T, pair_from: 2026-12-01, pair_to: soon}\n",
    )
    places = [(f.where.file, f.where.row, f.where.column) for f in faults if f.severity == "error"]
    assert places == [
        ("animals.csv", 2, "hatched"),
        ("animals.csv", 2, "sex"),
        ("animals.csv", 3, "condition"),
        ("animals.csv", 3, "status"),
        ("animals.csv", 3, "weight_g"),
        ("animals.csv", 4, "id"),
        ("season.yaml", 1, "season.pair_to"),
    ]


def test_an_id_twice_is_an_error_that_names_the_first_row(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, animals=f"{HEADER}\nA1,,,,,,,,,,,\nB2,,,,,,,,,,,\nA1,,,,,,,,,,,\n")
    assert told(faults) == [
        "animals.csv, row 4, id: found 'A1' again (first in row 2); expected each id once. Give "
        "one of the two another id, or remove the row that is twice there."
    ]


@pytest.mark.parametrize("other", ["f-01", "F 01", "F1", "f_1"])
def test_ids_that_differ_only_in_case_or_marks_are_warned_of(tmp_path: Path, other: str) -> None:
    faults = faults_in(tmp_path, animals=f"{HEADER}\nF-01,,,,,,,,,,,\n{other},,,,,,,,,,,\n")
    (said,) = told(faults, Severity.WARNING)
    assert "Is it the same animal as 'F-01' in row 2?" in said
    assert not told(faults, Severity.ERROR)


def test_near_misses_of_parents_are_warned_of_and_outsiders_told_once(tmp_path: Path) -> None:
    rows = ["F01,,f,,,,,,,,,", "Sleet,,m,,,,,,,,,", "A1,,,,f-1,Sleat,,,,,,", "A2,,,,F02,Hail,,,,,,"]
    faults = faults_in(tmp_path, animals="\n".join((HEADER, *rows)))
    assert told(faults, Severity.WARNING) == [
        "animals.csv, row 4, dam: found 'f-1'; expected an id of this table, or an ancestor "
        "outside it. Did you mean 'F01'?",
        "animals.csv, row 4, sire: found 'Sleat'; expected an id of this table, or an ancestor "
        "outside it. Did you mean 'Sleet'?",
    ]
    (notice,) = told(faults, Severity.NOTICE)
    assert "F02, Hail" in notice


def test_a_digit_too_many_is_warned_of(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, animals=f"{HEADER}\nA1,,,,,,,8200,2026-11-01,,,\n")
    assert told(faults, Severity.WARNING) == [
        "animals.csv, row 2, weight_g: found '8200'; expected a weight of at most 5000 g. Was "
        "820 g meant?"
    ]


def test_a_weight_that_no_python_has_is_a_fault(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, animals=f"{HEADER}\nA1,,,,,,,18200,2026-11-01,,,\n")
    assert told(faults, Severity.ERROR) == [
        "animals.csv, row 2, weight_g: found '18200'; expected a weight of 10000 g or less. Was "
        "1820 g meant?"
    ]
    faults = faults_in(tmp_path, animals=f"{HEADER}\nA1,,,,,,,190000000,2026-11-01,,,\n")
    assert told(faults, Severity.ERROR) == [
        "animals.csv, row 2, weight_g: found '190000000'; expected a weight of 10000 g or less"
    ]


def test_a_weight_without_its_day_is_told(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, animals=f"{HEADER}\nA1,,,,,,,1820,,,,\n")
    assert [(f.where.column, f.severity) for f in faults] == [("weighed", Severity.NOTICE)]
