"""A pedigree as plain arrays: the animals wanted and all their ancestors, nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from brumal.pedigree.graph import UNKNOWN, Pedigree

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lineage:
    """``n`` animals, parents before young, closed upwards: each known parent is among them.

    ``dams`` and ``sires`` of shape (n,) hold positions, with ``n`` for an unknown parent, so that
    a matrix with one more row of zeros needs no special case. ``levels`` are slices, founders
    first, each with its parents in earlier ones. ``founder_F`` has shape (n,), zero for all but
    founders; ``related`` of shape (m, 2) lists pairs of founders with their stated kinship,
    ``related_phi``.
    """

    n: int
    dams: Ints
    sires: Ints
    levels: tuple[slice, ...]
    founder_F: Floats  # noqa: N815
    related: Ints
    related_phi: Floats


def ancestry(pedigree: Pedigree, rows: Ints) -> Ints:
    """Return the sorted positions of ``rows`` and of all their ancestors."""
    seen = np.zeros(len(pedigree.ids), dtype=bool)
    new = np.unique(rows)
    while len(new):
        seen[new] = True
        parents = np.concatenate([pedigree.dams[new], pedigree.sires[new]])
        parents = np.unique(parents[parents != UNKNOWN])
        new = parents[~seen[parents]]
    return np.flatnonzero(seen)


def lineage_of(pedigree: Pedigree, members: Ints) -> Lineage:
    """Return the arrays of ``members``, sorted positions closed upwards (see ``ancestry``)."""
    n = len(members)
    place = np.full(len(pedigree.ids) + 1, n, dtype=np.int64)
    place[members] = np.arange(n)
    edges = np.flatnonzero(np.diff(pedigree.step[members], prepend=-1, append=-2))
    levels = tuple(slice(int(a), int(b)) for a, b in pairwise(edges))
    index = pedigree.index
    related, related_phi = _related(pedigree.founders.kinship, index, place, n)
    founder_f = np.zeros(n)
    for name, value in pedigree.founders.F.items():
        if place[index[name]] < n:
            founder_f[place[index[name]]] = value
    return Lineage(
        n=n,
        dams=place[pedigree.dams[members]],
        sires=place[pedigree.sires[members]],
        levels=levels,
        founder_F=founder_f,
        related=related,
        related_phi=related_phi,
    )


def _related(
    stated: Mapping[tuple[str, str], float], index: Mapping[str, int], place: Ints, n: int
) -> tuple[Ints, Floats]:
    """Return the stated pairs with both founders among the members, and their kinship."""
    pairs, values = [], []
    for (one, other), phi in sorted(stated.items()):
        a, b = int(place[index[one]]), int(place[index[other]])
        if a < n and b < n:
            pairs.append((a, b))
            values.append(phi)
    return np.array(pairs, dtype=np.int64).reshape(-1, 2), np.array(values)
