"""An order of animals in which kin stand together, so that a picture shows the lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from brumal.pedigree.kinship import KinshipBlock
from brumal.pedigree.lineage import Floats


@dataclass(frozen=True, slots=True)
class Joining:
    """Two groups of animals (places in the block) joined at their mean kinship."""

    left: tuple[int, ...]
    right: tuple[int, ...]
    phi: float


def line_order(block: KinshipBlock) -> tuple[str, ...]:
    """Return the ids of ``block`` ordered so that each line stands together.

    Groups with the highest mean kinship are joined first (average linkage, Sokal & Michener 1958,
    from memory); each joining is turned so that its nearest ends meet. Groups without a recorded
    tie come one after the other, the largest first.
    """
    by_id = block.only(sorted(block.ids))
    placed: dict[int, tuple[int, ...]] = {at: (at,) for at in range(len(by_id.ids))}
    for joining in joinings(by_id.matrix):
        if joining.phi <= 0.0:
            continue
        left, right = placed[min(joining.left)], placed[min(joining.right)]
        together = _turned(left, right, by_id.matrix)
        for at in (min(left), min(right)):
            placed.pop(at)
        placed[min(together)] = together
    groups = sorted(placed.values(), key=lambda group: (-len(group), min(group)))
    return tuple(by_id.ids[at] for group in groups for at in group)


def pooled(block: KinshipBlock, most: int) -> tuple[list[tuple[str, ...]], Floats]:
    """Pool neighbours of ``block`` into at most ``most`` groups of equal size (the last smaller).

    Returns the groups and the mean kinship between them, shape (groups, groups); own kinship is
    part of a group's mean with itself.
    """
    size = max(1, -(-len(block.ids) // most))
    starts = np.arange(0, len(block.ids), size)
    groups = [block.ids[at : at + size] for at in starts]
    if not groups:
        return [], np.zeros((0, 0))
    sums = np.add.reduceat(np.add.reduceat(block.matrix, starts, axis=0), starts, axis=1)
    sizes = np.array([len(group) for group in groups])
    return groups, sums / np.outer(sizes, sizes)


def joinings(phi: Floats) -> list[Joining]:
    """Return the joinings of average linkage, highest kinship first, for ``phi`` of shape (n, n).

    Follows chains of nearest neighbours, so that n animals take n^2 steps (Murtagh 1983, from
    memory). Ties go to the animal that stands first.
    """
    mean = phi.copy()
    np.fill_diagonal(mean, -np.inf)
    groups: dict[int, tuple[int, ...]] = {at: (at,) for at in range(len(phi))}
    found: list[Joining] = []
    chain: list[int] = []
    while len(groups) > 1:
        if not chain:
            chain.append(min(groups))
        tip = chain[-1]
        nearest = int(np.argmax(mean[tip]))
        if len(chain) > 1 and mean[tip, chain[-2]] >= mean[tip, nearest]:
            nearest = chain[-2]
            chain = chain[:-2]
            found.append(_join(mean, groups, *sorted((tip, nearest))))
        else:
            chain.append(nearest)
    return sorted(found, key=lambda one: (-one.phi, len(one.left) + len(one.right)))


def _join(mean: Floats, groups: dict[int, tuple[int, ...]], kept: int, gone: int) -> Joining:
    """Join two groups in place: the mean kinship of the whole to every other group."""
    joining = Joining(groups[kept], groups.pop(gone), float(mean[kept, gone]))
    sizes = len(joining.left), len(joining.right)
    # No infinities in the sum: a group's own cell and those of groups gone stay at -inf.
    alive = np.isfinite(mean[kept]) & np.isfinite(mean[gone])
    mean[kept, alive] = (sizes[0] * mean[kept, alive] + sizes[1] * mean[gone, alive]) / sum(sizes)
    mean[kept, ~alive] = -np.inf
    mean[:, kept] = mean[kept]
    mean[gone] = mean[:, gone] = -np.inf
    groups[kept] = (*joining.left, *joining.right)
    return joining


def _turned(left: tuple[int, ...], right: tuple[int, ...], phi: Floats) -> tuple[int, ...]:
    """Put two groups side by side, each turned so that the ends that meet are the nearest kin."""
    ways = [
        (phi[one[-1], other[0]], one + other)
        for one in (left, left[::-1])
        for other in (right, right[::-1])
    ]
    return max(ways, key=lambda way: way[0])[1]
