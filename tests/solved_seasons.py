"""Solved seasons for tests, from a few lines of a season folder."""

from __future__ import annotations

from pathlib import Path

from brumal.pipeline import Prepared, prepare
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.answer import EXACT, SolveOptions
from season_folders import season_folder

HEAD = (
    "id,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,max_pairings,expected_eggs\n"
)
SURE = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
assume: {goes: 1, fertile: 1, hatched: 1}
costs: {pairing: 5, egg: 1, hatchling: 10}
"""


def female(name: str, morph: str = "Normal", **cells: object) -> str:
    """Return the row of a grown female."""
    return _row(name, "female", morph, 1800, cells)


def male(name: str, morph: str = "Normal", **cells: object) -> str:
    """Return the row of a grown male."""
    return _row(name, "male", morph, 900, cells)


def _row(name: str, sex: str, morph: str, grams: int, cells: dict[str, object]) -> str:
    row = {
        "id": name,
        "sex": sex,
        "hatched": "2021-06-01",
        "morph": morph,
        "weight_g": grams,
        "weighed": "2026-11-15",
        "condition": 3,
        "status": "breeder",
        **cells,
    }
    return ",".join(str(row.get(column, "")) for column in HEAD.strip().split(",")) + "\n"


def solved(folder: Path, animals: list[str], season: str, **files: str) -> SolvedSeason:
    """Write a folder, prepare it and solve it to the end."""
    season_folder(folder, animals=HEAD + "".join(animals), season=season, **files)
    return solve_season(prepare(folder), EXACT)


def best_plan(prepared: Prepared, options: SolveOptions = EXACT) -> Plan:
    """Return the plan of a prepared season, proven to the end unless told otherwise."""
    return plan_of(solve_season(prepared, options))
