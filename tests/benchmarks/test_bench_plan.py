"""The whole ``brumal plan``, as a keeper starts it, in multiples of the frozen yardstick.

Whole is the process from its start to its end: reading the folder, genetics, pricing every pair,
wishes and chances, the proof, explaining, simulated seasons, and every file written. Python's
bytecode is compiled beforehand, as installing does. Seasons have 20 wishes and ask for no chance
that cannot be had (chances that cannot are taken out, and told). The yardstick is run before,
between and after, since other work on the machine moves both.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import pytest

from benchmarks.conftest import Season, Tell
from benchmarks.yardstick import yardstick

SEEDS = range(1, 11)
SIZES = ((20, 6), (50, 15), (70, 20), (100, 28), (150, 40))
MEDIAN, WORST, LARGE = 1.0, 2.0, 3.0
STICK_EVERY = 3


@dataclass(frozen=True)
class Ran:
    """One process: seconds by the clock, what it said of its parts, the gap it proved."""

    seconds: float
    parts: str
    gap: float


def whole_plan(folder: Path, out: Path, compiled: Path, *options: str) -> Ran:
    """Run ``brumal plan`` to its end; the plan must be proven."""
    kept = {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    brumal = str(Path(sys.executable).parent / "brumal")
    command = [brumal, "plan", str(folder), "--out", str(out), "--timings", *options]
    start = time.perf_counter()
    done = subprocess.run(
        command,
        capture_output=True,
        text=True,
        check=False,
        env=kept | {"PYTHONPYCACHEPREFIX": str(compiled)},
    )
    seconds = time.perf_counter() - start
    assert done.returncode == 0, done.stderr
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["verdict"] == "proven"
    return Ran(seconds, done.stderr[done.stderr.index("Seconds") :], plan["gap"])


@pytest.mark.benchmark
@pytest.mark.parametrize("options", [(), ("--gap", "0.001")], ids=["default", "gap 0.001"])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]} x {size[1]}")
def test_the_plan_of_the_seasons_people_have(
    size: tuple[int, int],
    options: tuple[str, ...],
    tmp_path: Path,
    season_of: Season,
    tell: Tell,
) -> None:
    compiled, sticks, runs = tmp_path / "compiled", [yardstick()], []
    for seed in SEEDS:
        folder = season_of(*size, seed)
        if seed == SEEDS[0]:
            whole_plan(folder, tmp_path / "out", compiled, *options)
        runs.append(whole_plan(folder, tmp_path / "out", compiled, *options))
        if seed % STICK_EVERY == 0:
            sticks.append(yardstick())
    stick = median(sticks)
    ratios = sorted(run.seconds / stick for run in runs)
    tell(
        f"plan {size[0]} x {size[1]}, {' '.join(options) or 'default gap'}",
        f"{median(ratios):.2f} yardsticks in the median, worst {ratios[-1]:.2f} "
        f"(bounds {MEDIAN}, {WORST}); gaps up to {max(run.gap for run in runs):.1e}; "
        f"a yardstick is {stick:.2f} s",
    )
    print([round(ratio, 2) for ratio in ratios])
    assert median(ratios) <= MEDIAN
    assert ratios[-1] <= WORST


@pytest.mark.benchmark
def test_the_plan_of_a_season_of_500(tmp_path: Path, season_of: Season, tell: Tell) -> None:
    folder = season_of(500, 100, 1)
    sticks = [yardstick()]
    whole_plan(folder, tmp_path / "out", tmp_path / "compiled")
    run = whole_plan(folder, tmp_path / "out", tmp_path / "compiled")
    sticks += [yardstick(), yardstick()]
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
    ratio = run.seconds / median(sticks)
    tell(
        "plan 500 x 100",
        f"{ratio:.2f} yardsticks (bound {LARGE}), gap {run.gap:.1e}, {memory:,.0f} MB",
    )
    print(run.parts)
    assert ratio <= LARGE
