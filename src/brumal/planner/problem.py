"""The season as a choice to be made: candidate pairs, limits and wishes, free of any solver."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_CERTAIN = np.ones(1)
Pair = tuple[str, str]
"""A pairing: (dam, sire)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One pairing that every rule allows.

    ``value`` is the expected money it brings with every young sold at full price, costs taken off;
    ``extra`` what holdbacks add while every wish is open, and
    ``penalty`` what soft rules take off. ``eggs`` is the expected clutch if she goes, ``box_eggs``
    the size at which incubator boxes are counted, ``young`` the expected hatchlings (the chance
    that she does not go included).

    A sire of uncertain genotype makes his clutches dependent, so what is counted is given for each
    of his possible genotypes (see ``Problem.sire_states``; one row for a certain sire).
    ``counts[t]``, shape (states, most young + 1), is the probability of 0, 1, 2 ... young that
    wish term ``t`` counts; ``none[c]``, shape (states,), the chance that chance wish ``c`` gets
    nothing from this clutch. Wishes that the pair cannot serve are left out of both.
    """

    dam: str
    sire: str
    value: float
    young: float
    eggs: float
    box_eggs: float
    F: float = 0.0
    extra: float = 0.0
    penalty: float = 0.0
    counts: Mapping[int, Array] = field(default_factory=dict)
    none: Mapping[int, Array] = field(default_factory=dict)

    @property
    def worth(self) -> float:
        """Return what the objective gives for this pair before any surplus is taken off."""
        return self.value + self.extra - self.penalty

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

    ``sire_states`` holds the probability of each possible genotype of a sire that wishes can see;
    a sire left out is certain.
    ``small_clutch`` eggs or fewer share a box, ``box_clutches`` of them to a box. ``must`` are
    pairs that have to stand (each among the candidates), ``must_breed`` females that have to be
    paired with someone. ``None`` means no limit.
    """

    candidates: tuple[Candidate, ...]
    male_limits: Mapping[str, int]
    sire_states: Mapping[str, Array] = field(default_factory=dict)
    boxes: int | None = None
    box_clutches: int = 2
    small_clutch: float = 6
    tubs: int | None = None
    must: tuple[Pair, ...] = ()
    must_breed: tuple[str, ...] = ()
    wish_terms: tuple[WishTerm, ...] = ()
    chances: tuple[ChanceWish, ...] = ()

    def states_of(self, sire: str) -> Array:
        """Return the probabilities of a sire's possible genotypes, shape (states,)."""
        return self.sire_states.get(sire, _CERTAIN)

    def is_small(self, candidate: Candidate) -> bool:
        """Say whether this clutch may share an incubator box."""
        return candidate.box_eggs <= self.small_clutch

    def boxes_used(self, chosen: Iterable[int]) -> int:
        """Count the boxes that these pairs fill: small clutches packed, larger ones alone."""
        small = [self.is_small(self.candidates[index]) for index in chosen]
        return -(-sum(small) // self.box_clutches) + small.count(False)
