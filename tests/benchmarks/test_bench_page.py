"""Clicks on the planning page against the frozen yardstick: the first answer, and the best plan.

A click is one pencil mark, taken back before the next. It is timed from the question sent to the
worker process to its answers: the first one (the last plan mended), and the best plan with its
proof. The yardstick runs before and after, since other work on the machine moves both.
"""

from __future__ import annotations

import json
import queue
import shutil
import subprocess
import sys
import time
import urllib.parse
import urllib.request
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
FLAT = 1.1
"""What a process may hold after five hundred changes, over what it held after a hundred."""
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
    *_, solved = answered(helper, told, Ask(number=0, records=records, unmarked=True))
    assert isinstance(solved, Solved)
    return tuple((pair.dam, pair.sire) for pair in solved.plan.pairs)


class Sitting:
    """A keeper's sitting at ``brumal open``, by HTTP as a browser without script has it."""

    def __init__(self, server: subprocess.Popen[str], address: str) -> None:
        self.server, self.root = server.pid, address.split("?")[0].rstrip("/")
        jar = urllib.request.HTTPCookieProcessor()
        self._opener = urllib.request.build_opener(jar)
        self._opener.open(address).close()

    def change(self, address: str, form: dict[str, str]) -> None:
        body = urllib.parse.urlencode(form).encode()
        asked = urllib.request.Request(f"{self.root}{address}", body, {"origin": self.root})
        asked.add_header("x-page", "script")
        self._opener.open(asked).close()

    def settle(self) -> None:
        while b'data-busy="no"' not in self._opener.open(f"{self.root}/").read():
            pass

    @property
    def held(self) -> tuple[float, float]:
        """Return the megabytes that the server and its worker hold."""
        listed = Path(f"/proc/{self.server}/task/{self.server}/children")
        children = map(int, listed.read_text(encoding="utf-8").split())
        return resident(self.server), max(map(resident, children))


@contextmanager
def sitting(folder: Path, out: Path) -> Iterator[Sitting]:
    command = [sys.executable, "-m", "brumal", "open", str(folder), "--no-browser"]
    command += ["--port", "0", "--out", str(out)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        try:
            lines = (line.strip() for line in server.stdout)
            yield Sitting(server, next(line for line in lines if line.startswith("http")))
        finally:
            server.terminate()


def form_of(mark: Mark) -> dict[str, str]:
    """Return what the page sends for a mark."""
    if mark.kind is Kind.SET:
        path = json.dumps(mark.subject, ensure_ascii=False)
        return {"kind": "set", "path": path, "value": mark.value}
    dam, *sire = mark.subject
    words = {Kind.REST: "rest", Kind.APART: "apart", Kind.WITH: "with"}
    return {"kind": "hand", "animal": dam, "what": " ".join([words[mark.kind], *sire])}


@pytest.mark.benchmark
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is read from /proc")
def test_memory_over_many_clicks(tell: Tell, tmp_path: Path) -> None:
    """Marks made and undone on the demo, each tenth waited for, others overtaken by the next."""
    folder = Path(shutil.copytree(DEMO, tmp_path / "demo"))
    marks = clicks(DEMO)
    held = []
    with sitting(folder, tmp_path / "out") as page:
        page.settle()
        for number in range(MANY):
            mark = form_of(marks[number // 2 % len(marks)])
            page.change(*(("/undo", {}) if number % 2 else ("/pencil", mark)))
            if number % 10 == 4:
                page.settle()
            if number % 50 == 49:
                held.append(page.held)
    by_process = dict(zip(("server", "worker"), zip(*held, strict=True), strict=True))
    for name, each in by_process.items():
        told = ", ".join(f"{megabytes:.0f}" for megabytes in each)
        tell(f"the page, demo, megabytes of the {name} by fifty changes", told)
    # Warm after a hundred; growth after that would be a leak.
    assert all(each[-1] <= FLAT * each[1] for each in by_process.values())
