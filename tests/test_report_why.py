"""What ``why`` and ``simulate`` print and write: the small season's hand figures, hostile names."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from brumal import library
from brumal.cli import main
from brumal.commands.common import Exit
from season_outputs import hostile_season

SMALL = Path(__file__).parent.parent / "scenarios" / "small"


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == Exit.DONE
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["F4"], "Ember weighs 1,450 g on 2026-11-15; 1,500 g is the least"),
        (["F5"], "could breed, but the plan leaves her out."),
        (["F5"], "The season loses 7.50 EUR."),
        (["F1"], "Next best for her is Hail (M1): the season loses 7.50 EUR."),
        (["F1", "M1"], "Nothing bars them; the pair would bring 440 EUR by itself."),
        (["F2", "M2"], "Young of Dew and Dusk would have F 0.25"),
        (["M1"], "Hail (M1) has 1 female of at most 1"),
        (["Thaw"], "Thaw (F1) is paired with Dusk (M2)."),
    ],
)
def test_the_hand_figures_of_the_small_season_are_told(
    asked: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """885 is the best and 877.50 the next best by hand: see docs/small-season.md."""
    assert said in told(capsys, "why", str(SMALL), *asked)


def test_the_whole_season_is_told_and_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = told(capsys, "why", str(SMALL), "--out", str(tmp_path))
    assert "Ember (F4) 50 g heavier +187.50" in text
    assert "one more female for Hail (M1) +90.00" in text
    assert "closer kin" in text
    assert (tmp_path / "why.html").exists()
    assert json.loads((tmp_path / "why.json").read_text())


def test_young_to_hold_back_never_count_beyond_those_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One Clown is kept for 50 more: a pair brings 50 times its chance of one, however many."""
    folder = tmp_path / "small"
    shutil.copytree(SMALL, folder)
    text = (folder / "season.yaml").read_text()
    kept = "{morph: Clown, value: 120, keep: {count: 1, extra: 50}}"
    (folder / "season.yaml").write_text(text.replace("{morph: Clown, value: 120}", kept))
    season = library.solve(library.read(folder))
    for pair, place in season.place.items():
        each = season.problem.candidates[place]
        weights = season.problem.states_of(each.family_of_count(0))
        one = 1 - float(weights @ each.counts[0][:, 0]) if 0 in each.counts else 0.0
        assert season.held_back(pair) == pytest.approx(50 * one)
        assert season.held_back(pair) <= 50
    assert any(each.extra > 50 for each in season.problem.candidates)
    said = told(capsys, "why", str(folder), "F1", "--quick", "--out", str(tmp_path / "out"))
    assert "more by young to hold back, as long as none is yet" in said


def test_quick_solves_nothing_more(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "why", str(SMALL), "F5", "--quick")
    assert "could breed" in text
    assert "loses" not in text


@pytest.mark.parametrize("command", ["why", "simulate"])
def test_hostile_names_come_out_inert(command: str, tmp_path: Path) -> None:
    season = tmp_path / "season"
    season.mkdir()
    hostile_season(season)
    out = tmp_path / "out"
    words = ["--quick"] if command == "why" else ["--seasons", "200"]
    assert main([command, str(season), "--out", str(out), *words]) == Exit.DONE
    for page in out.glob("*.html"):
        text = page.read_text()
        assert "<script" not in text
        assert "<img" not in text
        assert "\x1b" not in text


def test_equal_seeds_give_equal_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert main(["simulate", str(SMALL), "--out", str(tmp_path / name)]) == Exit.DONE
    one, two = (sorted((tmp_path / name).glob("*.*")) for name in ("one", "two"))
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


def test_an_animal_that_is_not_there_is_a_fault(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["why", str(SMALL), "Thawe"]) == Exit.FAULTS
    assert "Thaw (F1)" in capsys.readouterr().err
