"""Odds of whole clutches: at least one young of a kind, how many, and what they look like.

Young of one clutch share their parents, so while a parent's genotype is uncertain they are not
independent: a 2/3 carrier on a visual gives at least one visual among six young with
2/3 x (1 - 1/64) = 21/32, not 1 - (2/3)^6. Every figure here is therefore a mixture over what the
parents may be, with independent young inside each case.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
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
from brumal.genetics.looks import NORMAL, pair_at
from brumal.genetics.masks import OPEN, Scene, admitted, scenes_of
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
    locus. ``female`` is the share of females among them, ``scene`` what of them nobody can see,
    ``parts`` their look at each linkage group.
    """

    chance: float
    shown: tuple[tuple[str, AllelePair], ...]
    hidden: tuple[HiddenPair, ...]
    female: float
    scene: Scene = OPEN
    parts: tuple[VisualClass, ...] = field(default=(), compare=False, repr=False)


Ways = Mapping[str, Predicate] | Sequence[Mapping[str, Predicate]]
"""Predicates by linkage group, or several sets of them: young that satisfy all of one are counted.

No young may satisfy two sets.
"""


def success_chances(
    offspring: Offspring, ways: Ways, catalogue: Catalogue
) -> tuple[tuple[float, float], ...]:
    """Return the mixture of the chance that one young satisfies every predicate of a way.

    A way maps a linkage group to a test of the young's diplotype there; groups without one do not
    matter. The result holds (chance of a young, weight of the case), sorted by chance, the weights
    summing to one. Raises ``KeyError`` for a group that the catalogue does not hold.
    """
    tables = {odds.group: odds for odds in offspring.groups}
    sets = [ways] if isinstance(ways, Mapping) else ways
    mixed: dict[tuple[float, ...], float] = {(1.0,) * len(sets): 1.0}
    for group in sorted({group for way in sets for group in way}):
        tests = [way.get(group) for way in sets]
        if group not in tables:
            # Left-out groups are certainly wild type in every young.
            wild = wild_pair(catalogue.groups[group], Sex.FEMALE)
            met = [fits is None or fits(wild) for fits in tests]
            cases = [(1.0, [float(yes) for yes in met])]
        else:
            cases = [
                (case.weight, [_share(case.outcomes, fits) for fits in tests])
                for case in tables[group].cases
            ]
        longer: dict[tuple[float, ...], float] = {}
        for (chances, weight), (more, shares) in itertools.product(mixed.items(), cases):
            key = tuple([c * share for c, share in zip(chances, shares, strict=True)])
            longer[key] = longer.get(key, 0.0) + weight * more
        mixed = longer
    total: dict[float, float] = {}
    for chances, weight in mixed.items():
        # Sums of odds may pass one by a rounding error, which powers would carry on.
        chance = min(sum(chances), 1.0)
        total[chance] = total.get(chance, 0.0) + weight
    return tuple(sorted(total.items()))


def _share(outcomes: Belief, fits: Predicate | None) -> float:
    return 1.0 if fits is None else sum([chance for found, chance in outcomes if fits(found)])


def chance_of_one(
    offspring: Offspring, ways: Ways, young: int | Pmf, catalogue: Catalogue
) -> float:
    """Return the probability of at least one young that satisfies every predicate of a way.

    ``young`` is the number of young, or the probability of each number (length: most young + 1).
    """
    counts = young_pmf(young)
    numbers = np.arange(len(counts))
    return sum(
        weight * float(counts @ -np.expm1(numbers * _log_miss(chance)))
        for chance, weight in success_chances(offspring, ways, catalogue)
        if chance > 0
    )


def count_distribution(
    offspring: Offspring, ways: Ways, young: int | Pmf, catalogue: Catalogue
) -> Pmf:
    """Return the probability of 0, 1, 2, ... young that satisfy every predicate of a way.

    ``young`` as in ``chance_of_one``; the result has the length of its probabilities.
    """
    counts = young_pmf(young)
    most = len(counts) - 1
    hits = np.arange(most + 1)
    misses = np.maximum(hits[:, None] - hits[None, :], 0)
    total = np.zeros(most + 1)
    for chance, weight in success_chances(offspring, ways, catalogue):
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
    made = [
        joined_look(looks, [odds.group for odds in offspring.groups])
        for scene in scenes_of(offspring.groups, catalogue)
        for looks in itertools.product(
            *(group_looks(odds, catalogue, scene) for odds in offspring.groups)
        )
    ]
    return tuple(sorted(made, key=lambda look: (-round(look.chance, 12), look.shown)))


def joined_look(looks: Sequence[VisualClass], groups: Sequence[str]) -> VisualClass:
    """Join the looks of a young at each of its linkage groups, the sex group among them."""
    return VisualClass(
        chance=math.prod(look.chance for look in looks),
        shown=tuple(sorted(pair for look in looks for pair in look.shown)),
        hidden=tuple(
            sorted((h for look in looks for h in look.hidden), key=lambda h: (h.locus, h.pair))
        ),
        female=looks[groups.index(SEX_GROUP)].female,
        scene=looks[0].scene,
        parts=tuple(looks),
    )


def looks_like(group: str, look: VisualClass, catalogue: Catalogue) -> Predicate:
    """Return the test of a diplotype of a linkage group for belonging to a young of this look."""
    shown, scene = dict(look.shown), look.scene
    places = [
        (place, locus, shown.get(locus, NORMAL))
        for place, locus in enumerate(catalogue.groups[group].loci)
        if locus != SEX_LOCUS
    ]

    def fits(carried: Diplotype) -> bool:
        return all(
            scene.admits(locus, pair) and scene.look(locus, pair, catalogue) == seen
            for place, locus, seen in places
            for pair in [pair_at(carried, place)]
        )

    return fits


def given_look(odds: GroupOdds, look: VisualClass, catalogue: Catalogue) -> Belief:
    """Return the odds of each diplotype of one linkage group among the young that look so."""
    fits = looks_like(odds.group, look, catalogue)
    alike = [(pair, chance) for pair, chance in marginal(odds) if fits(pair)]
    total = math.fsum(chance for _, chance in alike)
    return tuple((pair, chance / total) for pair, chance in alike)


@lru_cache(maxsize=1 << 12)
def group_looks(odds: GroupOdds, catalogue: Catalogue, scene: Scene) -> tuple[VisualClass, ...]:
    """Return the looks of one linkage group in a scene, its loci taken together.

    The chances add up to that of what the scene admits here. Equal arguments give the same objects.
    """
    loci = catalogue.groups[odds.group].loci
    places = [(place, locus) for place, locus in enumerate(loci) if locus != SEX_LOCUS]
    members: dict[tuple[AllelePair, ...], list[tuple[Diplotype, float]]] = {}
    for pair, chance in marginal(odds):
        if admitted(scene, odds.group, pair, catalogue):
            look = tuple(
                scene.look(locus, pair_at(pair, place), catalogue) for place, locus in places
            )
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
                scene=scene,
            )
        )
    return tuple(looks)


def _log_miss(chance: float) -> float:
    """Return the log of the chance that one young misses; certain hits get a floor, not -inf."""
    return math.log1p(-chance) if chance < 1 else -1e6


@lru_cache(maxsize=256)
def _choose(most: int) -> Pmf:
    """Return the binomial coefficients: row n, column k, zero above the diagonal."""
    table = np.array([[math.comb(n, k) for k in range(most + 1)] for n in range(most + 1)], float)
    table.setflags(write=False)
    return table
