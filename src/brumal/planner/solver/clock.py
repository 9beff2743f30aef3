"""How long a solve may still take."""

from __future__ import annotations

import time

from brumal.planner.solver.interrupt import must_stop


class Clock:
    """Seconds left of a time limit; it is over as well when the keeper asks to stop."""

    def __init__(self, seconds: float | None) -> None:
        """Start now; ``None`` is no limit."""
        self._end = None if seconds is None else time.monotonic() + seconds

    def left(self) -> float | None:
        """Return the seconds left, never below 0.01; ``None``: no limit."""
        return None if self._end is None else max(0.01, self._end - time.monotonic())

    def is_over(self, has_plan: bool = True) -> bool:
        """Say whether it is time to stop."""
        return must_stop(has_plan) or (self._end is not None and time.monotonic() >= self._end)
