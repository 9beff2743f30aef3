"""Ctrl-C during a solve: it ends with the best plan so far instead of with nothing.

Asked once, a solve that has no plan yet goes on to the first one; asked again it ends without.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_AT_ONCE = 2
"""Asked so often, a solve ends without a plan too."""


class _Watch:
    """Whether someone listens for Ctrl-C, and how often it came."""

    on = False
    times = 0


def is_watched() -> bool:
    """Say whether Ctrl-C is to stop a solve."""
    return _Watch.on


def is_asked() -> bool:
    """Say whether a solve is to stop."""
    return _Watch.times > 0


def must_stop(has_plan: bool) -> bool:
    """Say whether a solve is to stop now, with a plan or without."""
    return _Watch.times >= (1 if has_plan else _AT_ONCE)


@contextmanager
def keeping_best(told: Callable[[], None]) -> Iterator[None]:
    """Let Ctrl-C stop the solves inside, each with its best plan; ``told`` is called when it comes.

    Only in the main thread of a program, which is where signals arrive.
    """

    def ask(*_: object) -> None:
        _Watch.times += 1
        told()

    before = signal.signal(signal.SIGINT, ask)
    _Watch.on = True
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        _Watch.on, _Watch.times = False, 0


@contextmanager
def stopping_all() -> Iterator[None]:
    """Let Ctrl-C stop every solve inside, plan or none, and then end as it always does.

    A solver at work would else go on to its end first. Only in the main thread, as above.
    """

    def ask(*_: object) -> None:
        _Watch.times = _AT_ONCE

    before = signal.signal(signal.SIGINT, ask)
    _Watch.on = True
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        asked = is_asked()
        _Watch.on, _Watch.times = False, 0
        if asked:
            raise KeyboardInterrupt
