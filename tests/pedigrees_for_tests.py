"""Pedigrees for tests: written by hand, in trade-facts notation, or drawn at random."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from hypothesis import strategies as st

from brumal.pedigree.graph import FounderFacts, Pedigree, build_pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.records.animals import Animal, Sex
from brumal.records.faults import is_error


def animals_of(text: str) -> list[Animal]:
    """Read ``3:1,2 4:1,0``: id, sire, dam; 0 for an unknown parent. Rows count from 2."""
    animals = []
    for row, entry in enumerate(text.split(), start=2):
        name, parents = entry.split(":")
        sire, dam = (None if parent == "0" else parent for parent in parents.split(","))
        animals.append(Animal(id=name, sire=sire, dam=dam, row=row))
    return animals


def pedigree_of(
    text: str, facts: FounderFacts | None = None, sexes: Mapping[str, Sex] | None = None
) -> Pedigree:
    """Build the pedigree of ``text``; selfing and swapped parts are no matter here."""
    animals = animals_of(text)
    if sexes:
        animals = [
            Animal(id=one.id, sire=one.sire, dam=one.dam, sex=sexes.get(one.id), row=one.row)
            for one in animals
        ]
    return build_pedigree(animals, facts)[0]


def inbreeding(pedigree: Pedigree, *names: str) -> list[float]:
    block = kinship_block(pedigree, names)
    return [float(value) for value in block.F]


def random_animals(
    count: int,
    founders: int,
    rng: np.random.Generator,
    *,
    window: int | None = None,
    unknown: float = 0.1,
    clutch: tuple[int, int] = (1, 1),
) -> list[Animal]:
    """Draw a pedigree, oldest first: clutches of full siblings from parents among the last
    ``window`` animals, each parent unknown at the given rate. Young windows make inbred loops.
    """
    sexes = rng.integers(0, 2, count)
    sexes[0], sexes[1] = 0, 1
    parents: list[tuple[int | None, int | None]] = [(None, None)] * founders
    while len(parents) < count:
        at = len(parents)
        near = np.arange(max(0, at - window) if window else 0, at)
        dam, sire = (
            int(rng.choice(choice))
            if (choice := near[sexes[near] == sex]).size and rng.random() >= unknown
            else None
            for sex in (0, 1)
        )
        parents += [(dam, sire)] * int(rng.integers(clutch[0], clutch[1] + 1))
    width = len(str(count))
    names = [f"A{at:0{width}}" for at in range(count)]
    return [
        Animal(
            id=names[at],
            sex=Sex.MALE if sexes[at] else Sex.FEMALE,
            dam=None if dam is None else names[dam],
            sire=None if sire is None else names[sire],
            row=at + 2,
        )
        for at, (dam, sire) in enumerate(parents[:count])
    ]


def sound(animals: Sequence[Animal], facts: FounderFacts | None = None) -> Pedigree:
    """Build a pedigree that must be free of errors."""
    pedigree, faults = build_pedigree(animals, facts)
    assert not [str(fault) for fault in faults if is_error(fault)]
    return pedigree


@st.composite
def herds(draw: st.DrawFn, most: int = 24) -> list[Animal]:
    """Small random pedigrees: looped, inbred, half-known, some with parents without a row."""
    count = draw(st.integers(2, most))
    sexes = [Sex.FEMALE, Sex.MALE] + [draw(st.sampled_from(Sex)) for _ in range(count - 2)]
    animals: list[Animal] = []
    for at in range(count):
        older = {
            sex: [None, f"outside {sex}", *(one.id for one in animals if one.sex is sex)]
            for sex in Sex
        }
        dam, sire = (draw(st.sampled_from(older[sex])) for sex in (Sex.FEMALE, Sex.MALE))
        animals.append(Animal(id=f"A{at:02}", sex=sexes[at], dam=dam, sire=sire, row=at + 2))
    return animals


@st.composite
def facts_for(draw: st.DrawFn, pedigree: Pedigree) -> FounderFacts:
    """Draw F of founders, and kinship between them that a real pedigree could give.

    Kinships are means over draws of shared ancestors: the covariance of random gene sharing.
    """
    founders = [name for name in pedigree.ids if pedigree.parents(name) == (None, None)]
    inbred = {name: draw(st.sampled_from((0.0, 0.125, 0.25))) for name in founders}
    line = draw(st.lists(st.sampled_from(founders), max_size=5, unique=True))
    phi = draw(st.sampled_from((0.03125, 0.125, 0.25)))
    kinship = {(min(a, b), max(a, b)): phi for a in line for b in line if a < b}
    return FounderFacts(F=inbred, kinship=kinship)
