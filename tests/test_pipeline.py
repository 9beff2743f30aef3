"""Every fault of a folder in one go, across files and stages."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from brumal.cli import main
from brumal.commands.common import Exit
from brumal.pipeline import prepare
from brumal.records.faults import InputError
from brumal.starter import create_starter

ANIMALS = """id,sex,hatched,dam,sire,morph,weight_g,condition
F1,female,2021-13-45,,,Pastel Clwn,1800,3
F2,female,2021-06-01,M1,,Clown,1700,9
M1,male,2022-06-01,,,Mojave,900,3
"""
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
limits: {boxs: 4}
values: {wanted: [{morph: Super Pastell, value: 100}]}
"""


def folder_of(tmp_path: Path, animals: str = ANIMALS, season: str = SEASON) -> Path:
    (tmp_path / "animals.csv").write_text(animals)
    (tmp_path / "season.yaml").write_text(season)
    return tmp_path


def test_faults_of_all_files_and_stages_come_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as raised:
        prepare(folder_of(tmp_path))
    told = "\n".join(str(fault) for fault in raised.value.faults)
    for word in ("2021-13-45", "Clwn", "'Clown'", "boxs", "condition", "sire"):
        assert word in told, word


def test_check_prints_them_and_fails(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(folder_of(tmp_path))]) == Exit.FAULTS
    told = " ".join(capsys.readouterr().out.split())
    assert "animals.csv, row 2, hatched" in told
    assert "Did you mean 'boxes'?" in told


def test_check_reads_what_ifs_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    create_starter(tmp_path / "season")
    overlay = tmp_path / "season" / "what-if" / "example.yaml"
    overlay.write_text(overlay.read_text().replace("boxes", "boxs"))
    assert main(["check", str(tmp_path / "season")]) == Exit.FAULTS
    assert "what-if/example.yaml, line 5, limits.boxs" in capsys.readouterr().out


def test_a_wish_for_an_unknown_gene_names_the_nearest(tmp_path: Path) -> None:
    season = SEASON.replace("boxs", "boxes")
    animals = ANIMALS.replace("2021-13-45", "2021-06-01").replace("Clwn", "Clown")
    animals = animals.replace(",9", ",3").replace("M1,,Clown", ",M1,Clown")
    with pytest.raises(InputError) as raised:
        prepare(folder_of(tmp_path, animals, season))
    assert any("Pastel" in fault.repair for fault in raised.value.faults)


def test_an_id_that_stands_twice_is_told_once(tmp_path: Path) -> None:
    folder = tmp_path / "season"
    shutil.copytree(Path(__file__).parent.parent / "scenarios" / "small", folder)
    table = folder / "animals.csv"
    rows = table.read_text("utf-8").splitlines()
    table.write_text("\n".join([*rows, rows[-1]]) + "\n", "utf-8")
    with pytest.raises(InputError) as raised:
        prepare(folder)
    assert [fault.where.column for fault in raised.value.faults] == ["id"]
