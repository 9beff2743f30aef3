"""brumal: a season planner for people who breed ball (royal) pythons.

The functions of :mod:`brumal.library` are offered here: ``read``, ``solve``, ``plan``, ``cross``,
``kinship`` and ``animal``.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

# Tables are small: threads of NumPy's BLAS cost more than they bring, and the last digit of a sum
# would hang on how many there are. NumPy reads this when it is loaded, which is yet to come.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if TYPE_CHECKING:
    from brumal.library import animal, cross, kinship, plan, read, solve

__version__ = "0.1.0"
__all__ = ["animal", "cross", "kinship", "plan", "read", "solve"]


def __getattr__(name: str) -> object:
    # Loaded when first asked for: a command that needs little starts sooner.
    if name in __all__:
        from brumal import library

        return getattr(library, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
