"""What uncertain parents are, drawn once a season for all of their clutches."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.genetics.crosses.cross import parent_belief
from brumal.genetics.crosses.pair_odds import joint_belief, joint_cases
from brumal.genetics.genotypes import Belief, Diplotype
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Pair
from brumal.records.animals import Sex

Places = NDArray[np.intp]
Floats = NDArray[np.float64]

MOST_TOGETHER = 4096
"""Kin with more combinations of genotypes than this are drawn pair by pair, sires apart."""


@dataclass(frozen=True, slots=True, eq=False)
class ParentDraws:
    """What each parent may be at each linkage group, and what it is in each season.

    ``states`` holds the possible diplotypes by (animal, group), ``drawn`` for those with several
    the place of the one that holds, shape (seasons,).
    """

    seasons: int
    states: Mapping[tuple[str, str], tuple[Diplotype, ...]]
    drawn: Mapping[tuple[str, str], Places]


def stream(seed: int, *names: str) -> np.random.Generator:
    """Return a generator of its own for what ``names`` say.

    The luck of an animal or a pair is thus the same whatever else is in the plan, so that plans
    compared under one seed share it.
    """
    digest = hashlib.sha256("\n".join(names).encode()).digest()[:8]
    return np.random.default_rng([seed, int.from_bytes(digest, "big")])


def draw_parents(
    prepared: Prepared, pairs: Sequence[Pair], groups: Sequence[str], seed: int, seasons: int
) -> ParentDraws:
    """Draw the genotypes of all parents of a plan in so many seasons.

    Uncertain kin are drawn from their joint chances; those that have too many together (see
    ``MOST_TOGETHER``) as the plan takes them: sires apart, each dam given her sire.
    """
    roles = {dam: Sex.FEMALE for dam, _ in pairs} | {sire: Sex.MALE for _, sire in pairs}
    states: dict[tuple[str, str], tuple[Diplotype, ...]] = {}
    drawn: dict[tuple[str, str], Places] = {}
    for group in groups:
        linkage = prepared.catalogue.groups[group]
        beliefs = {
            animal: parent_belief(prepared.genotypes[animal].groups.get(group), linkage, role)
            for animal, role in sorted(roles.items())
        }
        for animal, belief in beliefs.items():
            states[animal, group] = tuple(found for found, _ in belief)
        unsure = [animal for animal, belief in beliefs.items() if len(belief) > 1]
        found = _together(prepared, group, unsure, states, seed, seasons)
        luck = {
            animal: stream(seed, "genes", group, animal).random(seasons)
            for animal in unsure
            if animal not in found
        }
        found |= _apart(prepared, group, pairs, beliefs, luck)
        drawn |= {(animal, group): places for animal, places in found.items()}
    return ParentDraws(seasons, states, drawn)


def _together(
    prepared: Prepared,
    group: str,
    unsure: Sequence[str],
    states: Mapping[tuple[str, str], tuple[Diplotype, ...]],
    seed: int,
    seasons: int,
) -> dict[str, Places]:
    """Draw from the joint chances of uncertain kin, block by block."""
    found: dict[str, Places] = {}
    for block in joint_cases(prepared.inferred, unsure, group, MOST_TOGETHER):
        if block.cases is not None:
            luck = stream(seed, "genes", group, *block.ids).random(seasons)
            cases = choose(np.array([chance for chance, _ in block.cases]), luck)
            for at, animal in enumerate(block.ids):
                place = {carried: n for n, carried in enumerate(states[animal, group])}
                of_case = np.array([place[carried[at]] for _, carried in block.cases])
                found[animal] = of_case[cases]
    return found


def _apart(
    prepared: Prepared,
    group: str,
    pairs: Sequence[Pair],
    beliefs: Mapping[str, Belief],
    luck: Mapping[str, Floats],
) -> dict[str, Places]:
    """Draw sires from their own beliefs, and each dam given what her sire is.

    ``luck`` holds a number from 0 to 1 a season for each animal to be drawn.
    """
    sires = sorted({sire for _, sire in pairs} & luck.keys())
    found = {sire: choose(_chances(beliefs[sire]), luck[sire]) for sire in sires}
    for dam, sire in pairs:
        if dam not in luck:
            continue
        joint = joint_belief(prepared.inferred, dam, sire, group) if sire in found else None
        if joint is None:
            found[dam] = choose(_chances(beliefs[dam]), luck[dam])
            continue
        chances = dict(joint)
        given = np.array(
            [
                [chances.get((mother, father), 0.0) for mother, _ in beliefs[dam]]
                for father, _ in beliefs[sire]
            ]
        )
        rows = [choose(row, luck[dam]) for row in given]
        found[dam] = np.stack(rows)[found[sire], np.arange(luck[dam].size)]
    return found


def _chances(belief: Belief) -> Floats:
    return np.array([chance for _, chance in belief])


def choose(chances: Floats, luck: Floats) -> Places:
    """Return for each number from 0 to 1 the place whose share of the chances it falls in."""
    reached = np.cumsum(chances)
    places = np.searchsorted(reached, luck * reached[-1], side="right")
    last = int(np.flatnonzero(chances)[-1]) if chances.any() else 0
    chosen: Places = np.minimum(places, last)
    return chosen
