"""How much of each pedigree is known: an unknown parent is not known to be unrelated."""

from __future__ import annotations

import numpy as np

from brumal.pedigree.graph import Pedigree
from brumal.pedigree.lineage import Floats, Ints, lineage_of

#: Generations over which the completeness index is taken.
INDEX_DEPTH = 4


def known_generations(pedigree: Pedigree, animal: str) -> int:
    """Return how many generations are recorded in full behind an animal (0: a parent unknown)."""
    return int(generations_known(pedigree)[pedigree.index[animal]])


def generations_known(pedigree: Pedigree) -> Ints:
    """Return, for each of ``pedigree.ids``, the generations recorded in full; shape (n,).

    1 where both parents are known, 2 where all four grandparents are as well, and so on.
    """
    line = lineage_of(pedigree, np.arange(len(pedigree.ids)))
    known = np.full(line.n + 1, -1, dtype=np.int64)  # the last stands for an unknown parent
    known[: line.n] = 0
    for level in line.levels[1:]:
        known[level] = 1 + np.minimum(known[line.dams[level]], known[line.sires[level]])
    return known[: line.n]


def known_shares(pedigree: Pedigree, depth: int = INDEX_DEPTH) -> Floats:
    """Return the share of ancestors known in generation 1 ... ``depth``; shape (n, depth).

    Column 0 is the share of the two parents, column 1 of the four grandparents, and so on.
    """
    line = lineage_of(pedigree, np.arange(len(pedigree.ids)))
    shares = np.zeros((line.n, depth + 1))
    shares[:, 0] = 1.0
    before = np.append(shares[:, 0], 0.0)
    for generation in range(1, depth + 1):
        shares[:, generation] = (before[line.dams] + before[line.sires]) / 2.0
        before[: line.n] = shares[:, generation]
    return shares[:, 1:]


def completeness_index(pedigree: Pedigree, depth: int = INDEX_DEPTH) -> Floats:
    """Return the pedigree completeness index over ``depth`` generations, from 0 to 1; shape (n,).

    2 C_d C_s / (C_d + C_s), C_d and C_s being the mean share known, over the generations, of the
    dam's and the sire's side (MacCluer et al. 1983, from memory). It is 0 when a parent is
    unknown, as then nothing can be said of inbreeding.
    """
    line = lineage_of(pedigree, np.arange(len(pedigree.ids)))
    deeper = known_shares(pedigree, depth - 1) if depth > 1 else np.zeros((line.n, 0))
    side = np.append((1.0 + deeper.sum(axis=1)) / depth, 0.0)
    dams, sires = side[line.dams], side[line.sires]
    total = dams + sires
    return np.divide(2.0 * dams * sires, total, out=np.zeros(line.n), where=total > 0.0)
