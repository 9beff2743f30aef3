"""Commands from the outside: exit codes, what is written, and what is left alone."""

from __future__ import annotations

import hashlib
import json
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from brumal import library
from brumal.cli import main
from brumal.commands.common import Exit
from brumal.planner.season import SolvedSeason
from season_outputs import demo_files

SCENARIOS = Path(__file__).parent.parent / "scenarios"


def prints(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def small(tmp_path: Path, locks: str = "") -> Path:
    """Copy the small season, with locks added to its settings."""
    folder = tmp_path / "season"
    shutil.copytree(SCENARIOS / "small", folder)
    settings = (folder / "season.yaml").read_text()
    assert "locks:" not in settings
    (folder / "season.yaml").write_text(f"{settings}locks: {{{locks}}}\n")
    return folder


def test_a_plan_is_done_and_the_season_is_left_as_it_was(tmp_path: Path) -> None:
    folder = small(tmp_path)
    before = prints(folder)
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == Exit.DONE
    assert prints(folder) == before
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    assert plan["version"] == 1
    assert plan["verdict"] == "proven"
    assert plan["objective"] == pytest.approx(885.0)
    assert plan["gap"] <= 1e-6


def test_a_season_is_seen_from_a_day(tmp_path: Path) -> None:
    """The folder states 2026-11-15; an event of a later day acts from that day."""
    folder = small(tmp_path)
    rows = "date,animal,event\n2024-11-10,F5,ill\n2024-11-20,F1,ill\n"
    (folder / "events.csv").write_text(rows)
    found = {}
    for on in ([], ["--on", "2024-11-15"], ["--on", "2024-11-01"]):
        out = tmp_path / "-".join(["out", *on])
        assert main(["plan", str(folder), "--out", str(out), *on]) == Exit.DONE
        plan = json.loads((out / "plan.json").read_text())
        ill = {
            rest["id"]
            for rest in plan["resting"]
            if any(reason["rule"] == "illness" for reason in rest["reasons"])
        }
        found[plan["as_of"]] = ill
    assert found == {"2026-11-15": {"F1", "F5"}, "2024-11-15": {"F5"}, "2024-11-01": set()}


def test_a_day_that_is_none_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", str(SCENARIOS / "small"), "--on", "15.11.2026"])
    assert "'15.11.2026' is not a date such as 2026-12-01" in capsys.readouterr().err


def test_equal_input_gives_equal_bytes(tmp_path: Path) -> None:
    """In processes of their own, so that nothing kept in memory or hashed by chance can help."""
    written = []
    for number, seed in enumerate(("1", "2")):
        out = tmp_path / str(number)
        subprocess.run(
            [sys.executable, "-m", "brumal", "plan", str(SCENARIOS / "demo"), "--out", str(out)],
            check=True,
            capture_output=True,
            env={"PYTHONHASHSEED": seed, "PATH": ""},
        )
        written.append(prints(out))
    assert written[0] == written[1]


def test_the_order_of_rows_does_not_matter(tmp_path: Path) -> None:
    folder = tmp_path / "turned"
    shutil.copytree(SCENARIOS / "demo", folder)
    header, *rows = (folder / "animals.csv").read_text().splitlines()
    (folder / "animals.csv").write_text("\n".join([header, *reversed(rows)]) + "\n")
    plans = []
    for season in (SCENARIOS / "demo", folder):
        out = tmp_path / f"out-{season.name}"
        assert main(["plan", str(season), "--out", str(out)]) == Exit.DONE
        plan = json.loads((out / "plan.json").read_text())
        plans.append({key: plan[key] for key in ("objective", "pairs", "resting", "males")})
    assert plans[0] == plans[1]


def test_locks_that_clash_end_with_two_and_write_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = small(tmp_path, "must_pair: [[F1, M1]], never_pair: [[F1, M1]]")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == Exit.NO_PLAN
    told = " ".join(capsys.readouterr().out.split())
    assert "locks.must_pair: Thaw (F1) x Hail (M1) must be paired." in told
    assert "locks.never_pair: the two are never paired." in told
    assert not (tmp_path / "out").exists()


def test_a_pair_made_with_an_animal_from_outside_is_a_fact(tmp_path: Path) -> None:
    folder = small(tmp_path, "already_paired: [[F1, O1]]")
    animals = folder / "animals.csv"
    header, *rows = animals.read_text().splitlines()
    row = dict.fromkeys(header.split(","), "")
    row |= {"id": "O1", "sex": "male", "morph": "Clown", "status": "outside"}
    animals.write_text("\n".join([header, *rows, ",".join(row.values())]) + "\n")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == Exit.DONE
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    made = next(pair for pair in plan["pairs"] if pair["dam"] == "F1")
    assert (made["sire"], made["lock"]) == ("O1", "already_paired")
    assert made["cautions"]


def test_a_pair_wished_with_an_animal_from_outside_clashes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = small(tmp_path, "must_pair: [[F1, M1]]")
    animals = folder / "animals.csv"
    lines = [
        f"{line.replace('breeder', 'outside')}" if line.startswith("M1,") else line
        for line in animals.read_text().splitlines()
    ]
    animals.write_text("\n".join(lines) + "\n")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == Exit.NO_PLAN
    assert "rules.status" in capsys.readouterr().out


def test_a_limit_that_clashes_says_what_would_be_enough(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = small(tmp_path, "must_pair: [[F1, M2], [F3, M2], [F5, M2]]")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == Exit.NO_PLAN
    told = " ".join(capsys.readouterr().out.split())
    assert "Dusk (M2) serves at most 2. To loosen: 3 would be enough." in told


def test_faults_end_with_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(tmp_path / "nowhere")]) == Exit.FAULTS
    assert "no such folder" in " ".join(capsys.readouterr().err.split())


def test_ctrl_c_while_solving_writes_the_best_plan_so_far(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    solve = library.solve

    def interrupted(*given: Any) -> SolvedSeason:
        signal.raise_signal(signal.SIGINT)
        return solve(*given)

    monkeypatch.setattr(library, "solve", interrupted)
    out = tmp_path / "out"
    assert main(["plan", str(SCENARIOS / "demo"), "--out", str(out)]) == Exit.NOT_PROVEN
    assert "Stopping with the best plan so far" in capsys.readouterr().err
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["verdict"] == "stopped"
    assert plan["pairs"]


def test_a_wanted_pair_of_kin_does_not_stop_the_price_of_a_tighter_cap(tmp_path: Path) -> None:
    folder = small(tmp_path, "must_pair: [[F2, M2]]")
    season = folder / "season.yaml"
    season.write_text(season.read_text("utf-8").replace("max_F: 0.0625", "max_F: 0.25"), "utf-8")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == Exit.DONE
    assert main(["why", str(folder), "--out", str(tmp_path / "why")]) == Exit.DONE


def test_results_do_not_go_into_the_season_itself(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = small(tmp_path)
    before = prints(folder)
    assert main(["plan", str(folder), "--out", str(folder)]) == Exit.FAULTS
    assert "the season folder" in capsys.readouterr().err
    assert prints(folder) == before


def test_a_plan_from_an_earlier_one_is_the_same(tmp_path: Path) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    folder = str(small(tmp_path))
    assert main(["plan", folder, "--out", str(first)]) == Exit.DONE
    last = str(first / "plan.json")
    assert main(["plan", folder, "--last", last, "--out", str(second)]) == Exit.DONE
    assert (first / "plan.json").read_bytes() == (second / "plan.json").read_bytes()
    assert main(["plan", folder, "--last", str(first / "plan.csv")]) == Exit.FAULTS


def test_a_plan_stopped_early_ends_with_three_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    code = main(["plan", str(SCENARIOS / "demo"), "--out", str(out), "--time-limit", "0.001"])
    assert code == Exit.NOT_PROVEN
    plan = json.loads((out / "plan.json").read_text())
    assert plan["verdict"] == "stopped"
    best = json.loads(demo_files()["plan.json"])["objective"]
    assert plan["objective"] <= best <= plan["bound"]
    assert "not proven" in capsys.readouterr().out


@pytest.mark.parametrize("argument", ["--gap=2", "--time-limit=0", "--solver=none"])
def test_a_wrong_option_is_told(argument: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", str(SCENARIOS / "small"), argument])
    assert argument.split("=")[0] in capsys.readouterr().err
