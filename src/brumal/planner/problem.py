"""The season as a choice to be made: candidate pairs, limits and wishes, free of any solver."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.occupancy import boxes_in_use, clutch_places

Array = NDArray[np.float64]
_CERTAIN = np.ones(1)
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
class Risk:
    """How much bad seasons count: ``weight``, from 0 to 1, on the worst ``bad`` of ``seasons``."""

    weight: float
    bad: int
    seasons: int


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
    sire's own clutches.
    ``means``, where given, are the means of ``counts`` over all states, and ``swing`` is how much
    less spread the dam's eggs may be than a Poisson number (see :mod:`brumal.planner.rough`).
    ``luck`` is there where bad seasons count (see :mod:`brumal.planner.risk`).
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
class PairRow:
    """One more thing a plan must do: the coefficients of its pairs add up to ``at_least`` or more.

    Pairs that are not among the candidates count nothing.
    """

    coefficients: Mapping[Pair, float]
    at_least: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Everything the model needs; all limits are the keeper's own.

    ``family_states`` holds the probability of each state of a family of clutches, by its name: the
    possible genotypes of a sire that wishes can see (his clutches bear his name), or the joint ones
    of uncertain kin. A family left out is certain.
    ``small_clutch`` eggs or fewer share a box, ``box_clutches`` of them to a box. In the fullest
    week a clutch is in its box with a chance of ``in_box`` at most, where the boxes must be enough
    with a chance of ``sure``, and a share ``in_tub`` of the expected young is in tubs; all are 1
    where everything counts as being there at once. ``must`` are
    pairs that have to stand (each among the candidates), ``made`` those of them that are
    facts already, ``must_breed`` females that have to be
    paired with someone. ``use_costs`` is money that an animal costs once if it is paired (a fee, a
    price, a sale forgone) and ``income`` money that comes in if none is (all sales made).
    ``spend`` limits what goes out before sales, ``paid`` being the animals whose cost counts in
    it. ``most_pairs`` keeps females resting; ``sire_share`` and ``max_kin`` bind the young held
    back: the share of one sire, and their mean kinship. ``None`` means no limit. ``more`` are
    conditions that a question puts, such as to differ from a given plan. ``risk`` says how much bad
    seasons count; every candidate then has its luck.
    """

    candidates: tuple[Candidate, ...]
    male_limits: Mapping[str, int]
    family_states: Mapping[str, Array] = field(default_factory=dict)
    boxes: int | None = None
    box_clutches: int = 2
    small_clutch: float = 6
    tubs: int | None = None
    in_box: float = 1.0
    in_tub: float = 1.0
    sure: float = 1.0
    must: tuple[Pair, ...] = ()
    made: frozenset[Pair] = frozenset()
    must_breed: tuple[str, ...] = ()
    use_costs: Mapping[str, float] = field(default_factory=dict)
    paid: frozenset[str] = frozenset()
    income: float = 0.0
    spend: float | None = None
    most_pairs: int | None = None
    sire_share: float | None = None
    max_kin: float | None = None
    wish_terms: tuple[WishTerm, ...] = ()
    chances: tuple[ChanceWish, ...] = ()
    more: tuple[PairRow, ...] = ()
    risk: Risk | None = None

    def states_of(self, family: str) -> Array:
        """Return the probabilities of a family's states, shape (states,)."""
        return self.family_states.get(family, _CERTAIN)

    def use_cost(self, chosen: Iterable[int]) -> float:
        """Return what the animals of these pairs cost for being used at all, each once."""
        used = {animal for index in chosen for animal in self.candidates[index].pair}
        return sum(self.use_costs.get(animal, 0.0) for animal in sorted(used))

    def spent(self, candidate: Candidate) -> float:
        """Return money that a pair takes before sales, a price paid for its dam included."""
        paid = self.use_costs.get(candidate.dam, 0.0) if candidate.dam in self.paid else 0.0
        return candidate.spend + paid

    def spending(self, chosen: Iterable[int]) -> float:
        """Return the money that a plan takes before sales."""
        pairs = [self.candidates[index] for index in chosen]
        sires = {pair.sire for pair in pairs} & self.paid
        fees = sum(self.use_costs[sire] for sire in sorted(sires))
        return sum(self.spent(pair) for pair in pairs) + fees

    def is_small(self, candidate: Candidate) -> bool:
        """Say whether this clutch may share an incubator box."""
        return candidate.box_eggs <= self.small_clutch

    def places(self, candidate: Candidate) -> float:
        """Return how many clutches' places a clutch takes in the incubator boxes."""
        return 1.0 if self.is_small(candidate) else float(self.box_clutches)

    @property
    def box_places(self) -> int | None:
        """Return how many places the boxes have, one a small clutch; ``None``: no limit.

        They do not depend on who may breed: a female that rests takes none from the others.
        """
        if self.boxes is None:
            return None
        dams = len({candidate.dam for candidate in self.candidates})
        if self.boxes >= dams:
            # A box for each: as many places as anyone could take, found without a sum.
            return self.box_clutches * self.boxes
        return clutch_places(self.boxes, self.box_clutches, self.in_box, self.sure)

    def places_taken(self, chosen: Iterable[int]) -> float:
        """Return how many of these places the clutches of pairs take."""
        return sum(self.places(self.candidates[index]) for index in chosen)

    def boxes_used(self, chosen: Iterable[int]) -> int:
        """Count the boxes that these pairs fill, or in the fullest week need to be sure enough."""
        small = [self.is_small(self.candidates[index]) for index in chosen]
        kinds = small.count(True), small.count(False)
        return boxes_in_use(*kinds, self.box_clutches, self.in_box, self.sure)

    def tubs_used(self, chosen: Iterable[int]) -> float:
        """Return the expected hatchlings in tubs, in the fullest week where weeks count."""
        return self.in_tub * sum(self.candidates[index].young for index in chosen)
