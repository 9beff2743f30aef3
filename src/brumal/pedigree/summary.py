"""A collection at a glance: mean kinship, founders, completeness, closest and furthest pairs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brumal.pedigree.completeness import (
    completeness_index,
    generations_known,
    known_shares,
)
from brumal.pedigree.graph import UNKNOWN, Pedigree
from brumal.pedigree.kinship import KinshipBlock, kinship_block
from brumal.pedigree.lineage import Floats
from brumal.records.animals import Sex

PAIRS_SHOWN = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalKin:
    """One animal of the collection.

    ``F`` is the inbreeding coefficient as recorded; ``known`` the share of ancestors known by
    generation (parents first), ``generations`` how many of them are complete, ``completeness``
    the index of :func:`brumal.pedigree.completeness.completeness_index`.
    """

    id: str
    F: float
    mean_kinship: float
    generations: int
    known: tuple[float, ...]
    completeness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PairKin:
    """The kinship of a female and a male: F of the young they would have, as recorded.

    ``generations`` are recorded in full behind both.
    """

    dam: str
    sire: str
    phi: float
    generations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Founder:
    """A founder and its share of the collection's genes."""

    id: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class KinSummary:
    """A collection's kinship.

    ``animals`` in the order of their mean kinship, lowest first; ``closest`` and ``furthest`` are
    pairs of a female and a male; of pairs equally far those whose pedigrees are known deepest stand
    first. ``unrelated`` counts the pairs without a recorded tie, of
    ``pairs`` in all. ``unknown_share`` is the share of genes from parents that are not known, of
    animals with one known parent. ``effective_founders`` is 1 / sum p^2 over the founders' shares
    p, each unknown parent a founder of its own (Lacy 1989, from memory).
    """

    animals: tuple[AnimalKin, ...]
    mean: float
    closest: tuple[PairKin, ...]
    furthest: tuple[PairKin, ...]
    pairs: int
    unrelated: int
    founders: tuple[Founder, ...]
    unknown_share: float
    effective_founders: float


def mean_kinship(block: KinshipBlock) -> Floats:
    """Return each animal's mean kinship to all of ``block``, itself included; shape (n,).

    The mean of phi_ij over the living set, phi_ii included (Ballou & Lacy 1995, from memory).
    """
    return block.matrix.mean(axis=1) if len(block.ids) else np.zeros(0)


def young_mean_kinship(pedigree: Pedigree, living: Sequence[str], dam: str, sire: str) -> float:
    """Return the mean kinship of a young of two animals to the ``living``, itself not among them.

    The mean of the parents' own mean kinships, as phi(young, j) = (phi(dam, j) + phi(sire, j)) / 2.
    Raises ``ValueError`` where nobody is living.
    """
    if not living:
        raise ValueError("no living animals to be kin to")
    block = kinship_block(pedigree, dict.fromkeys((*living, dam, sire)))
    rows = [block.index[dam], block.index[sire]]
    return float(block.matrix[np.ix_(rows, range(len(living)))].mean())


def summarise(pedigree: Pedigree, block: KinshipBlock, shown: int = PAIRS_SHOWN) -> KinSummary:
    """Sum up the kinship of the animals of ``block``, with up to ``shown`` pairs at each end."""
    block = block.only(sorted(block.ids))  # sums come out the same in any order of the rows
    means = mean_kinship(block)
    closest, furthest, pairs, unrelated = _pairs(pedigree, block, means, shown)
    founders, unknown, effective = _founders(pedigree, block.ids)
    return KinSummary(
        animals=_animals(pedigree, block, means),
        mean=float(means.mean()) if len(means) else 0.0,
        closest=closest,
        furthest=furthest,
        pairs=pairs,
        unrelated=unrelated,
        founders=founders,
        unknown_share=unknown,
        effective_founders=effective,
    )


def _animals(pedigree: Pedigree, block: KinshipBlock, means: Floats) -> tuple[AnimalKin, ...]:
    inbreeding = block.F
    generations = generations_known(pedigree)
    shares = known_shares(pedigree)
    index = completeness_index(pedigree)
    animals = [
        AnimalKin(
            id=name,
            F=float(inbreeding[at]),
            mean_kinship=float(means[at]),
            generations=int(generations[pedigree.index[name]]),
            known=tuple(float(share) for share in shares[pedigree.index[name]]),
            completeness=float(index[pedigree.index[name]]),
        )
        for at, name in enumerate(block.ids)
    ]
    return tuple(sorted(animals, key=lambda animal: (animal.mean_kinship, animal.id)))


def _pairs(
    pedigree: Pedigree, block: KinshipBlock, means: Floats, shown: int
) -> tuple[tuple[PairKin, ...], tuple[PairKin, ...], int, int]:
    """Return the closest and the furthest pairs, the number of pairs and of those unrelated."""
    females, males = (
        [at for at, name in enumerate(block.ids) if pedigree.sexes.get(name) is sex]
        for sex in (Sex.FEMALE, Sex.MALE)
    )
    phi = block.matrix[np.ix_(females, males)].ravel()
    depth = generations_known(pedigree)[[pedigree.index[name] for name in block.ids]]
    known = np.minimum(depth[females][:, None], depth[males][None, :]).ravel()
    # Among equals the best known stand first, then those least kin to the whole collection.
    together = (means[females][:, None] + means[males][None, :]).ravel()
    rank = np.lexsort((np.arange(len(phi)), together, -known, phi))

    def named(places: list[int]) -> tuple[PairKin, ...]:
        return tuple(
            PairKin(
                dam=block.ids[females[at // len(males)]],
                sire=block.ids[males[at % len(males)]],
                phi=float(phi[at]),
                generations=int(known[at]),
            )
            for at in places
        )

    far = [int(at) for at in rank[:shown]]
    near = [int(at) for at in np.lexsort((np.arange(len(phi)), -phi))[:shown] if phi[at] > 0.0]
    return named(near), named(far), len(phi), int(np.count_nonzero(phi == 0.0))


def _founders(pedigree: Pedigree, ids: tuple[str, ...]) -> tuple[tuple[Founder, ...], float, float]:
    """Return founders with a share, largest first, the share of unknown parents, 1 / sum p^2."""
    weight = np.zeros(len(pedigree.ids))
    weight[[pedigree.index[name] for name in ids]] = 1.0 / max(1, len(ids))
    shares: dict[str, float] = {}
    unknown: list[float] = []
    for at in range(len(pedigree.ids) - 1, -1, -1):
        if weight[at] == 0.0:
            continue
        dam, sire = pedigree.dams[at], pedigree.sires[at]
        if dam == UNKNOWN and sire == UNKNOWN:
            shares[pedigree.ids[at]] = float(weight[at])
            continue
        for parent in (dam, sire):
            if parent == UNKNOWN:
                unknown.append(float(weight[at]) / 2.0)
            else:
                weight[parent] += weight[at] / 2.0
    squares = sum(share * share for share in (*shares.values(), *unknown))
    founders = [Founder(id=name, share=share) for name, share in shares.items()]
    return (
        tuple(sorted(founders, key=lambda founder: (-founder.share, founder.id))),
        sum(unknown),
        1.0 / squares if squares else 0.0,
    )
