"""The season as a choice to be made: candidate pairs, limits and wishes, free of any solver."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.occupancy import Places, Spans, places_for, places_taken
from brumal.planner.pairs.candidate import Array, Candidate, Pair
from brumal.planner.pairs.columns import PairColumns, Pairs, columns_of

_CERTAIN = np.ones(1)
_ROUNDING = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskWeight:
    """How much bad seasons count: ``weight``, from 0 to 1, on the worst ``bad`` of ``seasons``."""

    weight: float
    bad: int
    seasons: int


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RouteWorth:
    """What this season's pairs add to a wish that may wait, all of them together.

    A slot is filled where one of its pairs is made; the pairs of a slot have one dam, and those of
    different slots are different. ``gains`` gives for every set of slots (by number) that a plan
    can fill what it adds to the chance of a target in later seasons, discounted; times ``value`` it
    is money. A plan that fills none of them gains nothing.
    """

    morph: str
    value: float
    slots: tuple[frozenset[Pair], ...]
    gains: Mapping[frozenset[int], float]

    def made(self, pairs: Iterable[Pair]) -> frozenset[int]:
        """Return the slots that a plan of these pairs fills."""
        there = set(pairs)
        return frozenset(n for n, slot in enumerate(self.slots) if not there.isdisjoint(slot))

    def money(self, pairs: Iterable[Pair]) -> float:
        """Return what a plan of these pairs adds, in money."""
        return self.value * self.gains[self.made(pairs)]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRow:
    """One more thing a plan must do: the coefficients of its pairs add up to ``at_least`` or more.

    Pairs that are not among the candidates count nothing.
    """

    coefficients: Mapping[Pair, float]
    at_least: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Problem:
    """Everything the model needs; all limits are the keeper's own.

    ``sires`` gives the chances of each sire of pairs of which the one named is not certain: such a
    pair is a pairing of each of them.
    ``family_states`` holds the probability of each state of a family of clutches, by its name: the
    possible genotypes of a sire that wishes can see (his clutches bear his name), or the joint ones
    of uncertain kin. A family left out is certain.
    ``small_clutch`` eggs or fewer share a box, ``box_clutches`` of them to a box. In each span of
    the season a clutch is in its box with a chance of ``in_box`` at most (see ``Spans``), where the
    boxes must be enough all season with a chance of ``sure``; ``shares`` holds pairs whose clutch
    is there with a share of these chances only, ``room`` how places are counted. In the fullest
    week a share ``in_tub`` of the expected young is in tubs; all are 1 where everything counts as
    being there
    at once. ``must`` are
    pairs that have to stand (each among the candidates), ``made`` those of them that are
    settled already, ``facts`` those of these that stand by what was written down of this
    season: no limit undoes them, and beyond it they leave nothing for others. ``real`` are those
    that have laid: their eggs have boxes of their own, until they hatch.
    ``must_breed`` are females that have to be paired with someone. ``use_costs`` is money that an
    animal costs once if it is paired (a fee, a price, a sale forgone) and ``income`` money that
    comes in if none is (all sales made). ``spend`` limits what goes out before sales, ``paid``
    being the animals whose cost counts in it. ``most_pairs`` keeps females resting; ``sire_share``
    and ``max_kin`` bind the young held back: the share of one sire, and their mean kinship.
    ``None`` means no limit. ``more`` are conditions that a question puts, such as to differ from a
    given plan. ``risk`` says how much bad seasons count; every candidate then has its luck.
    ``routes`` are wishes that may wait. ``agreed`` are pairs of an earlier plan: each that a plan
    gives up counts ``keep_for`` against it.
    """

    candidates: Sequence[Candidate]
    male_limits: Mapping[str, int]
    sires: Mapping[Pair, Mapping[str, float]] = field(default_factory=dict)
    family_states: Mapping[str, Array] = field(default_factory=dict)
    boxes: int | None = None
    box_clutches: int = 2
    small_clutch: float = 6
    tubs: int | None = None
    in_box: Spans = ((1.0,),)
    shares: Mapping[Pair, float] = field(default_factory=dict)
    room: Places = field(default_factory=Places)
    in_tub: float = 1.0
    sure: float = 1.0
    must: tuple[Pair, ...] = ()
    made: frozenset[Pair] = frozenset()
    facts: frozenset[Pair] = frozenset()
    real: frozenset[Pair] = frozenset()
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
    risk: RiskWeight | None = None
    routes: tuple[RouteWorth, ...] = ()
    agreed: frozenset[Pair] = frozenset()
    keep_for: float = 0.0

    @cached_property
    def columns(self) -> PairColumns:
        """Return what sums over all candidates read of them."""
        if isinstance(self.candidates, Pairs):
            return self.candidates.columns
        return columns_of(self.candidates, len(self.wish_terms))

    def only(self, keep: Sequence[int]) -> Problem:
        """Return the season with only some of its candidate pairs, by their indices."""
        if isinstance(self.candidates, Pairs):
            return replace(self, candidates=self.candidates.only(keep))
        return replace(self, candidates=tuple(self.candidates[index] for index in keep))

    def must_stand(self) -> NDArray[np.bool_]:
        """Say of each candidate whether it is a pair that has to stand."""
        found = np.zeros(len(self.candidates), dtype=bool)
        if self.must:
            must = set(self.must)
            found[:] = [pair in must for pair in self.columns.pairs]
        return found

    def states_of(self, family: str) -> Array:
        """Return the probabilities of a family's states, shape (states,)."""
        return self.family_states.get(family, _CERTAIN)

    def routes_money(self, chosen: Iterable[int]) -> float:
        """Return what these pairs add to wishes that may wait, in money."""
        if not self.routes:
            return 0.0
        pairs = [self.columns.pairs[index] for index in chosen]
        return sum(route.money(pairs) for route in self.routes)

    @property
    def fixed(self) -> float:
        """Return money that every plan has: ``income``, less all that giving up pairs may count.

        Pairs that stand add theirs again, by ``standing``.
        """
        return self.income - self.keep_for * len(self.agreed)

    @cached_property
    def standing(self) -> Array:
        """Return what each candidate adds for being agreed already, shape (candidates,)."""
        if not self.agreed:
            return np.zeros(len(self.candidates))
        stands = [pair in self.agreed for pair in self.columns.pairs]
        return self.keep_for * np.array(stands, dtype=np.float64)

    def switches(self, chosen: Iterable[int]) -> float:
        """Return what a plan loses by the agreed pairs that it gives up: zero, or below."""
        if not self.agreed:
            return 0.0
        kept = self.agreed.intersection(self.columns.pairs[index] for index in chosen)
        return -self.keep_for * (len(self.agreed) - len(kept))

    def use_cost(self, chosen: Iterable[int]) -> float:
        """Return what the animals of these pairs cost for being used at all, each once."""
        if not self.use_costs:
            return 0.0
        used = {animal for index in chosen for animal in self.columns.pairs[index]}
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

    def with_room(self) -> Problem:
        """Return the season with places counted as fits its boxes; with more they are alike."""
        if self.boxes is None or self.free_boxes >= len(self.columns.dams) or not self.shares:
            return self
        law = self.box_clutches, self.in_box, self.sure
        return replace(self, room=places_for(self.free_boxes, *law))

    @property
    def free_boxes(self) -> int:
        """Return how many boxes clutches that have been laid leave."""
        return max((self.boxes or 0) - self.real_boxes, 0)

    @property
    def box_places(self) -> float | None:
        """Return how many places the boxes have, one a small clutch; ``None``: no limit.

        They do not depend on who may breed: a female that rests takes none from the others.
        """
        if self.boxes is None:
            return None
        if self.free_boxes >= len(self.columns.dams):
            # A box for each: as many places as anyone could take, found without a sum.
            return self.box_clutches * self.free_boxes
        return self.room.there(self.free_boxes, self.box_clutches, self.in_box, self.sure)

    @property
    def real_boxes(self) -> int:
        """Return how many boxes are taken by clutches that have been laid."""
        taken = [each for each in self.candidates if each.pair in self.real] if self.real else []
        small = sum(self.is_small(each) for each in taken if each.box_eggs > 0)
        large = sum(not self.is_small(each) for each in taken)
        return -(-small // self.box_clutches) + large

    @cached_property
    def places(self) -> Array:
        """Return the places that the clutch of each candidate takes beside those that are laid."""
        taken = places_taken(self.columns.box_eggs, self.small_clutch, self.box_clutches)
        if self.shares:
            shares = [self.shares.get(pair, 1.0) for pair in self.columns.pairs]
            taken = self.room.taken(taken, np.array(shares))
        if self.real:
            taken = np.where([pair in self.real for pair in self.columns.pairs], 0.0, taken)
        return taken

    def boxes_used(self, chosen: Iterable[int]) -> int:
        """Count the boxes that these pairs fill, or need to be sure enough in every week."""
        taken = float(self.places[list(chosen)].sum()) - _ROUNDING
        law = self.box_clutches, self.in_box, self.sure
        # Where the season's own boxes are enough, no more of them are looked at.
        kept = self.room.there(self.free_boxes, *law) >= taken
        most = self.free_boxes if kept else len(self.columns.dams)
        needed = bisect_left(range(most), taken, key=lambda boxes: self.room.there(boxes, *law))
        return self.real_boxes + needed

    def tubs_used(self, chosen: Iterable[int]) -> float:
        """Return the expected hatchlings in tubs, in the fullest week where weeks count."""
        return self.in_tub * sum(self.candidates[index].young for index in chosen)
