"""What the plan tells first, told from season folders: borderline and spoilt ones."""

from __future__ import annotations

import io
import json
import re
from datetime import date
from pathlib import Path

import pytest
from rich.console import Console

from brumal.cli import main
from brumal.pipeline import prepare
from brumal.planner import describe
from brumal.planner.plan import Plan
from brumal.planner.season import solve_season
from brumal.report.plan.files import plan_json
from brumal.report.plan.terminal import print_plan
from brumal.report.plan.words import verdict_line, watch_lines
from season_folders import season_folder

HEAD = (
    "id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,last_laid,vet_cleared\n"
)
WANT = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
values: {base: 100}
"""
HIM = "M1,Sleet,male,2020-07-01,,,Normal,900,2026-11-01,3,breeder,,\n"


def her(
    number: int, name: str, condition: str = "3", weight: int = 1900, hatched: str = "2019-06-10"
) -> str:
    return f"F{number},{name},female,{hatched},,,Normal,{weight},2026-11-01,{condition},breeder,,\n"


def unscored(rows: str) -> str:
    """Return the animals table of a keeper who scores no condition: without that column."""
    place = HEAD.split(",").index("condition")
    cells = [row.split(",") for row in rows.splitlines()]
    return "".join(",".join(row[:place] + row[place + 1 :]) + "\n" for row in cells)


def plan_of(
    folder: Path, *rows: str, clutches: str = "", weights: str = "", scored: bool = True
) -> Plan:
    animals = HEAD + "".join(rows)
    files = {"animals": animals if scored else unscored(animals), "season": WANT}
    if clutches:
        files["clutches"] = "dam,laid,eggs,slugs,hatched,note\n" + clutches
    if weights:
        files["weights"] = "animal,date,grams\n" + weights
    return describe.plan_of(solve_season(prepare(season_folder(folder, **files))))


def text_of(plan: Plan) -> str:
    screen = Console(width=2000, file=io.StringIO())
    print_plan(plan, screen)
    return screen.file.getvalue()


def test_missing_condition_is_told_once_for_the_collection(tmp_path: Path) -> None:
    rows = [her(at, name) for at, name in enumerate(("Frost", "Ivy", "Rime"), start=1)]
    plan = plan_of(tmp_path, *rows, HIM, scored=False)
    assert len(plan.pairs) == 3
    (caution,) = plan.cautions
    assert caution.animals == ("F1", "F2", "F3", "M1")
    assert caution.text.startswith(
        "No body condition is recorded: Frost (F1), Ivy (F2), Rime (F3) (3 to 4 asked for), "
        "Sleet (M1) (2.5 to 4 asked for). Look at each before the first visit, score it"
    )
    assert all(not pair.cautions for pair in plan.pairs)
    assert text_of(plan).count("body condition is recorded") == 1
    (own,) = watch_lines(plan, "F2", plan.pairs[1])
    assert own.startswith("No body condition is recorded for Ivy;")


def test_what_can_hurt_an_animal_is_told_first_and_whole(tmp_path: Path) -> None:
    """All slugs last year, condition not scored, and a second year running: in that order."""
    plan = plan_of(
        tmp_path,
        her(1, "Frost"),
        her(2, "Ivy"),
        HIM,
        scored=False,
        clutches="F1,2025-04-20,6,6,0,\nF2,2026-04-20,6,0,6,\n",
        weights="F2,2025-12-20,1900\nF2,2026-11-01,1900\n",
    )
    assert [caution.rank for caution in plan.cautions] == [0, 1, 2]
    first, condition, again = plan.cautions
    assert first.text.startswith("Clutches of Frost: 2025-04-20 all eggs were slugs.")
    assert condition.text.startswith("No body condition is recorded: Frost (F1), Ivy (F2), Sl")
    assert again.text.startswith(
        "A second year of breeding in a row: Ivy (F2) (2026 laid, 2025 nothing on record). Look"
    )
    text = text_of(plan)
    assert text.index("all eggs were slugs") < text.index("Pairs (EUR)")
    assert text.count("all eggs were slugs") == 1
    told = json.loads(plan_json(plan))["cautions"]
    assert [each["animals"] for each in told] == [["F1"], ["F1", "F2", "M1"], ["F2"]]
    assert any("all eggs were slugs" in line for line in plan.pairs[0].cautions)


def test_a_female_whose_weight_falls_is_weighed_weekly_in_the_plan_too(tmp_path: Path) -> None:
    losing = "".join(
        f"F{at},2026-{month:02}-01,{2000 - 25 * (month - 7)}\n"
        for at in (1, 2)
        for month in range(7, 12)
    )
    plan = plan_of(tmp_path, her(1, "Frost"), her(2, "Ivy"), HIM, weights=losing)
    (caution,) = plan.cautions
    assert re.fullmatch(
        r"The weight falls: Frost \(F1\), Ivy \(F2\) \(0\.8 g a day, 1\.3% a month\)\. "
        r"Weigh every week, .* vet .*",
        caution.text,
    )


def test_no_female_ready_is_said_with_the_nearest_days(tmp_path: Path) -> None:
    growing = "".join(
        f"F{at},2026-{month:02}-01,{1340 + 60 * (month - 11) - 20 * at}\n"
        for at in (1, 2)
        for month in range(7, 12)
    )
    plan = plan_of(tmp_path, her(1, "Frost"), her(2, "Ivy"), HIM, weights=growing)
    line = verdict_line(plan)
    assert line.startswith(
        "No female is ready while pairing runs, so nothing can be paired. Nearest: "
    )
    days = re.findall(r"(\w+) \(F\d\) about (\d{4}-\d\d-\d\d)", line)
    assert [name for name, _ in days] == ["Frost", "Ivy"]
    assert date(2026, 12, 1) < date.fromisoformat(days[0][1]) < date.fromisoformat(days[1][1])
    assert "0.00" not in line


def test_no_male_and_nobody_with_a_day(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, her(1, "Frost"), HIM.replace(",900,", ",400,"))
    assert verdict_line(plan) == (
        "No male is ready while pairing runs, so nothing can be paired. No day can be told from "
        "the records: see who rests, and why."
    )


def test_a_price_list_that_pays_for_nothing_pairs_nobody(tmp_path: Path) -> None:
    files = {"animals": HEAD + her(1, "Frost") + HIM, "season": WANT + "costs: {pairing: 9000}\n"}
    plan = describe.plan_of(solve_season(prepare(season_folder(tmp_path, **files))))
    assert plan.unready is not None
    assert verdict_line(plan).startswith("No female is paired: within your limits no pair")


def test_without_any_price_it_is_said_where_to_write_them(tmp_path: Path) -> None:
    files = {"animals": HEAD + her(1, "Frost") + HIM}
    plan = describe.plan_of(solve_season(prepare(season_folder(tmp_path, **files))))
    assert verdict_line(plan) == (
        "No female is paired: no price is set, so no young is worth anything. Write yours under "
        "values in season.yaml."
    )


@pytest.mark.parametrize("command", ["ready", "plan"])
def test_the_commands_tell_it(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = unscored(HEAD + her(1, "Frost") + her(2, "Ivy") + HIM)
    files = {"animals": rows, "clutches": "dam,laid,eggs\nF1,2025-04-20,6\nF2,,0\n"}
    folder = season_folder(tmp_path, season=WANT, **files)
    assert main([command, str(folder), "--out", str(tmp_path / "out")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert told.count("No body condition is recorded: ") == 1
    assert told.count("No body condition is recorded for") == 0
    if command == "ready":
        assert "Seasons: 2026 nothing on record, 2025 laid." in told
        assert "lowered by hers on record (0 of 1)" in told


def test_a_lone_failure_asks_for_the_others(tmp_path: Path) -> None:
    rows = HEAD + her(1, "Frost") + HIM
    files = {"animals": rows, "clutches": "dam,laid,eggs\nF1,2025-04-20,0\n"}
    asked = prepare(season_folder(tmp_path, season=WANT, **files)).faults
    assert any("laid nothing" in str(fault) and "failures: true" in str(fault) for fault in asked)
    stated = WANT + "records: {failures: true}\n"
    assert prepare(season_folder(tmp_path, season=stated, **files)).faults == ()
