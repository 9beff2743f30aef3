"""Kinship (coancestry) and inbreeding, exact, for the animals that are asked for.

Two ways lead to the same figures. The tabular method fills the whole matrix, one generation at a
time. Where a few animals are wanted out of many, the matrix A = T D T' is never written down:
what it gives to the animals wanted is added up a strip of T's columns at a time.

Unknown parents are founders of their own, not inbred and unrelated to everyone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from brumal.pedigree.graph import Pedigree
from brumal.pedigree.lineage import Ints, Lineage, ancestry, lineage_of

Floats = NDArray[np.float64]

#: The indirect method pays once the ancestors outnumber the animals wanted by this factor.
INDIRECT_FROM = 3
TILE = 64
TILE_WIDTH = 512
STRIP = 256


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KinshipBlock:
    """Kinship among ``ids``: ``matrix`` of shape (n, n), symmetric, (1 + F) / 2 on its diagonal.

    ``F`` of shape (n,) holds the inbreeding coefficients.
    """

    ids: tuple[str, ...]
    matrix: Floats
    index: Mapping[str, int]

    @property
    def F(self) -> Floats:  # noqa: N802  (the field's symbol)
        """Return the inbreeding coefficient of each animal, shape (n,)."""
        return 2.0 * np.diagonal(self.matrix) - 1.0

    def phi(self, one: str, other: str) -> float:
        """Return the kinship of two animals: F of the young they would have."""
        return float(self.matrix[self.index[one], self.index[other]])


def kinship_block(pedigree: Pedigree, ids: Iterable[str] | None = None) -> KinshipBlock:
    """Return the exact kinship among ``ids`` (all animals of the pedigree when left out).

    Only the ancestors of ``ids`` are looked at. Raises ``KeyError`` for an id that is not in the
    pedigree and ``ValueError`` for one that is given twice.
    """
    wanted = pedigree.ids if ids is None else tuple(ids)
    index = {name: at for at, name in enumerate(wanted)}
    if len(index) != len(wanted):
        raise ValueError("an id is given twice")
    rows = np.array([pedigree.index[name] for name in wanted], dtype=np.int64)
    members = ancestry(pedigree, rows)
    line = lineage_of(pedigree, members)
    places = np.searchsorted(members, rows)
    if len(members) > INDIRECT_FROM * len(rows):
        matrix = _indirect(line, places)
    else:
        matrix = _tabular(line)
        if not np.array_equal(places, np.arange(len(members))):
            matrix = matrix[np.ix_(places, places)]
    matrix.setflags(write=False)
    return KinshipBlock(ids=wanted, matrix=matrix, index=MappingProxyType(index))


def _tabular(line: Lineage) -> Floats:
    """Return the whole kinship matrix by the tabular method, shape (n, n).

    Row i is the mean of the rows of its parents (Emik & Terrill 1949, from memory); generations are
    filled one after the other, in tiles that stay in the processor's cache.
    """
    # One more row of zeros stands for every unknown parent.
    phi = np.zeros((line.n + 1, line.n))
    founders = line.levels[0] if line.levels else slice(0, 0)
    own = np.arange(founders.stop)
    phi[own, own] = (1.0 + line.founder_F[founders]) / 2.0
    one, other = line.related.T
    phi[one, other] = phi[other, one] = line.related_phi
    for level in line.levels[1:]:
        for top in range(level.start, level.stop, TILE):
            rows = slice(top, min(top + TILE, level.stop))
            for left in range(0, level.start, TILE_WIDTH):
                columns = slice(left, min(left + TILE_WIDTH, level.start))
                _average(phi, line, rows, columns)
                phi[columns, rows] = phi[rows, columns].T
        # Kinship within a generation follows once its columns are filled above.
        _average(phi, line, level, level)
        own = np.arange(level.start, level.stop)
        phi[own, own] = _own_kinship(phi, line, level)
    return phi[: line.n]


def _average(phi: Floats, line: Lineage, rows: slice, columns: slice) -> None:
    """Set a tile of ``phi`` to the mean of the parents' rows."""
    tile = phi[rows, columns]
    np.add(phi[line.dams[rows], columns], phi[line.sires[rows], columns], out=tile)
    tile *= 0.5


def _own_kinship(phi: Floats, line: Lineage, level: slice) -> Floats:
    """Return (1 + F) / 2 of a generation, F being the kinship of the parents (0 if half known)."""
    dams, sires = line.dams[level], line.sires[level]
    both = (dams < line.n) & (sires < line.n)
    parents = np.zeros(len(dams))
    parents[both] = phi[dams[both], sires[both]]
    return (1.0 + parents) / 2.0


def _indirect(line: Lineage, wanted: Ints) -> Floats:
    """Return the kinship among ``wanted`` positions, shape (w, w), without the whole matrix.

    A = T D T' (Henderson 1976, from memory): row i of T holds the share of i's genes drawn from
    each ancestor, D what Mendelian sampling adds. T is built a strip of columns at a time; as
    F_i = sum T_ij^2 D_j - 1 (Quaas 1976, from memory) needs no column right of i, each strip
    finds the D that the next one needs.
    """
    own = np.zeros(line.n + 1)
    block = np.zeros((len(wanted), len(wanted)))
    if len(line.related):
        _add_related_founders(line, wanted, own, block)
    for left in range(0, line.n, STRIP):
        strip = slice(left, min(left + STRIP, line.n))
        genes, drawn = _strip(line, strip, own)
        block += (genes[wanted] * drawn) @ genes[wanted].T
    block += block.T
    block *= 0.25
    return block


def _strip(line: Lineage, strip: slice, own: Floats) -> tuple[Floats, Floats]:
    """Return the columns ``strip`` of T, shape (n + 1, width), and D of these animals.

    Adds to ``own``, shape (n + 1,), what the strip gives to each animal's A_ii; on entry it holds
    the sum over the columns left of the strip.
    """
    width = strip.stop - strip.start
    genes = np.zeros((line.n + 1, width))
    drawn = np.zeros(width)
    for level in line.levels:
        rows = slice(max(level.start, strip.start), level.stop)
        if rows.start >= rows.stop:
            continue
        inside = slice(rows.start, min(rows.stop, strip.stop))
        if level.start:
            shares = genes[line.dams[rows]]
            shares += genes[line.sires[rows]]
            np.multiply(shares, 0.5, out=genes[rows])
        if inside.start < inside.stop:
            at = np.arange(inside.start, inside.stop)
            genes[at, at - strip.start] = 1.0
            drawn[at - strip.start] = (
                1.0 - (own[line.dams[inside]] + own[line.sires[inside]]) / 4.0
                if level.start
                else 1.0 + line.founder_F[inside]
            )
        own[rows] += (genes[rows] ** 2) @ drawn
    return genes, drawn


def _add_related_founders(line: Lineage, wanted: Ints, own: Floats, block: Floats) -> None:
    """Add what stated kinship between founders gives to A_ii (``own``) and to ``block``."""
    founders, places = np.unique(line.related, return_inverse=True)
    one, other = places.reshape(-1, 2).T
    between = np.zeros((len(founders), len(founders)))
    between[one, other] = between[other, one] = 2.0 * line.related_phi
    genes = np.zeros((line.n + 1, len(founders)))
    genes[founders, np.arange(len(founders))] = 1.0
    for level in line.levels[1:]:
        genes[level] = 0.5 * (genes[line.dams[level]] + genes[line.sires[level]])
    own += ((genes @ between) * genes).sum(axis=1)
    block += genes[wanted] @ between @ genes[wanted].T
