"""Crosses: the exact odds of one pair's young, linkage group by linkage group.

The young of a pair are a product over independent linkage groups and, within a group, a mixture
over what the parents may be. Nothing is truncated. Each group's odds depend only on the two
parents' beliefs there, so they are cached on those beliefs and shared between all pairs: a pair of
a large collection costs a few look-ups.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue, LinkageGroup
from brumal.genetics.crosses.meiosis import gametes, is_wild, sex_of, wild_pair
from brumal.genetics.genotypes import (
    SEX_GROUP,
    Belief,
    Case,
    Diplotype,
    Genotype,
    GroupOdds,
    Offspring,
    diplotype,
)
from brumal.records.animals import Sex

JointBelief = tuple[tuple[tuple[Diplotype, Diplotype], float], ...]
"""Probability of each (dam, sire) pair of diplotypes of one linkage group; sums to one."""


def cross(dam: Genotype, sire: Genotype, catalogue: Catalogue) -> Offspring:
    """Return the exact odds of the young of ``dam`` and ``sire``.

    The parents' genotypes are taken to be independent of each other (``pair_odds.cross_pair`` sees
    to kin whose genotypes are uncertain together). A belief that leaves a parent's sex open is
    conditioned on its role. Raises ``ValueError`` when the dam is certainly male or the sire
    certainly female, ``KeyError`` for a linkage group that the catalogue does not hold.
    """
    found = []
    for group_id in sorted({SEX_GROUP, *dam.groups, *sire.groups}):
        group = catalogue.groups[group_id]
        odds = group_odds(
            group_id,
            parent_belief(dam.groups.get(group_id), group, Sex.FEMALE),
            parent_belief(sire.groups.get(group_id), group, Sex.MALE),
            group.recombination,
        )
        if odds is not None:
            found.append(odds)
    return Offspring(tuple(found))


def parent_belief(belief: Belief | None, group: LinkageGroup, role: Sex) -> Belief:
    """Return what is believed of a parent at ``group``, given that it is the dam or the sire.

    ``None`` stands for a group at which the parent is certainly wild type.
    """
    if belief is None:
        return ((wild_pair(group, role), 1.0),)
    return _of_sex(belief, role) if group.id == SEX_GROUP else belief


@lru_cache(maxsize=1 << 17)
def group_odds(
    group: str, dam: Belief, sire: Belief, recombination: tuple[float, ...]
) -> GroupOdds | None:
    """Return the odds of the young at one group, or ``None`` when all are certainly wild type.

    The sex group is never left out. Equal arguments give the same object.
    """
    return mixture(
        group,
        (((mother, father), p * q) for mother, p in dam for father, q in sire),
        recombination,
    )


@lru_cache(maxsize=1 << 17)
def group_odds_of_joint(
    group: str, joint: JointBelief, recombination: tuple[float, ...]
) -> GroupOdds | None:
    """Return the odds of the young of two parents whose genotypes are known only together."""
    return mixture(group, joint, recombination)


def mixture(
    group: str,
    parents: Iterable[tuple[tuple[Diplotype, Diplotype], float]],
    recombination: tuple[float, ...],
) -> GroupOdds | None:
    """Return one case for each distinct table of odds that the possible ``parents`` give."""
    weights: dict[Belief, float] = {}
    for (mother, father), weight in parents:
        if weight > 0:
            outcomes = young_of(mother, father, recombination)
            weights[outcomes] = weights.get(outcomes, 0.0) + weight
    if group != SEX_GROUP and all(is_wild(pair) for odds in weights for pair, _ in odds):
        return None
    return GroupOdds(
        group, tuple(Case(weight, outcomes) for outcomes, weight in sorted(weights.items()))
    )


@lru_cache(maxsize=1 << 16)
def young_of(dam: Diplotype, sire: Diplotype, recombination: tuple[float, ...]) -> Belief:
    """Return the odds of each young of two parents of known diplotypes, sorted by diplotype."""
    odds: dict[Diplotype, float] = {}
    for egg, p in gametes(dam, recombination):
        for sperm, q in gametes(sire, recombination):
            pair = diplotype(egg, sperm)
            odds[pair] = odds.get(pair, 0.0) + p * q
    return tuple(sorted(odds.items()))


def marginal(odds: GroupOdds) -> Belief:
    """Return the odds of one young at one group, whatever the parents turn out to be.

    Not to be multiplied over a clutch: the young share their parents (see ``clutch_odds``).
    """
    if len(odds.cases) == 1:
        return odds.cases[0].outcomes
    total: dict[Diplotype, float] = {}
    for case in odds.cases:
        for pair, chance in case.outcomes:
            total[pair] = total.get(pair, 0.0) + case.weight * chance
    return tuple(sorted(total.items()))


@lru_cache(maxsize=1 << 12)
def _of_sex(belief: Belief, sex: Sex) -> Belief:
    fitting = tuple((pair, chance) for pair, chance in belief if sex_of(pair) is sex)
    total = sum(chance for _, chance in fitting)
    if total <= 0:
        role, other = ("dam", "male") if sex is Sex.FEMALE else ("sire", "female")
        raise ValueError(f"the {role} is certainly {other}")
    if len(fitting) == len(belief):
        return belief
    return tuple((pair, chance / total) for pair, chance in fitting)
