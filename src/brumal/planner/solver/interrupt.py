"""Ctrl-C during a solve: it ends with the best plan so far instead of with nothing.

Asked once, a solve that has no plan yet goes on to the first one; asked again it ends without; and
asked once more whatever is under way ends, as Ctrl-C does everywhere.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_AT_ONCE = 2
"""Asked so often, a solve ends without a plan too."""


class _Asked:
    """How often Ctrl-C came."""

    times = 0


def is_asked() -> bool:
    """Say whether a solve is to stop."""
    return _Asked.times > 0


def must_stop(has_plan: bool) -> bool:
    """Say whether a solve is to stop now, with a plan or without."""
    return _Asked.times >= (1 if has_plan else _AT_ONCE)


def ask_to_stop(keep: bool) -> None:
    """Stop the solve under way from another thread: with its best plan (``keep``), or at once.

    It holds until ``may_go_on``; solves begun before that stop as well.
    """
    _Asked.times = max(_Asked.times, 1 if keep else _AT_ONCE)


def may_go_on() -> None:
    """Let solves run again that another thread had stopped."""
    _Asked.times = 0


@contextmanager
def keeping_best(told: Callable[[], None]) -> Iterator[None]:
    """Let Ctrl-C stop the solves inside, each with its best plan; ``told`` is called when it comes.

    Only in the main thread of a program, which is where signals arrive.
    """
    with _counting(1, told):
        yield


@contextmanager
def stopping_all() -> Iterator[None]:
    """Let Ctrl-C stop every solve inside, plan or none, and then end as it always does.

    A solver at work would else go on to its end first. Only in the main thread, as above.
    """
    with _counting(_AT_ONCE, lambda: None) as was_asked:
        yield
    if was_asked():
        raise KeyboardInterrupt


@contextmanager
def _counting(step: int, told: Callable[[], None]) -> Iterator[Callable[[], bool]]:
    asked = False

    def ask(*_: object) -> None:
        nonlocal asked
        asked = True
        if _Asked.times >= _AT_ONCE:
            raise KeyboardInterrupt
        _Asked.times += step
        told()

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield lambda: asked
    finally:
        signal.signal(signal.SIGINT, before)
        _Asked.times = 0
