"""The clutches table: counts that add up, parents of the right sex, young as written."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.records.animals import Clutch, Sex
from brumal.records.clutch_table import Young, parse_young
from brumal.records.faults import Severity
from brumal.records.read import read_season
from season_folders import faults_in, season_folder, told

FEMALE, MALE = Sex.FEMALE, Sex.MALE


def clutches(*rows: str) -> str:
    return "\n".join(("dam,sire,laid,eggs,slugs,hatched,morphs,trouble,note", *rows)) + "\n"


def test_a_row_becomes_a_clutch(tmp_path: Path) -> None:
    text = clutches("F01,M01,2025-04-02,7,1,5,2 Clown; 3 66% het Clown,egg binding,small")
    records, faults = read_season(season_folder(tmp_path, clutches=text))
    assert faults == ()
    assert records is not None
    assert records.clutches == (
        Clutch(
            dam="F01",
            sire="M01",
            laid=date(2025, 4, 2),
            eggs=7,
            slugs=1,
            hatched=5,
            young=((2, "Clown", None), (3, "66% het Clown", None)),
            trouble="egg binding",
            note="small",
            row=2,
        ),
    )


@pytest.mark.parametrize(
    ("written", "young"),
    [
        ("", ()),
        ("Clown", ((1, "Clown", None),)),
        ("2 Clown; 3 Normal", ((2, "Clown", None), (3, "Normal", None))),
        ("2x Clown, 1× Super Pastel", ((2, "Clown", None), (1, "Super Pastel", None))),
        ("Clown x2|Pastel het Pied", ((2, "Clown", None), (1, "Pastel het Pied", None))),
        ("66% het Clown", ((1, "66% het Clown", None),)),
        ("4 66% het Clown ;", ((4, "66% het Clown", None),)),
        ("1.2 Banana", ((1, "Banana", MALE), (2, "Banana", FEMALE))),
        ("0.2.3 Super Pastel", ((2, "Super Pastel", FEMALE), (3, "Super Pastel", None))),
        ("0.0 Clown", ((0, "Clown", None),)),
        ("3 male Banana; females Clown x2", ((3, "Banana", MALE), (2, "Clown", FEMALE))),
        ("1 female: Pastel", ((1, "Pastel", FEMALE),)),
        ("3 male maker Banana", ((3, "male maker Banana", None),)),
    ],
)
def test_young_as_written(written: str, young: Young) -> None:
    assert parse_young(written) == young


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            "F01,M01,2025-04-02,6,7,,,,",
            "clutches.csv, row 2, slugs: found '7'; expected at most the 6 eggs of the clutch, "
            "slugs being among them",
        ),
        (
            "F01,M01,2025-04-02,6,2,5,,,",
            "clutches.csv, row 2, hatched: found '5'; expected at most 4: 6 eggs less 2 slugs",
        ),
        (
            "F01,M01,2025-04-02,6,2,3,2 Clown; 2 Normal,,",
            "clutches.csv, row 2, morphs: found '2 Clown; 2 Normal'; expected at most the 3 that "
            "hatched, not 4",
        ),
        (
            "F01,M01,2025-04-02,-6,,,,,",
            "clutches.csv, row 2, eggs: found '-6'; expected a whole number of 0 or more",
        ),
        (
            "M01,F01,2025-04-02,6,,,,,",
            "clutches.csv, row 2, dam: found 'M01', a male; expected a female. Are dam and sire "
            "swapped?",
        ),
        (
            ",M01,2025-04-02,6,,,,,",
            "clutches.csv, row 2, dam: found an empty cell; expected the id of the dam",
        ),
        (
            "F01,M01,2020-04-02,6,,,,,",
            "clutches.csv, row 2, laid: found '2020-04-02'; expected a date after its dam hatched "
            "(2021-06-10). Is it the right year?",
        ),
        (
            "F01,M01,2027-04-02,6,,,,,",
            "clutches.csv, row 2, laid: found '2027-04-02'; expected a date not after the season's "
            "pair_to (2027-03-31). Is it the right year?",
        ),
    ],
)
def test_what_cannot_be_is_an_error(tmp_path: Path, row: str, said: str) -> None:
    assert said in told(faults_in(tmp_path, clutches=clutches(row)), Severity.ERROR)


def test_odd_but_possible_clutches_are_warned_of(tmp_path: Path) -> None:
    text = clutches(
        "F01,M01,2025-04-02,21,0,4,1 Clown,,",
        "F01,M01,2025-06-02,6,0,,,,",
        "f-02,M01,2025-06-02,6,0,,,,",
        "X1,,2025-06-02,6,0,,,,",
    )
    faults = faults_in(tmp_path, clutches=text)
    assert told(faults) == [
        "clutches.csv: found parents without a row: X1; expected ids of the animals table. They "
        "are taken as animals outside the collection.",
        "clutches.csv, row 2, eggs: found '21'; expected at most 20 eggs in one clutch. 13 is "
        "exceptional; check the number.",
        "clutches.csv, row 2, morphs: found '1 Clown'; expected the morph of each of the 4 that "
        "hatched. 3 are not told; normals count as evidence too.",
        "clutches.csv, row 3, laid: found a second clutch of 'F01' within 61 days; expected one "
        "clutch a season. The other one stands in row 2.",
        "clutches.csv, row 4, dam: found 'f-02'; expected an id of the animals table. Did you mean "
        "'F02'?",
    ]
    assert not told(faults, Severity.ERROR)
