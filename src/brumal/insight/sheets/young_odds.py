"""What one pair's young may be, by look, by exact genotype and by what is wanted of them.

Chances of one young are exact; chances of a clutch are mixtures over what the parents may be, so
that an uncertain parent counts once for all young. Long lists are cut only to what is asked for,
and what is left out is counted.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.clutch_odds import (
    Pmf,
    Predicate,
    VisualClass,
    chance_of_one,
    count_distribution,
    success_chances,
    visual_classes,
)
from brumal.genetics.crosses.cross import marginal
from brumal.genetics.crosses.meiosis import is_wild, sex_of
from brumal.genetics.genotypes import (
    SEX_GROUP,
    SEX_LOCUS,
    WILD,
    Claim,
    Diplotype,
    GroupOdds,
    Morph,
    Offspring,
)
from brumal.genetics.looks import NORMAL, pair_at, shown_pair
from brumal.genetics.notation.class_names import class_name
from brumal.genetics.notation.parse import format_morph
from brumal.genetics.wishes import Need, Wish
from brumal.insight.sheets.exact_names import exact_claims
from brumal.records.animals import Sex

T = TypeVar("T")


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

    ``doubles`` holds (gene, chance) where these young may carry a second copy of a dominant unseen;
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

    def chances(self, predicates: Mapping[str, Predicate]) -> Chances:
        """Return how likely young are that satisfy every predicate, by linkage group."""
        cases = success_chances(self.offspring, predicates, self.catalogue)
        each = math.fsum(chance * weight for chance, weight in cases)
        one = float(chance_of_one(self.offspring, predicates, self.young, self.catalogue))
        return Chances(each=each, expected=each * self.mean, one=one)

    @property
    def mean(self) -> float:
        """Return the mean number of young."""
        return float(self.young @ np.arange(len(self.young)))


def look_odds(clutch: Clutch, most: int) -> tuple[tuple[LookOdds, ...], Rest]:
    """Return the ``most`` likeliest looks, the likeliest first, and what is left out."""
    groups = clutch.offspring.groups
    tables = [
        [(look.chance, look) for look in visual_classes(Offspring((odds,)), clutch.catalogue)]
        for odds in groups
    ]
    found = [_look(looks, clutch) for _, looks in likeliest(tables, most)]
    return tuple(found), _rest(tables, [row.chances.each for row in found])


def genotype_odds(clutch: Clutch, most: int) -> tuple[tuple[GenotypeOdds, ...], Rest]:
    """Return the ``most`` likeliest genotypes, the likeliest first, and what is left out.

    Genotypes are told apart by their alleles at each locus, not by the strand on which linked
    alleles lie; of a male's sex-linked allele the sex chromosome is named.
    """
    groups = clutch.offspring.groups
    tables = [_genotypes(odds, clutch.catalogue) for odds in groups]
    found = [_genotype(parts, clutch) for _, parts in likeliest(tables, most)]
    return tuple(found), _rest(tables, [row.chances.each for row in found])


def wish_odds(clutch: Clutch, wishes: Iterable[Wish]) -> tuple[WishOdds, ...]:
    """Return the odds of young that satisfy each wanted entry, in order."""
    found = []
    for wish in wishes:
        asked = wish_predicates(wish, clutch.catalogue)
        counts = count_distribution(clutch.offspring, asked, clutch.young, clutch.catalogue)
        found.append(
            WishOdds(
                morph=wish.text,
                chances=clutch.chances(asked),
                counts=tuple(float(chance) for chance in counts),
            )
        )
    return tuple(found)


def wish_predicates(wish: Wish, catalogue: Catalogue) -> dict[str, Predicate]:
    """Return what a wanted entry asks of a young's diplotype, by linkage group."""
    asked: dict[str, list[tuple[int, Need]]] = {}
    for need in wish.needs:
        for group in catalogue.groups.values():
            if need.locus in group.loci:
                asked.setdefault(group.id, []).append((group.loci.index(need.locus), need))
    return {group: _satisfies(needs) for group, needs in sorted(asked.items())}


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
        # Chances that differ by rounding alone are equal, whatever the machine.
        longer.sort(key=lambda joint: -float(f"{joint[0]:.12g}"))
        kept = longer[:most]
    return kept


def _rest(tables: Sequence[Sequence[tuple[float, object]]], shown: Sequence[float]) -> Rest:
    kinds = math.prod(len(table) for table in tables) - len(shown)
    return Rest(kinds, max(1.0 - math.fsum(shown), 0.0) if kinds else 0.0)


def _look(looks: Sequence[VisualClass], clutch: Clutch) -> LookOdds:
    groups = [odds.group for odds in clutch.offspring.groups]
    by_group = dict(zip(groups, looks, strict=True))
    whole = VisualClass(
        chance=math.prod(look.chance for look in looks),
        shown=tuple(sorted(pair for look in looks for pair in look.shown)),
        hidden=tuple(
            sorted((h for look in looks for h in look.hidden), key=lambda h: (h.locus, h.pair))
        ),
        female=by_group[SEX_GROUP].female,
    )
    predicates = {
        group: _looks_like(group, look, clutch.catalogue) for group, look in by_group.items()
    }
    return LookOdds(
        name=class_name(whole, clutch.catalogue),
        chances=clutch.chances(predicates),
        doubles=tuple((h.pair[1], h.chance) for h in whole.hidden if WILD not in h.pair),
        females=whole.female,
    )


def _looks_like(group: str, look: VisualClass, catalogue: Catalogue) -> Predicate:
    shown = dict(look.shown)
    places = [
        (place, shown.get(locus, NORMAL))
        for place, locus in enumerate(catalogue.groups[group].loci)
        if locus != SEX_LOCUS
    ]
    return lambda pair: all(shown_pair(pair_at(pair, at), catalogue) == seen for at, seen in places)


def _satisfies(needs: Sequence[tuple[int, Need]]) -> Predicate:
    return lambda pair: all(need.satisfied(pair_at(pair, place)) for place, need in needs)


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
