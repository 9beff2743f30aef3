"""A season folder as a whole: what must be there, what may be, and order without chance."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brumal.records.faults import Severity
from brumal.records.read import errors_first, read_season
from season_folders import ANIMALS, SEASON, faults_in, season_folder, told


def test_a_plain_folder_is_read_whole(tmp_path: Path) -> None:
    season_folder(
        tmp_path,
        weights="animal,date,grams\nF01,2026-10-01,1800\n",
        clutches="dam,sire,laid,eggs\nF01,M01,2025-04-02,6\n",
        genes="# my own genes\n",
    )
    (tmp_path / "what-if").mkdir()
    (tmp_path / "what-if" / "b.yaml").write_text("limits: {boxes: 3}\n")
    (tmp_path / "what-if" / "a.yml").write_text("limits: {boxes: 4}\n")
    (tmp_path / "what-if" / "notes.txt").write_text("not a scenario")
    records, faults = read_season(tmp_path)
    assert faults == ()
    assert records is not None
    assert [animal.id for animal in records.animals] == ["F01", "F02", "M01"]
    assert (len(records.weighings), len(records.clutches)) == (1, 1)
    assert records.own_genes == "# my own genes\n"
    assert records.season_text == SEASON
    assert list(records.what_if.items()) == [
        ("a", "limits: {boxes: 4}\n"),
        ("b", "limits: {boxes: 3}\n"),
    ]
    assert records.files["animals"] == "animals.csv"
    assert records.fingerprints == {
        name: hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()
        for name in ("animals.csv", "clutches.csv", "genes.yaml", "season.yaml", "weights.csv")
    }


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        (
            "animals.csv",
            "animals.csv: found no such file; expected the animals table (.csv or .xlsx). `brumal "
            "new FOLDER` makes a folder of templates to start from.",
        ),
        (
            "season.yaml",
            "season.yaml: found no such file; expected the season's settings. `brumal new FOLDER` "
            "makes a folder of templates to start from.",
        ),
    ],
)
def test_a_file_that_must_be_there(tmp_path: Path, gone: str, said: str) -> None:
    season_folder(tmp_path)
    (tmp_path / gone).unlink()
    records, faults = read_season(tmp_path)
    assert records is None
    assert told(faults) == [said]


def test_a_file_of_nearly_the_right_name_is_named(tmp_path: Path) -> None:
    season_folder(tmp_path)
    (tmp_path / "animals.csv").rename(tmp_path / "animal.csv")
    assert "Rename animal.csv to animals.csv?" in told(read_season(tmp_path)[1])[0]


def test_case_of_file_names_is_forgiven(tmp_path: Path) -> None:
    season_folder(tmp_path)
    (tmp_path / "animals.csv").rename(tmp_path / "Animals.CSV")
    records, faults = read_season(tmp_path)
    assert faults == ()
    assert records is not None
    assert records.files["animals"] == "Animals.CSV"


def test_no_folder_and_a_file_instead_of_one(tmp_path: Path) -> None:
    records, (fault,) = read_season(tmp_path / "nowhere")
    assert records is None
    assert "brumal new" in fault.repair
    season_folder(tmp_path)
    _, (fault,) = read_season(tmp_path / "animals.csv")
    assert fault.found == "a workbook"
    assert "brumal import" in fault.repair
    _, (fault,) = read_season(tmp_path / "season.yaml")
    assert fault.found == "a file"


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_locked_file_is_a_fault(tmp_path: Path) -> None:
    season_folder(tmp_path)
    (tmp_path / "animals.csv").chmod(0)
    _, (fault,) = read_season(tmp_path)
    assert fault.found == "a file that may not be read"


@pytest.mark.parametrize("name", ["animals.csv", "season.yaml", "what-if/a.yaml", "genes.yaml"])
def test_an_empty_file_is_a_fault(tmp_path: Path, name: str) -> None:
    season_folder(tmp_path)
    (tmp_path / "what-if").mkdir()
    (tmp_path / name).write_text("")
    records, (fault,) = read_season(tmp_path)
    assert records is None
    assert (fault.where.file, fault.found) == (name, "an empty file")


def test_warnings_leave_the_records_standing(tmp_path: Path) -> None:
    season_folder(
        tmp_path, animals=ANIMALS.replace("F02,Rime,female,2022-07-01,F01", "F02,,f,,f-1")
    )
    records, faults = read_season(tmp_path)
    assert [fault.severity for fault in faults] == [Severity.WARNING]
    assert records is not None


def test_faults_can_be_put_errors_first(tmp_path: Path) -> None:
    rows = "A1,,f,,a-1,,Clown,,,,,\nB1,,f,,a-1,Z9,Clown,,,9,,\n"
    season_folder(tmp_path, animals=ANIMALS + rows, season=SEASON + "limits: {boxes: x}\n")
    faults = read_season(tmp_path)[1]
    order = [fault.severity for fault in errors_first(faults)]
    assert order == sorted(order, key=list(Severity).index)
    assert set(errors_first(faults)) == set(faults)


TABLE_TEXT = st.text(alphabet='id,sexmorphFM01;"\n\t 9.-éX\x00', max_size=120)
YAML_TEXT = st.text(alphabet="season:{}[],- \n\t'\"&*!|>#%@0129pair_fromtobxé", max_size=120)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(TABLE_TEXT, YAML_TEXT)
def test_whatever_stands_in_the_files_the_answer_is_faults(
    tmp_path: Path, table: str, yaml: str
) -> None:
    """No text makes a traceback; the answer is records, or errors that say why there are none."""
    season_folder(
        tmp_path,
        animals=f"id,sex,morph,dam\n{table}",
        weights=f"animal,date,grams\n{table}",
        season=yaml,
    )
    records, faults = read_season(tmp_path)
    again, same = read_season(tmp_path)
    assert (records, faults) == (again, same)
    assert (records is None) == any(fault.severity is Severity.ERROR for fault in faults)


def test_an_end_of_the_season_before_its_start_is_told_once(tmp_path: Path) -> None:
    """Dates in the tables are not held against a window that cannot be right."""
    season = "season: {name: Test, pair_from: 2026-12-01, pair_to: 2026-03-31}\n"
    (only,) = told(faults_in(tmp_path, season=season), Severity.ERROR)
    assert "season.pair_to: found '2026-03-31'; expected a date not before pair_from" in only
