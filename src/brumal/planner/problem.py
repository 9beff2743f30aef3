"""The season as a choice to be made: candidate pairs, limits and wishes, free of any solver."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Pair = tuple[str, str]
"""A pairing: (dam, sire)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One pairing that every rule allows.

    ``value`` is the expected money it brings with every young sold at full price, costs taken off;
    ``sd`` its standard deviation. ``eggs`` is the expected clutch if she goes, ``box_eggs`` the
    size at which incubator boxes are counted, ``young`` the expected hatchlings (the chance that
    she does not go included). ``counts[t]`` is the probability of 0, 1, 2 ... young that wish term
    ``t`` counts; ``log_none[c]`` the natural log of the chance that chance wish ``c`` gets nothing
    from this clutch. Terms that the pair cannot serve are left out of both.
    """

    dam: str
    sire: str
    value: float
    young: float
    eggs: float
    box_eggs: float
    F: float = 0.0
    sd: float = 0.0
    counts: Mapping[int, Array] = field(default_factory=dict)
    log_none: Mapping[int, float] = field(default_factory=dict)

    @property
    def pair(self) -> Pair:
        """Return (dam, sire)."""
        return (self.dam, self.sire)


@dataclass(frozen=True, slots=True, kw_only=True)
class WishTerm:
    """A saturating wish: each counted young beyond ``threshold`` costs ``cost`` of its full price.

    Both ``need`` with ``value_after`` and ``keep`` come to this: the objective loses
    ``cost * E[max(N - threshold, 0)]`` where ``N`` is the number of counted young in the season.
    """

    id: str
    words: str
    threshold: int
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceWish:
    """At least one young of a morph with at least this probability."""

    id: str
    words: str
    at_least: float

    @property
    def log_limit(self) -> float:
        """Return log(1 - at_least): what the sum of log P(none) may be at most."""
        return math.log1p(-self.at_least)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Everything the model needs; all limits are the keeper's own.

    ``small_clutch`` eggs or fewer share a box, ``box_clutches`` of them to a box. ``must`` are
    pairs that have to stand (each among the candidates). ``None`` means no limit.
    """

    candidates: tuple[Candidate, ...]
    male_limits: Mapping[str, int]
    boxes: int | None = None
    box_clutches: int = 2
    small_clutch: float = 6
    tubs: int | None = None
    must: tuple[Pair, ...] = ()
    wish_terms: tuple[WishTerm, ...] = ()
    chances: tuple[ChanceWish, ...] = ()

    def is_small(self, candidate: Candidate) -> bool:
        """Say whether this clutch may share an incubator box."""
        return candidate.box_eggs <= self.small_clutch

    def boxes_used(self, chosen: Iterable[int]) -> int:
        """Count the boxes that these pairs fill: small clutches packed, larger ones alone."""
        small = [self.is_small(self.candidates[index]) for index in chosen]
        return -(-sum(small) // self.box_clutches) + small.count(False)
