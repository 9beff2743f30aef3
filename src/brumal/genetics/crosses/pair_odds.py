"""Crosses of animals whose uncertain genotypes hang together.

Two possible hets of one litter, or a sire and his daughter, are not independent of each other. The
joint chances come from the calibrated tree of the part of the pedigree in which both stand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from brumal.genetics.crosses.cross import (
    JointBelief,
    cross,
    group_odds_of_joint,
)
from brumal.genetics.crosses.meiosis import sex_of
from brumal.genetics.evidence.bucket_tree import (
    LARGEST_TABLE,
    FloatArray,
    distribution,
    eliminate,
    plan_elimination,
)
from brumal.genetics.evidence.group_solver import GroupResult, Part
from brumal.genetics.evidence.infer import Inferred
from brumal.genetics.genotypes import SEX_GROUP, Diplotype, Offspring
from brumal.records.animals import Sex


@dataclass(frozen=True, slots=True, kw_only=True)
class JointBlock:
    """Animals whose genotypes at one group are to be thought of together.

    Different blocks are independent. ``cases`` holds (probability, one diplotype for each id), the
    likeliest first; it is ``None`` when there are more ``states`` than the caller's limit, when the
    work would need too large a table, or when the part was only approximated.
    """

    ids: tuple[str, ...]
    states: int
    cases: tuple[tuple[float, tuple[Diplotype, ...]], ...] | None


@dataclass(frozen=True, slots=True, eq=False)
class JointChances:
    """What two animals may be together: ``chances`` has the shape (mothers, fathers)."""

    mothers: tuple[Diplotype, ...]
    fathers: tuple[Diplotype, ...]
    chances: FloatArray


def joint_chances(inferred: Inferred, dam: str, sire: str, group: str) -> JointChances | None:
    """Return the joint chances of two animals' diplotypes, or ``None`` if they are independent.

    In a part of the pedigree that was only approximated (a warning says so) animals are taken to be
    independent.
    """
    result = inferred.groups.get(group)
    if result is None:
        return None
    place = inferred.collection.kin.place
    first, second = place[dam], place[sire]
    part = result.part_of.get(first)
    if part is None or part is not result.part_of.get(second) or part.tree is None:
        return None
    table = part.tree.joint(first, second)
    if table is None:
        return None
    mothers, fathers = result.diplotypes(first), result.diplotypes(second)
    if group == SEX_GROUP:
        hers = [sex_of(each) == Sex.FEMALE for each in mothers]
        his = [sex_of(each) == Sex.MALE for each in fathers]
        table = np.where(np.outer(hers, his), table, 0.0)
        table /= table.sum()
    return JointChances(mothers, fathers, table)


def join_sires(inferred: Inferred, sires: Iterable[str], group: str) -> None:
    """Make the joint chances with each of these sires ready, all at once: that is much quicker."""
    result = inferred.groups.get(group)
    if result is None:
        return
    place = inferred.collection.kin.place
    by_part: dict[int, list[int]] = {}
    for number in {place[sire] for sire in sires}:
        part = result.part_of.get(number)
        if part is not None and part.tree is not None:
            by_part.setdefault(id(part), []).append(number)
    for numbers in by_part.values():
        tree = result.part_of[numbers[0]].tree
        assert tree is not None
        tree.join(numbers)


def joint_belief(inferred: Inferred, dam: str, sire: str, group: str) -> JointBelief | None:
    """Return the joint chances of two animals, those above zero one by one; see above."""
    joint = joint_chances(inferred, dam, sire, group)
    if joint is None:
        return None
    return tuple(
        ((mother, father), chance)
        for mother, row in zip(joint.mothers, joint.chances.tolist(), strict=True)
        for father, chance in zip(joint.fathers, row, strict=True)
        if chance > 0
    )


def cross_pair(inferred: Inferred, dam: str, sire: str) -> Offspring:
    """Return the exact odds of the young of two animals of the collection.

    As ``cross``, but where both parents are uncertain and their genotypes hang together the cases
    are those of the two together. Raises ``KeyError`` for an id that is not in the collection.
    """
    genotypes, catalogue = inferred.genotypes, inferred.collection.catalogue
    young = cross(genotypes[dam], genotypes[sire], catalogue)
    mother, father = inferred.uncertain[dam], inferred.uncertain[sire]
    joints = {
        group: joint_belief(inferred, dam, sire, group)
        for group, part in mother.items()
        if father.get(group) == part
    }
    if not any(joints.values()):
        return young
    found = []
    for odds in young.groups:
        joint = joints.get(odds.group)
        recombination = catalogue.groups[odds.group].recombination
        exact = group_odds_of_joint(odds.group, joint, recombination) if joint else odds
        if exact is not None:
            found.append(exact)
    return Offspring(tuple(found))


def joint_cases(
    inferred: Inferred, ids: Sequence[str], group: str, max_states: int
) -> tuple[JointBlock, ...]:
    """Return the joint chances of all the uncertain ``ids`` at a group, in independent blocks.

    Animals certain there are left out. A block of more than ``max_states`` combinations comes
    without cases and says so. Raises ``KeyError`` for an id that is not in the collection.
    """
    result = inferred.groups.get(group)
    if result is None:
        return ()
    place = inferred.collection.kin.place
    blocks: dict[int, list[int]] = {}
    for number in sorted({place[name] for name in ids}):
        part = result.part_of.get(number)
        if part is not None:
            blocks.setdefault(result.parts.index(part), []).append(number)
    return tuple(
        _block(inferred, result, result.parts[index], numbers, max_states)
        for index, numbers in sorted(blocks.items())
    )


def _block(
    inferred: Inferred, result: GroupResult, part: Part, numbers: list[int], max_states: int
) -> JointBlock:
    names = tuple(inferred.collection.kin.ids[number] for number in numbers)
    states = math.prod(part.sizes[number] for number in numbers)
    scopes = [factor.scope for factor in part.factors]
    if part.tree is None or states > max_states:
        return JointBlock(ids=names, states=states, cases=None)
    plan = plan_elimination(scopes, part.sizes, frozenset(numbers))
    if plan.largest > LARGEST_TABLE:
        return JointBlock(ids=names, states=states, cases=None)
    table = distribution(eliminate(part.factors, plan))
    carried_by = [result.diplotypes(number) for number in numbers]
    cases = []
    for index in zip(*table.nonzero(), strict=True):
        carried = tuple(own[at] for own, at in zip(carried_by, index, strict=True))
        cases.append((float(table[index]), carried))
    cases.sort(key=lambda case: (-round(case[0], 12), case[1]))
    return JointBlock(ids=names, states=states, cases=tuple(cases))
