"""Fifty what-ifs of a large season in one run, against one `brumal plan` process for each."""

from __future__ import annotations

import os
import re
import resource
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from big_seasons import big_season

from brumal.insight.compare.parallel import WORKERS

SCENARIOS = 50
SAMPLE = 10
"""So many of the scenarios are planned in processes of their own; the others take as long."""
GAP = "0.01"

Change = tuple[str, str, str, str]
"""Overlay text, and by hand: file, pattern, what to write in its place."""


def changes(folder: Path) -> list[Change]:
    """Return fifty changes of every kind, those of one kind apart from each other."""
    animals = (folder / "animals.csv").read_text(encoding="utf-8")
    season = (folder / "season.yaml").read_text(encoding="utf-8")
    males = re.findall(r"^(M\d+),.*breeder", animals, re.M)
    females = re.findall(r"^(F\d+),.*,(?!1\.5)[\d.]+,breeder", animals, re.M)
    prices = re.findall(r"morph: (.+)\n +value: (\d+)\n", season)
    found: list[Change] = []
    for number in range(SCENARIOS // 5):
        boxes, tubs, cap = 40 + 2 * number + (number == 5), 200 + 12 * number, 0.03 * number
        morph, value = prices[number % len(prices)]
        male, female = males[number], females[number]
        found += [
            _limit("boxes", r"boxes: \d+", f"boxes: {boxes}"),
            _limit("tubs", r"tubs: \d+", f"tubs: {tubs}"),
            _limit("max_F", r"max_F: [\d.]+", f"max_F: {cap:g}"),
            (
                f"values: {{wanted: {{{morph}: {{value: {int(value) + 15}}}}}}}",
                "season.yaml",
                rf"(morph: {morph}\n +value: ){value}\n",
                rf"\g<1>{int(value) + 15}\n",
            ),
            _animal(male, "status: outside", "breeder", "outside")
            if number % 2
            else _animal(female, "condition: 1.5", r"\d\.?\d?,breeder", "1.5,breeder"),
        ]
    return found


def _limit(key: str, pattern: str, text: str) -> Change:
    return f"limits: {{{text}}}", "season.yaml", pattern, text


def _animal(id: str, change: str, pattern: str, text: str) -> Change:
    return (
        f"animals: {{{id}: {{{change}}}}}",
        "animals.csv",
        rf"(?m)^({id},.*?),{pattern}",
        rf"\g<1>,{text}",
    )


def timed(*command: str) -> tuple[float, float]:
    """Return the seconds that a command took, and the seconds of computing in all processes."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", "from brumal.cli import main; raise SystemExit(main())", *command],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    computed = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - start, computed


def by_hand(folder: Path, copy: Path, change: Change) -> Path:
    _, file, pattern, text = change
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("what-if"))
    before = (copy / file).read_text(encoding="utf-8")
    after, count = re.subn(pattern, text, before, count=1)
    assert count == 1, change
    (copy / file).write_text(after, encoding="utf-8")
    return copy


@pytest.mark.benchmark
def test_fifty_what_ifs_against_fifty_processes(tmp_path: Path) -> None:
    folder = big_season(tmp_path / "season", 200, 40)
    every = changes(folder)
    (folder / "what-if").mkdir()
    for number, change in enumerate(every):
        (folder / "what-if" / f"s{number:02d}.yaml").write_text(change[0], encoding="utf-8")
    # Two of each kind: the kinds take turns.
    sample = [every[5 * number + number % 5] for number in range(SAMPLE)]
    alone = [
        timed(
            "plan",
            str(by_hand(folder, tmp_path / f"copy{number}", change)),
            "--gap",
            GAP,
            "--out",
            str(tmp_path / f"plan{number}"),
        )
        for number, change in enumerate(sample)
    ]
    together = timed("compare", str(folder), "--gap", GAP, "--out", str(tmp_path / "compared"))
    apart = [sum(each) / len(alone) * len(every) for each in zip(*alone, strict=True)]
    by_clock, by_work = (one / other for one, other in zip(together, apart, strict=True))
    print(
        f"\n{len(every)} what-ifs of 200 x 40 at gap {GAP} by {WORKERS} workers, against one "
        f"process each (measured on {len(alone)}): {by_clock:.3f} of the time, "
        f"{by_work:.3f} of the computing; {together[0]:.0f} s against {apart[0]:.0f} s; "
        f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    )
    # On a machine with other work the clock says little: then the computing, shared by two cores.
    assert min(by_clock, by_work / WORKERS) <= 1 / 3
