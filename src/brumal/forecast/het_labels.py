"""Possible hets as they are sold: by a label, such as 66 %, in place of their exact probability.

A buyer sees a young's look and is told how likely it is to carry what does not show. That
probability is the same for all young of a pair that look alike, whether or not they carry it; the
young is sold under the highest label that it reaches. Labels are told before the clutch is seen.
Under a look that hides others (:mod:`brumal.genetics.masks`) more young look alike, and what would
show in the open may be carried unseen: labels are told anew for each way of hiding loci.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import SEX_LOCUS, AllelePair, Belief, Diplotype
from brumal.genetics.looks import NORMAL, pair_at, shown_pair
from brumal.genetics.masks import Veil, possible_under, veils_of
from brumal.genetics.notation.naming import diplotype_pairs, told_genes
from brumal.records.settings import ByLabel

Array = NDArray[np.float64]

USUAL = {66: 0.5, 50: 0.3}
"""Share of a het's price that a possible het brings (common practice, no source)."""
_NEARLY = 1e-9

Levels = tuple[tuple[int, ...], ...]
"""The label of each hidden thing of a linkage group, as a place among the labels; 0: none.

One row in the open, then one for each veil of the group in the order of ``veils_of``.
"""
Told = Mapping[Diplotype, Levels]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """Something a young may carry unseen: one of these allele pairs at a locus.

    ``gene`` is set where it is told as a het for that gene: under a look that hides the locus,
    young that would show a recessive gene are told as hets too, if not all are sure to have it.
    """

    locus: str
    pairs: frozenset[AllelePair]
    gene: str = ""

    def carried(
        self, pair: AllelePair, possible: frozenset[AllelePair] | None, catalogue: Catalogue
    ) -> bool:
        """Say whether a pair has it; ``possible``: what young may have where it is hidden."""
        if self.gene and possible is not None:
            return self.gene in told_genes(pair, possible, catalogue, self.locus).hets
        return pair in self.pairs


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """The labels of possible hets, and the hidden things of each linkage group that are sold.

    ``least`` are the chances that the labels ask for, rising to 1; ``shares``, one more, is what
    each level brings of the price of a young that carries it for sure, the first where no label
    is reached.
    """

    least: tuple[float, ...]
    shares: tuple[float, ...]
    hidden: Mapping[str, tuple[Hidden, ...]]

    @property
    def sure(self) -> int:
        """Return the level of what is certain."""
        return len(self.least)

    def levels(self, chances: Array) -> NDArray[np.intp]:
        """Return the highest label that each chance reaches."""
        return np.searchsorted(np.array(self.least), chances + _NEARLY, side="right")


def label_shares(stated: ByLabel) -> dict[float, float] | None:
    """Return the share of the price by the least chance, rising; ``None``: by probability."""
    if stated == "linear":
        return None
    shares = {100: 1.0, **(USUAL if isinstance(stated, str) else stated)}
    return {label / 100: shares[label] for label in sorted(shares)}


def is_hidden(pair: AllelePair, catalogue: Catalogue) -> bool:
    """Say whether an animal with this allele pair is taken for one that carries nothing there."""
    return pair != NORMAL and shown_pair(pair, catalogue) == NORMAL


def told_of(
    labels: Labels,
    group: str,
    young: Sequence[Sequence[Belief | None]],
    chances: Array,
    catalogue: Catalogue,
) -> Iterator[tuple[NDArray[np.intp], Told]]:
    """Yield parents (as rows of ``chances``) whose young bear the same labels, with these.

    ``young`` are the odds of the young of each mother (row) and father, ``None`` for two there
    cannot be; ``chances``, shape (rows, mothers, fathers), those of the parents.
    """
    odds_of = [odds or () for row in young for odds in row]
    found = list(dict.fromkeys(each for odds in odds_of for each, _ in odds))
    place = {each: number for number, each in enumerate(found)}
    odds = np.zeros((len(odds_of), len(found)))
    for row, own in enumerate(odds_of):
        for each, chance in own:
            odds[row, place[each]] += chance
    seen = chances.reshape(len(chances), -1) @ odds
    rows_of = [
        _levels(labels, group, found, seen, veil, catalogue)
        for veil in ((), *veils_of(group, catalogue))
    ]
    level = np.stack(rows_of, axis=2)
    patterns, which = np.unique(level.reshape(len(level), -1), axis=0, return_inverse=True)
    for number in range(len(patterns)):
        rows = np.flatnonzero(which.reshape(-1) == number)
        own = level[rows[0]].tolist()
        yield (
            rows,
            {each: tuple(map(tuple, levels)) for each, levels in zip(found, own, strict=True)},
        )


def _levels(
    labels: Labels,
    group: str,
    found: Sequence[Diplotype],
    seen: Array,
    veil: Veil,
    catalogue: Catalogue,
) -> NDArray[np.intp]:
    """Return the labels of each diplotype under a veil, shape (rows, diplotypes, things).

    ``seen``, shape (rows, diplotypes), are their chances. Those that the veil rules out have none.
    """
    loci = catalogue.groups[group].loci
    pairs = [diplotype_pairs(group, each, catalogue) for each in found]
    possible = possible_under(veil, pairs)
    admitted = [
        all(own[locus] not in barred for locus, barred in veil if locus in own) for own in pairs
    ]
    looks: dict[tuple[AllelePair, ...], int] = {}
    look = [looks.setdefault(_look(each, loci, veil, catalogue), len(looks)) for each in found]
    alike = np.eye(len(looks))[look] * np.array(admitted)[:, None]
    carried = np.array(
        [
            [thing.carried(own[thing.locus], possible.get(thing.locus), catalogue) for own in pairs]
            for thing in labels.hidden[group]
        ],
        dtype=np.float64,
    )
    total = seen @ alike
    part = (seen[:, None, :] * carried) @ alike
    known = np.divide(part, total[:, None], out=np.zeros_like(part), where=total[:, None] > 0)
    level: NDArray[np.intp] = labels.levels(known)[:, :, look] * np.array(admitted)
    return level.transpose(0, 2, 1)


def _look(
    found: Diplotype, loci: Sequence[str], veil: Veil, catalogue: Catalogue
) -> tuple[AllelePair, ...]:
    """Return what can be seen of a diplotype where loci are hidden, its sex included."""
    hidden = {locus for locus, _ in veil}
    pairs = [pair_at(found, place) for place in range(len(loci))]
    return tuple(
        [
            pair
            if locus == SEX_LOCUS
            else NORMAL
            if locus in hidden
            else shown_pair(pair, catalogue)
            for locus, pair in zip(loci, pairs, strict=True)
        ]
    )
