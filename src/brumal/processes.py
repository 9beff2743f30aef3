"""How a process collects garbage, and how processes that help another begin and end."""

from __future__ import annotations

import atexit
import gc
import multiprocessing
import os
import signal
import threading
import warnings
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import resource_tracker

_RECORDS = 2_000_000
_PARENT_GONE = 70
_USUAL = gc.get_threshold()


def collect_garbage_seldom() -> None:
    """Look for cycles after millions of new records only: more often costs a sixth of a run."""
    gc.set_threshold(_RECORDS, 50, 50)


def collect_garbage_as_usual() -> None:
    """Look for cycles as Python does by itself: for a process that runs on and mostly waits."""
    gc.set_threshold(*_USUAL)


def skip_last_collection() -> None:
    """Look for no cycles once more: the process ends, and all its memory with it."""
    gc.freeze()


def begin_helper() -> None:
    """Set up a process that helps another: pools call this when it starts.

    Ctrl-C is for the one that is helped, which ends its helpers; where that one is gone, however it
    ended, so is the helper.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    collect_garbage_seldom()
    atexit.register(skip_last_collection)
    threading.Thread(target=_end_with_parent, daemon=True).start()


@contextmanager
def out_of_reach() -> Iterator[None]:
    """Begin processes that Ctrl-C does not reach while they still load their modules.

    They inherit what this thread holds back; systems without such a mask (Windows) go without.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # beginning it later would lift the mask
    held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, held)


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(_PARENT_GONE)


@contextmanager
def may_fork() -> Iterator[None]:
    """Begin the work of other processes, which may fork this one, without a warning of threads.

    Those here are of the array library, which ends them before a fork by itself.
    """
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "This process .* is multi-threaded")
        yield


def end_helpers(pool: ProcessPoolExecutor, at_once: bool) -> None:
    """End the processes of a pool, when their work is done or ``at_once``: nobody waits for it."""
    if at_once:
        for helper in list(pool._processes.values()):
            helper.terminate()
    pool.shutdown(cancel_futures=True)
