"""Numbers as they are given on the command line."""

from __future__ import annotations

import argparse
from collections.abc import Callable


def whole_number(least: int, most: int) -> Callable[[str], int]:
    """Return a reader of whole numbers from ``least`` to ``most`` for an option."""

    def read(text: str) -> int:
        value = int(text) if text.strip().lstrip("-").isdecimal() else least - 1
        if not least <= value <= most:
            raise argparse.ArgumentTypeError(f"a whole number from {least:,} to {most:,}")
        return value

    return read


def share(text: str) -> float:
    """Read a chance between 0 and 1, both ends excluded."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value < 1:
        raise argparse.ArgumentTypeError(f"a chance between 0 and 1, not {text!r}")
    return value
