"""Clicks on the planning page against the frozen yardstick: the first answer, and the best plan.

A click is one pencil mark, taken back before the next. It is timed from the question sent to the
worker process to its answers: the first one (the last plan mended), and the best plan with its
proof. The yardstick runs before and after, since other work on the machine moves both.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

import pytest

from benchmarks.conftest import Season, Tell
from benchmarks.yardstick import yardstick
from brumal.page.desk import lay
from brumal.page.helper import Helper
from brumal.page.messages import Ask, Base, Failed, First, Reply, Solved
from brumal.page.pencil import Kind, Mark
from brumal.pipeline import prepare
from brumal.planner.season import solve_season
from brumal.records.folder import SeasonRecords

DEMO = Path(__file__).parents[2] / "scenarios" / "demo"
CLICKS = 20
MANY = 500
SHARE = 0.95
FIRST, BEST = 0.1, 0.5
"""In yardsticks."""
PATIENCE = 300.0


@contextmanager
def worker(records: SeasonRecords) -> Iterator[tuple[Helper, queue.Queue[Reply]]]:
    told: queue.Queue[Reply] = queue.Queue()
    helper = Helper(told.put)
    helper.start()
    helper.send(Base(records=records))
    try:
        yield helper, told
    finally:
        helper.close()


def clicks(folder: Path) -> list[Mark]:
    """Return marks of every kind on the females, males, room and prices of a season's plan."""
    season = solve_season(prepare(folder))
    pairs = [each.pair for each in season.pairs]
    wishes = season.prepared.records.settings.values.wanted
    marks = []
    for (dam, sire), wish in zip(pairs, wishes, strict=False):
        others = [each.sire for each in season.candidates_of(dam) if each.sire != sire]
        marks += [
            Mark(Kind.REST, (dam,)),
            Mark(Kind.APART, (dam, sire)),
            *[Mark(Kind.WITH, (dam, other)) for other in others[:1]],
            Mark(Kind.SET, ("limits", "boxes"), f"+{1 + len(marks) % 3}"),
            Mark(Kind.SET, ("values", "wanted", wish.morph, "value"), "-30%"),
        ]
    return marks


def answered(
    helper: Helper, told: queue.Queue[Reply], ask: Ask
) -> tuple[float, float, Solved | Failed]:
    """Return the seconds to the first answer and to the last, and that one."""
    start, first = time.perf_counter(), 0.0
    helper.send(ask)
    while True:
        reply = told.get(timeout=PATIENCE)
        now = time.perf_counter() - start
        if reply.number != ask.number:
            continue
        if isinstance(reply, First):
            first = now
        if isinstance(reply, Solved | Failed):
            return first or now, now, reply


def resident(pid: int | None) -> float:
    """Return the megabytes of memory that a process holds."""
    pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="utf-8").split()[1])
    return pages * 4096 / 1e6


def share_within(seconds: list[float], bound: float) -> float:
    return sum(each <= bound for each in seconds) / len(seconds)


@pytest.mark.benchmark
@pytest.mark.parametrize("size", ["demo", "60 x 15"])
def test_clicks(season_of: Season, tell: Tell, size: str) -> None:
    folder = DEMO if size == "demo" else season_of(60, 15, 1)
    records, marks = prepare(folder).records, clicks(folder)[:CLICKS]
    rods = [yardstick()]
    firsts, bests = [], []
    with worker(records) as (helper, told):
        before = _base(helper, told, records)
        for number, mark in enumerate(marks, start=1):
            under = lay(records, [mark]).records
            assert under is not None
            ask = Ask(number=number, records=under, before=before)
            first, best, _ = answered(helper, told, ask)
            firsts.append(first)
            bests.append(best)
    rods.append(yardstick())
    rod = median(rods)
    tell(
        f"the page, {size}, {len(marks)} clicks, in yardsticks",
        f"first answer median {median(firsts) / rod:.3f}, worst {max(firsts) / rod:.3f}; best plan "
        f"median {median(bests) / rod:.3f}, worst {max(bests) / rod:.3f}",
    )
    assert share_within(firsts, FIRST * rod) >= SHARE
    assert share_within(bests, BEST * rod) >= SHARE


def _base(
    helper: Helper, told: queue.Queue[Reply], records: SeasonRecords
) -> tuple[tuple[str, str], ...]:
    *_, solved = answered(helper, told, Ask(number=0, records=records, ink=True))
    assert isinstance(solved, Solved)
    return tuple((pair.dam, pair.sire) for pair in solved.plan.pairs)


@pytest.mark.benchmark
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is read from /proc")
def test_memory_over_many_clicks(tell: Tell) -> None:
    """The small season, so that five hundred clicks take no longer than a sitting."""
    folder = DEMO.parent / "small"
    records, marks = prepare(folder).records, clicks(folder)
    held = []
    with worker(records) as (helper, told):
        before = _base(helper, told, records)
        for number in range(1, MANY + 1):
            under = lay(records, [marks[number % len(marks)]]).records
            assert under is not None
            answered(helper, told, Ask(number=number, records=under, before=before))
            if number % 50 == 0:
                held.append(resident(helper.pid))
    tell("the page, megabytes by fifty clicks", ", ".join(f"{each:.0f}" for each in held))
    # Warm after two hundred; growth after that would be a leak.
    assert held[-1] <= 1.1 * held[3]
