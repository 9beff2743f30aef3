"""The whole kinship matrix of a lineage by the tabular method."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from brumal.pedigree.lineage import Floats, Ints, Lineage

#: Animals by columns of a tile: three tiles stay in the processor's second cache.
TILE = 64
WIDTH = 1000  # not a power of two, so that the rows of a tile do not share cache sets


def whole_kinship(line: Lineage) -> Floats:
    """Return the kinship of all animals of ``line``, shape (n, n), (1 + F) / 2 on the diagonal.

    The row of an animal is the mean of the rows of its parents (Emik & Terrill 1949, from memory).
    A level is filled from the levels before it, in tiles, each written to its mirror place as
    well; clutch mates share their kinship to all others, so it is worked out once a clutch.
    """
    work = _Work.of(line)
    phi = work.phi
    founders = line.levels[0] if line.levels else slice(0, 0)
    phi[founders, founders] = 0.0
    own = np.arange(founders.stop)
    phi[own, own] = (1.0 + line.founder_F[founders]) / 2.0
    one, other = line.related.T
    phi[one, other] = phi[other, one] = line.related_phi
    for level in line.levels[1:]:
        before = slice(0, level.start)
        tiles = [
            slice(top, min(top + TILE, level.stop)) for top in range(level.start, level.stop, TILE)
        ]
        for rows in tiles:
            _fill(work, rows, before, mirror=True)
        # Kinship within the level is the mean over columns that the mirror has just filled.
        for rows in tiles:
            _fill(work, rows, level, mirror=False)
        own = np.arange(level.start, level.stop)
        phi[own, own] = _own_kinship(phi, line, level)
    return phi[: line.n, : line.n]


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """The matrix with its buffers.

    ``phi`` has one more row, of zeros, for unknown parents, and columns up to a whole number of
    tiles; ``flat`` is the same memory cut into rows of one tile's width, ``per_row`` to an animal.
    Clutches are runs of animals with the same parents: ``clutch`` of each animal, shape (n,);
    ``dams`` and ``sires`` of each clutch as rows of ``flat``.
    """

    phi: Floats
    flat: Floats
    clutch: Ints
    dams: Ints
    sires: Ints
    one: Floats
    other: Floats
    spread: Floats

    @classmethod
    def of(cls, line: Lineage) -> _Work:
        per_row = max(1, -(-line.n // WIDTH))
        phi = np.empty((line.n + 1, per_row * WIDTH))
        phi[line.n] = 0.0
        starts = np.ones(line.n, dtype=bool)
        starts[1:] = (np.diff(line.dams) != 0) | (np.diff(line.sires) != 0)
        first = np.flatnonzero(starts)
        one, other, spread = np.empty((3, TILE, WIDTH))
        return cls(
            phi=phi,
            flat=phi.reshape(-1, WIDTH),
            clutch=np.cumsum(starts) - 1,
            dams=line.dams[first] * per_row,
            sires=line.sires[first] * per_row,
            one=one,
            other=other,
            spread=spread,
        )


def _fill(work: _Work, rows: slice, columns: slice, *, mirror: bool) -> None:
    """Set ``rows`` (at most a tile) by ``columns`` to the mean of the parents' rows."""
    clutches = slice(work.clutch[rows.start], work.clutch[rows.stop - 1] + 1)
    dams, sires = work.dams[clutches], work.sires[clutches]
    members = work.clutch[rows] - clutches.start
    mates = len(members) > len(dams)
    one, other = work.one[: len(dams)], work.other[: len(dams)]
    spread = work.spread[: len(members)]
    for piece in range(columns.start // WIDTH, -(-columns.stop // WIDTH)):
        left, right = piece * WIDTH, (piece + 1) * WIDTH
        here = slice(max(columns.start, left), min(columns.stop, right))
        part = slice(here.start - left, here.stop - left)
        # Filling given buffers saves asking the system for fresh pages at every tile.
        np.take(work.flat, dams + piece, axis=0, out=one, mode="clip")
        np.take(work.flat, sires + piece, axis=0, out=other, mode="clip")
        tile = one[:, part]
        tile += other[:, part]
        tile *= 0.5
        if mates:
            np.take(one, members, axis=0, out=spread, mode="clip")
            tile = spread[:, part]
        work.phi[rows, here] = tile
        if mirror:
            work.phi[here, rows] = tile.T


def _own_kinship(phi: Floats, line: Lineage, level: slice) -> Floats:
    """Return (1 + F) / 2 of a generation, F being the kinship of the parents (0 if half known)."""
    dams, sires = line.dams[level], line.sires[level]
    both = (dams < line.n) & (sires < line.n)
    parents = np.zeros(len(dams))
    parents[both] = phi[dams[both], sires[both]]
    return (1.0 + parents) / 2.0
