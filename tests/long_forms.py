"""Which seeds of a check run by default; its other seeds run in the slow form."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest


def thinned(values: Sequence[Any], step: int, first: int = 0) -> list[Any]:
    """Return all values as parameters, every ``step``-th from ``first`` on not marked slow."""
    return [
        value if at % step == first else pytest.param(value, marks=pytest.mark.slow)
        for at, value in enumerate(values)
    ]
