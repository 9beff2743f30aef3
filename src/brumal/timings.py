"""Where the time of a run goes, by part of the work: by the clock, and spent computing.

Work is marked with :func:`timed` where it is done; marks cost next to nothing unless a run asks to
be timed. Parts may nest: what an inner part takes is not counted for the outer one.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

START = "starting"


@dataclass(slots=True)
class Spent:
    """Seconds of the clock and of computing."""

    clock: float = 0.0
    computing: float = 0.0


@dataclass(slots=True)
class Timings:
    """What each part has taken so far, in the order in which parts first began.

    The time before a run is timed is known by its computing alone.
    """

    parts: dict[str, Spent] = field(default_factory=dict)
    _open: list[str] = field(default_factory=list)
    _since: Spent = field(default_factory=Spent)

    def enter(self, name: str) -> None:
        """Begin a part; what was under way waits."""
        self._charge()
        self._open.append(name)
        self.parts.setdefault(name, Spent())

    def leave(self) -> None:
        """End the part that began last."""
        self._charge()
        self._open.pop()

    def _charge(self) -> None:
        now = Spent(time.perf_counter(), time.process_time())
        if self._open:
            spent = self.parts[self._open[-1]]
            spent.clock += now.clock - self._since.clock
            spent.computing += now.computing - self._since.computing
        self._since = now


_running: ContextVar[Timings | None] = ContextVar("timings", default=None)


@contextmanager
def timing(rest: str) -> Iterator[Timings]:
    """Time a run; what no part claims counts as ``rest``."""
    timings = Timings({START: Spent(0.0, time.process_time())})
    token = _running.set(timings)
    timings.enter(rest)
    try:
        yield timings
    finally:
        timings.leave()
        _running.reset(token)


@contextmanager
def timed(name: str) -> Iterator[None]:
    """Mark work as part of a run; also a decorator."""
    timings = _running.get()
    if timings is None:
        yield
        return
    timings.enter(name)
    try:
        yield
    finally:
        timings.leave()


def peak_memory() -> float | None:
    """Return the most memory the process has held, in MB; ``None`` where no one keeps count."""
    if importlib.util.find_spec("resource") is None:
        return None
    resource = importlib.import_module("resource")
    most = float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    # Linux counts in kilobytes, macOS in bytes.
    return most / (1e6 if sys.platform == "darwin" else 1e3)


def table(timings: Timings) -> str:
    """Return the parts as a plain table, with their sum and the peak of memory."""
    spent = [*timings.parts.items()]
    total = Spent(sum(each.clock for _, each in spent), sum(each.computing for _, each in spent))
    width = max(len(name) for name, _ in spent)
    lines = [f"{'Seconds':{width}}  {'clock':>8}  {'computing':>9}"]
    lines += [f"{name:{width}}  {_clock(each):>8}  {each.computing:9.2f}" for name, each in spent]
    lines.append(f"{'in all':{width}}  {_clock(total):>8}  {total.computing:9.2f}")
    memory = peak_memory()
    if memory is not None:
        lines.append(f"Peak of memory: {memory:,.0f} MB")
    return "\n".join(lines)


def _clock(spent: Spent) -> str:
    return f"{spent.clock:.2f}" if spent.clock else "-"
