"""What one pair's young may be, by look, by exact genotype and by what is wanted of them.

Chances of one young are exact; chances of a clutch are mixtures over what the parents may be, so
that an uncertain parent counts once for all young. Long lists are cut only to what is asked for,
and what is left out is counted.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.clutch_odds import (
    Pmf,
    Predicate,
    VisualClass,
    Ways,
    chance_of_one,
    count_distribution,
    group_looks,
    joined_look,
    looks_like,
    success_chances,
)
from brumal.genetics.crosses.cross import marginal
from brumal.genetics.crosses.meiosis import is_wild, sex_of
from brumal.genetics.genotypes import (
    SEX_GROUP,
    AllelePair,
    Claim,
    Diplotype,
    GroupOdds,
    Morph,
    Offspring,
)
from brumal.genetics.looks import NORMAL, pair_at
from brumal.genetics.masks import Scene, admitted, scenes_of
from brumal.genetics.notation.class_names import class_name
from brumal.genetics.notation.parse import format_morph
from brumal.genetics.wishes import Need, Wish
from brumal.insight.sheets.exact_names import exact_claims
from brumal.records.animals import Sex

T = TypeVar("T")

_SURE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """How likely one kind of young is.

    ``each`` is the chance that one young is of this kind, ``expected`` the mean number in the
    clutch, ``one`` the chance of at least one in it.
    """

    each: float
    expected: float
    one: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LookOdds:
    """Young that look alike, named with the conditional chance of each het.

    ``doubles`` holds (gene, chance) where these young may carry a second copy unseen, of a
    dominant or of what their look hides;
    ``females`` is the share of females among them.
    """

    name: str
    chances: Chances
    doubles: tuple[tuple[str, float], ...]
    females: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GenotypeOdds:
    """Young of one exact genotype; ``sex`` is set where a sex-linked gene is in play."""

    name: str
    sex: Sex | None
    chances: Chances


@dataclass(frozen=True, slots=True, kw_only=True)
class WishOdds:
    """Young that satisfy a wanted entry; ``counts`` is the chance of 0, 1, 2, ... in the clutch."""

    morph: str
    chances: Chances
    counts: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Rest:
    """What a list leaves out: how many kinds of young, and their chance together."""

    kinds: int
    chance: float


@dataclass(frozen=True, slots=True, eq=False)
class Clutch:
    """The young of a pair: the odds of each, and how many there are (``young``, from 0)."""

    offspring: Offspring
    young: Pmf
    catalogue: Catalogue

    def chances(self, ways: Ways) -> Chances:
        """Return how likely young are that satisfy every predicate of a way."""
        cases = success_chances(self.offspring, ways, self.catalogue)
        each = math.fsum(chance * weight for chance, weight in cases)
        one = float(chance_of_one(self.offspring, ways, self.young, self.catalogue))
        return Chances(each=each, expected=each * self.mean, one=one)

    @property
    def mean(self) -> float:
        """Return the mean number of young."""
        return float(self.young @ np.arange(len(self.young)))


def look_odds(
    clutch: Clutch, most: int, trade_names: bool = False
) -> tuple[tuple[LookOdds, ...], Rest]:
    """Return the ``most`` likeliest looks, the likeliest first, and what is left out.

    With ``trade_names`` they bear the combination names of the trade.
    """
    groups = clutch.offspring.groups
    kinds, found = 0, []
    for scene in scenes_of(groups, clutch.catalogue):
        tables = [
            [(look.chance, look) for look in group_looks(odds, clutch.catalogue, scene)]
            for odds in groups
        ]
        kinds += math.prod(len(table) for table in tables)
        found += likeliest(tables, most)
    looks = [_look(looks, clutch, trade_names) for _, looks in likeliest_first(found)[:most]]
    return tuple(looks), _rest(kinds, [row.chances.each for row in looks])


def genotype_odds(clutch: Clutch, most: int) -> tuple[tuple[GenotypeOdds, ...], Rest]:
    """Return the ``most`` likeliest genotypes, the likeliest first, and what is left out.

    Genotypes are told apart by their alleles at each locus, not by the strand on which linked
    alleles lie; of a male's sex-linked allele the sex chromosome is named.
    """
    groups = clutch.offspring.groups
    tables = [_genotypes(odds, clutch.catalogue) for odds in groups]
    found = [_genotype(parts, clutch) for _, parts in likeliest(tables, most)]
    kinds = math.prod(len(table) for table in tables)
    return tuple(found), _rest(kinds, [row.chances.each for row in found])


def wish_odds(clutch: Clutch, wishes: Iterable[Wish]) -> tuple[WishOdds, ...]:
    """Return the odds of young that satisfy each wanted entry, in order."""
    found = []
    for wish in wishes:
        asked = wish_ways(wish, clutch)
        counts = count_distribution(clutch.offspring, asked, clutch.young, clutch.catalogue)
        found.append(
            WishOdds(
                morph=wish.text,
                chances=clutch.chances(asked),
                counts=tuple(float(chance) for chance in counts),
            )
        )
    return tuple(found)


def wish_ways(wish: Wish, clutch: Clutch) -> list[dict[str, Predicate]]:
    """Return what a wanted entry asks of a young's diplotypes, for every scene that can be.

    A gene under a look that hides it counts if it is certain by the parents, a het by its chance.
    """
    catalogue = clutch.catalogue
    groups = {odds.group: odds for odds in clutch.offspring.groups}
    scenes = scenes_of(groups.values(), catalogue)
    ways = []
    for scene in scenes:
        asked: dict[str, list[tuple[int, Need, frozenset[AllelePair] | None]]] = {}
        for need in wish.needs:
            for group in catalogue.groups.values():
                if need.locus in group.loci:
                    place = group.loci.index(need.locus)
                    possible = _possible(scene, need.locus, place, groups.get(group.id))
                    asked.setdefault(group.id, []).append((place, need, possible))
        told = sorted({*asked, *groups} if len(scenes) > 1 else asked)
        ways.append({g: _satisfies(asked.get(g, ()), scene, g, catalogue) for g in told})
    return ways


def _possible(
    scene: Scene, locus: str, place: int, odds: GroupOdds | None
) -> frozenset[AllelePair] | None:
    """Return what young of a scene may have at a hidden locus, ``None`` where it can be seen."""
    if locus not in scene.hidden:
        return None
    if odds is None:
        return frozenset({NORMAL})
    pairs = {pair_at(carried, place) for case in odds.cases for carried, _ in case.outcomes}
    return frozenset(pair for pair in pairs if scene.admits(locus, pair))


def likeliest(
    tables: Sequence[Sequence[tuple[float, T]]], most: int
) -> list[tuple[float, tuple[T, ...]]]:
    """Return the ``most`` likeliest joint outcomes of independent tables of (chance, outcome).

    The likeliest comes first; equals keep the order of the tables. A part that is not among the
    likeliest of its own tables cannot belong to a whole that is, so that nothing but the asked
    number is ever held.
    """
    kept: list[tuple[float, tuple[T, ...]]] = [(1.0, ())]
    for table in tables:
        longer = [
            (sofar * chance, (*parts, part)) for sofar, parts in kept for chance, part in table
        ]
        kept = likeliest_first(longer)[:most]
    return kept


def likeliest_first(joint: Iterable[tuple[float, T]]) -> list[tuple[float, T]]:
    """Sort by chance; chances that differ by rounding alone are equal, whatever the machine."""
    return sorted(joint, key=lambda each: -float(f"{each[0]:.12g}"))


def _rest(kinds: int, shown: Sequence[float]) -> Rest:
    left = kinds - len(shown)
    return Rest(left, max(1.0 - math.fsum(shown), 0.0) if left else 0.0)


def _look(looks: Sequence[VisualClass], clutch: Clutch, trade_names: bool) -> LookOdds:
    groups = [odds.group for odds in clutch.offspring.groups]
    whole = joined_look(looks, groups)
    predicates = {group: looks_like(group, whole, clutch.catalogue) for group in groups}
    return LookOdds(
        name=class_name(whole, clutch.catalogue, trade_names),
        chances=clutch.chances(predicates),
        doubles=tuple(
            (h.pair[1], h.chance)
            for h in whole.hidden
            if h.pair[0] == h.pair[1] and h.chance < 1 - _SURE
        ),
        females=whole.female,
    )


def _satisfies(
    needs: Sequence[tuple[int, Need, frozenset[AllelePair] | None]],
    scene: Scene,
    group: str,
    catalogue: Catalogue,
) -> Predicate:
    def fits(carried: Diplotype) -> bool:
        return admitted(scene, group, carried, catalogue) and all(
            need.told(pair_at(carried, place), possible) for place, need, possible in needs
        )

    return fits


_Part = tuple[tuple[Claim, ...], Sex | None]


def _genotypes(odds: GroupOdds, catalogue: Catalogue) -> list[tuple[float, _Part]]:
    """Return the genotypes of one linkage group with their chances."""
    key = _genotype_key(odds, catalogue)
    chances: dict[_Part, float] = {}
    for pair, chance in marginal(odds):
        part = key(pair)
        chances[part] = chances.get(part, 0.0) + chance
    return [(chance, part) for part, chance in chances.items()]


def _genotype_key(odds: GroupOdds, catalogue: Catalogue) -> Callable[[Diplotype], _Part]:
    """Return what tells the genotypes of a group apart; sexes only where they matter."""
    sexes = odds.group == SEX_GROUP and not all(
        is_wild(pair) for case in odds.cases for pair, _ in case.outcomes
    )

    def key(pair: Diplotype) -> _Part:
        claims = exact_claims(odds.group, pair, catalogue)
        return claims, sex_of(pair) if sexes else None

    return key


def _genotype(parts: Sequence[_Part], clutch: Clutch) -> GenotypeOdds:
    claims = sorted((claim for part, _ in parts for claim in part), key=lambda claim: claim.locus)
    predicates = {
        odds.group: _is(part, _genotype_key(odds, clutch.catalogue))
        for odds, part in zip(clutch.offspring.groups, parts, strict=True)
    }
    return GenotypeOdds(
        name=format_morph(Morph(tuple(claims)), clutch.catalogue),
        sex=next((sex for _, sex in parts if sex is not None), None),
        chances=clutch.chances(predicates),
    )


def _is(part: _Part, key: Callable[[Diplotype], Hashable]) -> Predicate:
    return lambda pair: key(pair) == part
