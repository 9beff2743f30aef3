"""What welfare notes take from clutches: fertility of the parents, young that do not live."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from brumal.forecast.history import PastClutch


@dataclass(frozen=True, slots=True, kw_only=True)
class Welfare:
    """What notes take from clutches.

    ``fertile`` is the share of the usual fertility that a note leaves an animal (those without a
    note left out), ``lethal`` the share of a pair's young that do not live (0 left out).
    """

    fertile: Mapping[str, float] = field(default_factory=dict)
    lethal: Mapping[tuple[str, str], float] = field(default_factory=dict)


def fertility_left(welfare: Welfare, past: Sequence[PastClutch], pair: tuple[str, str]) -> float:
    """Return what notes on the parents leave of a pair's fertility.

    Each clutch of the animal's own on record counts as much as the note: common practice, no
    source.
    """
    noted = [(one, welfare.fertile[one]) for one in pair if one in welfare.fertile]
    if not noted:
        return 1.0
    own = Counter(
        parent for each in past if each.fertile is not None for parent in {each.dam, each.sire}
    )
    return math.prod((share + own[one]) / (1 + own[one]) for one, share in noted)


def lowered(share: tuple[float, float], factor: float) -> tuple[float, float]:
    """Return a share and its strength times a factor; what is zero is so for certain."""
    mean = share[0] * factor
    return mean, share[1] if mean > 0 else math.inf
