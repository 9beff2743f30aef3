"""Everything that ``brumal plan`` writes, for the demo season and for one of hostile names."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from contextlib import redirect_stderr, redirect_stdout
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from brumal.cli import main
from brumal.insight.why.outlook import Outlook, look_ahead
from brumal.pipeline import Prepared, prepare
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.planner.season import solve_season

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "scenarios" / "demo"
FILES = ("calendar.ics", "cards.html", "plan.csv", "plan.html", "plan.json", "plan.xlsx")

SCRIPT = "<script>alert(1)</script>"
LINK = '=HYPERLINK("x.invalid","look")'
LONG = "Snowdrop" * 37 + "drop"
HEBREW = "\u05e9\u05dc\u05d5\u05dd \u05e7\u05e8\u05d7"
TURNED = "\u202eturned\u202d"
EMOJI = "\U0001f40d\u2744\ufe0f"
BREAKS = "</td></table></svg><img src=x onerror=alert(2)> & \"quotes' ]]>"
ESCAPES = "\x1b[31mred\x07"
HOSTILE = (SCRIPT, LINK, LONG, HEBREW, TURNED, EMOJI, BREAKS, ESCAPES)
SEASON_NAME = "<b>Season</b> {{ 7 * 7 }}"
COLUMNS = (
    "id",
    "name",
    "sex",
    "hatched",
    "morph",
    "weight_g",
    "weighed",
    "condition",
    "dam",
    "sire",
)
assert len(LONG) == 300


@lru_cache
def demo() -> tuple[Prepared, Plan, Outlook]:
    prepared = prepare(DEMO)
    season = solve_season(prepared)
    plan = plan_of(season)
    return prepared, plan, look_ahead(season, plan)


def written(folder: Path) -> Mapping[str, bytes]:
    """Plan a season by the command and return what it wrote, by file name."""
    with (
        TemporaryDirectory() as out,
        redirect_stdout(io.StringIO()),
        redirect_stderr(io.StringIO()),
    ):
        assert main(["plan", str(folder), "--out", out]) == 0
        return {path.name: path.read_bytes() for path in Path(out).glob("[!.]*")}


@lru_cache
def demo_files() -> Mapping[str, bytes]:
    return written(DEMO)


@lru_cache
def hostile_files() -> Mapping[str, bytes]:
    with TemporaryDirectory() as folder:
        return written(hostile_season(Path(folder)))


def hostile_season(folder: Path) -> Path:
    """Write a season whose names, ids and notes all try something."""
    rows = []
    for number, name in enumerate(HOSTILE):
        rows.append(_row(f"F{number}", name, "female", "Pastel", 1900 if number < 7 else 1300))
        rows.append(_row(f"M{number}", name, "male", "Clown", 900))
    rows.append(_row("=1+2", "@SUM(1)", "female", "Mojave", 1800))
    rows.append(_row("F9", "kin", "female", "Mojave het Clown", 1800, "=1+2", "M0"))
    rows.append(_row("F10", "kin", "female", "Pastel het Clown", 1800, "F0", "M1"))
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(COLUMNS)
    table.writerows(rows)
    (folder / "animals.csv").write_text(out.getvalue(), encoding="utf-8", newline="")
    weights = [
        f"F{number},2026-{month:02}-14,{1200 + 20 * month}"
        for number in range(len(HOSTILE))
        for month in (5, 7, 9)
    ]
    (folder / "weights.csv").write_text(
        "\n".join(["animal,date,grams", *weights]), encoding="utf-8"
    )
    (folder / "season.yaml").write_text(
        f"season: {{name: '{SEASON_NAME}', pair_from: 2026-12-01, pair_to: 2027-03-31}}\n"
        "currency: '=€<i>'\n"
        "limits: {boxes: 9, weekly: false, tubs: 60}\n"
        f"locks: {{must_pair: [{', '.join(f'[F{n}, M{n}]' for n in range(7))}, ['=1+2', M7]]}}\n"
        "values: {base: 40, wanted: [{morph: Clown, value: 200, chance: 0.1}]}\n",
        encoding="utf-8",
    )
    return folder


def _row(
    id_: str, name: str, sex: str, morph: str, grams: int, dam: str = "", sire: str = ""
) -> tuple[object, ...]:
    hatched = "2022-07-01" if dam else "2018-07-01"
    return (id_, name, sex, hatched, morph, grams, "2026-11-14", 3, dam, sire)
