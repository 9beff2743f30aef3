"""Odds of whole clutches: at least one young of a kind, how many, and what they look like.

Young of one clutch share their parents, so while a parent's genotype is uncertain they are not
independent: a 2/3 carrier on a visual gives at least one visual among six young with
2/3 x (1 - 1/64) = 21/32, not 1 - (2/3)^6. Every figure here is therefore a mixture over what the
parents may be, with independent young inside each case.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.cross import marginal
from brumal.genetics.crosses.meiosis import sex_of, wild_pair
from brumal.genetics.genotypes import (
    SEX_GROUP,
    SEX_LOCUS,
    AllelePair,
    Belief,
    Diplotype,
    GroupOdds,
    Offspring,
)
from brumal.genetics.looks import NORMAL, pair_at, shown_pair
from brumal.records.animals import Sex

Predicate = Callable[[Diplotype], bool]
Pmf = npt.NDArray[np.float64]
"""Probability of each count 0, 1, 2, ...; sums to one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HiddenPair:
    """Alleles that a look does not show: their chance among the young that look so."""

    locus: str
    pair: AllelePair
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VisualClass:
    """Young that look alike: their share of all young, what shows, and what may be hidden.

    ``shown`` holds (locus, pair) where the look differs from normal, sorted by locus. ``hidden``
    holds each pair that a young of this look may carry instead of the one shown, with its
    conditional chance (the "66 %" of a normal young of two hets, or any exact figure), sorted by
    locus. ``female`` is the share of females among them.
    """

    chance: float
    shown: tuple[tuple[str, AllelePair], ...]
    hidden: tuple[HiddenPair, ...]
    female: float


def success_chances(
    offspring: Offspring, predicates: Mapping[str, Predicate], catalogue: Catalogue
) -> tuple[tuple[float, float], ...]:
    """Return the mixture of the chance that one young satisfies every predicate.

    ``predicates`` maps a linkage group to a test of the young's diplotype there; groups without one
    do not matter. The result holds (chance of a young, weight of the case), sorted by chance, the
    weights summing to one. Raises ``KeyError`` for a group that the catalogue does not hold.
    """
    tables = {odds.group: odds for odds in offspring.groups}
    mixed = {1.0: 1.0}
    for group, fits in sorted(predicates.items()):
        if group not in tables:
            # Left-out groups are certainly wild type in every young.
            if not fits(wild_pair(catalogue.groups[group], Sex.FEMALE)):
                return ((0.0, 1.0),)
            continue
        longer: dict[float, float] = {}
        for (chance, weight), case in itertools.product(mixed.items(), tables[group].cases):
            share = sum(p for pair, p in case.outcomes if fits(pair))
            # Sums of odds may pass one by a rounding error, which powers would carry on.
            product = min(chance * share, 1.0)
            longer[product] = longer.get(product, 0.0) + weight * case.weight
        mixed = longer
    return tuple(sorted(mixed.items()))


def chance_of_one(
    offspring: Offspring,
    predicates: Mapping[str, Predicate],
    young: int | Pmf,
    catalogue: Catalogue,
) -> float:
    """Return the probability of at least one young that satisfies every predicate.

    ``young`` is the number of young, or the probability of each number (length: most young + 1).
    """
    counts = young_pmf(young)
    numbers = np.arange(len(counts))
    return sum(
        weight * float(counts @ -np.expm1(numbers * _log_miss(chance)))
        for chance, weight in success_chances(offspring, predicates, catalogue)
        if chance > 0
    )


def count_distribution(
    offspring: Offspring,
    predicates: Mapping[str, Predicate],
    young: int | Pmf,
    catalogue: Catalogue,
) -> Pmf:
    """Return the probability of 0, 1, 2, ... young that satisfy every predicate.

    ``young`` as in ``chance_of_one``; the result has the length of its probabilities.
    """
    counts = young_pmf(young)
    most = len(counts) - 1
    hits = np.arange(most + 1)
    misses = np.maximum(hits[:, None] - hits[None, :], 0)
    total = np.zeros(most + 1)
    for chance, weight in success_chances(offspring, predicates, catalogue):
        table = _choose(most) * chance ** hits[None, :] * (1 - chance) ** misses
        total += weight * (counts @ table)
    return total


def young_pmf(young: int | Pmf) -> Pmf:
    """Return the number of young as probabilities; a fixed number becomes certain."""
    if isinstance(young, np.ndarray):
        return young
    certain = np.zeros(young + 1)
    certain[young] = 1.0
    return certain


def visual_classes(offspring: Offspring, catalogue: Catalogue) -> tuple[VisualClass, ...]:
    """Return every look the young of a pair may have, the likeliest first; nothing is left out."""
    classes = [VisualClass(chance=1.0, shown=(), hidden=(), female=0.5)]
    for odds in offspring.groups:
        looks = _group_looks(odds, catalogue)
        classes = [
            VisualClass(
                chance=sofar.chance * look.chance,
                shown=sofar.shown + look.shown,
                hidden=sofar.hidden + look.hidden,
                female=look.female if odds.group == SEX_GROUP else sofar.female,
            )
            for sofar in classes
            for look in looks
        ]
    ordered = (
        VisualClass(
            chance=made.chance,
            shown=tuple(sorted(made.shown)),
            hidden=tuple(sorted(made.hidden, key=lambda hidden: (hidden.locus, hidden.pair))),
            female=made.female,
        )
        for made in classes
    )
    return tuple(sorted(ordered, key=lambda made: (-round(made.chance, 12), made.shown)))


def given_look(odds: GroupOdds, look: VisualClass, catalogue: Catalogue) -> Belief:
    """Return the odds of each diplotype of one linkage group among the young that look so."""
    shown = dict(look.shown)
    loci = catalogue.groups[odds.group].loci
    places = [(place, locus) for place, locus in enumerate(loci) if locus != SEX_LOCUS]
    alike = [
        (pair, chance)
        for pair, chance in marginal(odds)
        if all(
            shown_pair(pair_at(pair, place), catalogue) == shown.get(locus, NORMAL)
            for place, locus in places
        )
    ]
    total = math.fsum(chance for _, chance in alike)
    return tuple((pair, chance / total) for pair, chance in alike)


def _group_looks(odds: GroupOdds, catalogue: Catalogue) -> list[VisualClass]:
    """Return the looks of one linkage group, its loci taken together."""
    loci = catalogue.groups[odds.group].loci
    places = [(place, locus) for place, locus in enumerate(loci) if locus != SEX_LOCUS]
    members: dict[tuple[AllelePair, ...], list[tuple[Diplotype, float]]] = {}
    for pair, chance in marginal(odds):
        look = tuple(shown_pair(pair_at(pair, place), catalogue) for place, _ in places)
        members.setdefault(look, []).append((pair, chance))
    looks = []
    for look, alike in members.items():
        chance = math.fsum(p for _, p in alike)
        hidden: dict[tuple[str, AllelePair], float] = {}
        for pair, p in alike:
            for (place, locus), shown in zip(places, look, strict=True):
                carried = pair_at(pair, place)
                if carried != shown:
                    hidden[locus, carried] = hidden.get((locus, carried), 0.0) + p / chance
        females = math.fsum(p for pair, p in alike if sex_of(pair) is Sex.FEMALE)
        looks.append(
            VisualClass(
                chance=chance,
                shown=tuple(
                    (locus, shown)
                    for (_, locus), shown in zip(places, look, strict=True)
                    if shown != NORMAL
                ),
                hidden=tuple(
                    HiddenPair(locus=locus, pair=pair, chance=p)
                    for (locus, pair), p in hidden.items()
                ),
                female=females / chance,
            )
        )
    return looks


def _log_miss(chance: float) -> float:
    """Return the log of the chance that one young misses; certain hits get a floor, not -inf."""
    return math.log1p(-chance) if chance < 1 else -1e6


@lru_cache(maxsize=256)
def _choose(most: int) -> Pmf:
    """Return the binomial coefficients: row n, column k, zero above the diagonal."""
    table = np.array([[math.comb(n, k) for k in range(most + 1)] for n in range(most + 1)], float)
    table.setflags(write=False)
    return table
