"""How a process keeps house, and makes others: many small records, few cycles among them."""

from __future__ import annotations

import atexit
import gc
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

_RECORDS = 2_000_000


def seldom_look_for_cycles() -> None:
    """Look for cycles after millions of new records only: more often costs a sixth of a run."""
    gc.set_threshold(_RECORDS, 50, 50)


def leave_all_behind() -> None:
    """Look for no cycles once more: the process ends, and all its memory with it."""
    gc.freeze()


def begin_helper() -> None:
    """Keep house in a process that helps another: pools call this when it starts."""
    seldom_look_for_cycles()
    atexit.register(leave_all_behind)


@contextmanager
def may_fork() -> Iterator[None]:
    """Begin the work of other processes, which may fork this one, without a warning of threads.

    Those here are of the array library, which ends them before a fork by itself.
    """
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "This process .* is multi-threaded")
        yield
