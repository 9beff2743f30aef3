"""The starter folder: right as it stands, and never written over what is there."""

from __future__ import annotations

from pathlib import Path

import pytest

from brumal.records.faults import InputError
from brumal.records.read import read_season
from brumal.records.yaml_text import read_yaml
from brumal.starter import TEMPLATES, create_starter


def test_the_starter_folder_holds_no_fault_of_any_kind(tmp_path: Path) -> None:
    written = create_starter(tmp_path / "new" / "season")
    assert [path.relative_to(tmp_path / "new" / "season").as_posix() for path in written] == list(
        TEMPLATES
    )
    records, faults = read_season(tmp_path / "new" / "season")
    assert [str(fault) for fault in faults] == []
    assert records is not None
    assert list(records.what_if) == ["example"]
    assert len(records.animals) == 6


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    assert create_starter(tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(
        {name.split("/")[0] for name in TEMPLATES}
    )


@pytest.mark.parametrize("name", ["notes.txt", ".hidden"])
def test_a_folder_that_is_not_empty_is_left_alone(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    with pytest.raises(InputError) as caught:
        create_starter(tmp_path)
    assert "Nothing was written" in str(caught.value.faults[0])
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_file_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "season").write_text("mine")
    with pytest.raises(InputError) as caught:
        create_starter(tmp_path / "season")
    assert caught.value.faults[0].found == "a file"
    with pytest.raises(InputError) as caught:
        create_starter(tmp_path / "season" / "below")
    assert "cannot be written" in caught.value.faults[0].found


def test_the_commented_genes_are_right_once_uncommented(tmp_path: Path) -> None:
    from brumal.genetics.catalogue.file import load_catalogue

    create_starter(tmp_path)
    text = (tmp_path / "genes.yaml").read_text()
    lines = [line.removeprefix("# ").removeprefix("#") for line in text.splitlines()]
    start = lines.index("version: 1")
    document, faults = read_yaml("\n".join(lines[start:]), "genes.yaml")
    assert faults == []
    assert document is not None
    catalogue, told = load_catalogue("\n".join(lines[start:]))
    assert not [fault for fault in told if fault.severity == "error"]
    assert "hoar" in catalogue.names
    assert load_catalogue(text)[1] == load_catalogue()[1]
