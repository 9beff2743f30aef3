"""One pairing that every rule allows: what it brings, takes and counts for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pair = tuple[str, str]
"""A pairing: (dam, sire)."""


@dataclass(frozen=True, slots=True, eq=False)
class Luck:
    """What a pair brings in each sampled season, the same seasons for every pair.

    ``money``, shape (seasons,), is at full prices less costs, with the extra of holdbacks and the
    prices of soft rules in it; ``counts[t]``, shape (seasons,), the young that wish term ``t``
    counts. Terms that count none are left out.
    """

    money: Array
    counts: Mapping[int, NDArray[np.int16]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One pairing that every rule allows.

    ``value`` is the expected money it brings with every young sold at full price, costs taken off;
    ``extra`` what holdbacks add while every wish is open, and
    ``penalty`` what soft rules take off. ``eggs`` is the expected clutch if she goes, ``box_eggs``
    the size at which incubator boxes are counted, ``young`` the expected hatchlings (the chance
    that she does not go included). ``spend`` is money that goes out before any young is sold,
    ``kept`` the expected young held back and ``kin`` their mean kinship with the collection.

    Uncertain parents that are shared or kin make clutches dependent: they are a *family*, and what
    is counted is given for each of its states (see ``Problem.family_states``; one row for a certain
    one). ``counts[t]``, shape (states, most young + 1), is the probability of 0, 1, 2 ... young
    that wish term ``t`` counts; ``none[c]``, shape (states,), the chance that chance wish ``c``
    gets nothing from this clutch. Wishes that the pair cannot serve are left out of both.
    ``count_families`` and ``none_families`` name the family by wish, where it is another than the
    sire's own clutches. ``means``, where given, are the means of ``counts`` over all states, and
    ``swing`` is how much less spread the dam's eggs may be than a Poisson number (see
    :mod:`brumal.planner.wishes.mean_spread`). ``luck`` is there where bad seasons count (see
    :mod:`brumal.planner.risk.cvar`).
    """

    dam: str
    sire: str
    value: float
    young: float
    eggs: float
    box_eggs: float
    F: float = 0.0
    spend: float = 0.0
    kept: float = 0.0
    kin: float = 0.0
    extra: float = 0.0
    penalty: float = 0.0
    counts: Mapping[int, Array] = field(default_factory=dict)
    none: Mapping[int, Array] = field(default_factory=dict)
    count_families: Mapping[int, str] = field(default_factory=dict)
    none_families: Mapping[int, str] = field(default_factory=dict)
    means: Mapping[int, float] | None = None
    swing: float = 0.0
    luck: Luck | None = None

    @property
    def worth(self) -> float:
        """Return what the objective gives for this pair before any surplus is taken off."""
        return self.value + self.extra - self.penalty

    @property
    def pair(self) -> Pair:
        """Return (dam, sire)."""
        return (self.dam, self.sire)

    def family_of_count(self, term: int) -> str:
        """Return the family in which this clutch stands for a wish term."""
        return self.count_families.get(term, self.sire)

    def family_of_none(self, wish: int) -> str:
        """Return the family in which this clutch stands for a chance wish."""
        return self.none_families.get(wish, self.sire)
