"""Kinship of a few animals with many ancestors, without the matrix of all of them."""

from __future__ import annotations

import numpy as np

from brumal.pedigree.lineage import Floats, Ints, Lineage

#: Ancestors in one strip of columns: the strip of 10,000 animals takes 10 MB.
STRIP = 128


def strip_kinship(line: Lineage, wanted: Ints) -> Floats:
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
