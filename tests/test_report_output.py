"""Results are written whole or not at all, and never over what the keeper wrote."""

from __future__ import annotations

from pathlib import Path

import pytest

from brumal.records.faults import InputError
from brumal.report.output import LIST_NAME, write_results


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != LIST_NAME}


def test_a_second_run_replaces_what_the_first_wrote(tmp_path: Path) -> None:
    write_results(tmp_path / "out", {"a.txt": "one", "b.txt": b"\x00two"})
    write_results(tmp_path / "out", {"a.txt": "three"})
    assert content(tmp_path / "out") == {"a.txt": b"three", "b.txt": b"\x00two"}


def test_results_that_a_second_run_does_not_make_are_taken_away_on_request(tmp_path: Path) -> None:
    first = {"a.txt": "one", "b.txt": "two", "c.txt": "three"}
    write_results(tmp_path, first)
    (tmp_path / "c.txt").write_text("mine now")
    (tmp_path / "d.txt").write_text("mine")
    write_results(tmp_path, {"a.txt": "four"}, of_before=["a.txt", "b.txt", "c.txt", "d.txt"])
    assert content(tmp_path) == {"a.txt": b"four", "c.txt": b"mine now", "d.txt": b"mine"}
    write_results(tmp_path, {"b.txt": "five"})
    assert content(tmp_path)["b.txt"] == b"five"


def test_a_file_of_the_keepers_stops_the_whole_write(tmp_path: Path) -> None:
    (tmp_path / "b.txt").write_text("mine")
    with pytest.raises(InputError) as raised:
        write_results(tmp_path, {"a.txt": "one", "b.txt": "two"})
    assert content(tmp_path) == {"b.txt": b"mine"}
    assert "not written by brumal" in str(raised.value.faults[0])
    assert "--out" in raised.value.faults[0].repair


def test_a_result_the_keeper_changed_is_hers(tmp_path: Path) -> None:
    write_results(tmp_path, {"a.txt": "one"})
    (tmp_path / "a.txt").write_text("one, and a note of mine")
    with pytest.raises(InputError):
        write_results(tmp_path, {"a.txt": "two"})
    assert content(tmp_path) == {"a.txt": b"one, and a note of mine"}


def test_other_files_in_the_folder_stay(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    write_results(tmp_path, {"a.txt": "one"})
    assert content(tmp_path) == {"a.txt": b"one", "notes.txt": b"mine"}


def test_a_file_in_place_of_the_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(InputError):
        write_results(tmp_path / "out", {"a.txt": "one"})
    assert (tmp_path / "out").read_text() == "mine"


def test_a_write_that_fails_midway_leaves_the_old_results(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_results(tmp_path, {"a.txt": "one", "b.txt": "two"})
    before = content(tmp_path)
    replace = Path.replace

    def fails_for_b(self: Path, target: Path) -> Path:
        if self.name == "b.txt" and self.parent != tmp_path:
            raise OSError(28, "No space left on device")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", fails_for_b)
    with pytest.raises(InputError) as raised:
        write_results(tmp_path, {"a.txt": "three", "b.txt": "four"})
    assert content(tmp_path) == before
    assert "No space left" in raised.value.faults[0].found
