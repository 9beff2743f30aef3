"""What limits and first bounds read of all candidate pairs, one array a figure.

A large season has tens of thousands of pairs of which a plan makes a few hundred: sums over all of
them are taken over columns, and a record is made of those pairs alone that are looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array, Candidate, Luck, Pair

Numbers = NDArray[np.intp]
FIGURES = (
    "value",
    "extra",
    "penalty",
    "young",
    "eggs",
    "box_eggs",
    "F",
    "spend",
    "kept",
    "kin",
    "swing",
)
"""Fields that a candidate and the columns share, one number a pair."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PairColumns:
    """All candidate pairs; fields as in ``Candidate``, each array of shape (pairs,).

    ``dam`` and ``sire`` are places in ``dams`` and ``sires``, which are in the order of their
    names. ``means``, shape (pairs, wish terms), is ``None`` where some pair does not state its own.
    """

    pairs: Sequence[Pair]
    dams: Sequence[str]
    dam: Numbers
    sires: Sequence[str]
    sire: Numbers
    value: Array
    extra: Array
    penalty: Array
    young: Array
    eggs: Array
    box_eggs: Array
    F: Array
    spend: Array
    kept: Array
    kin: Array
    swing: Array
    means: Array | None

    @property
    def worth(self) -> Array:
        """Return the money of each pair, shape (pairs,), before any surplus is taken off."""
        return self.value + self.extra - self.penalty

    def __len__(self) -> int:
        return len(self.pairs)

    def only(self, numbers: Sequence[int]) -> PairColumns:
        """Return the columns of some of the pairs; all dams and sires that they have are named."""
        at = np.array(numbers, dtype=np.intp)
        dams, dam = np.unique(self.dam[at], return_inverse=True)
        sires, sire = np.unique(self.sire[at], return_inverse=True)
        return PairColumns(
            pairs=[self.pairs[number] for number in numbers],
            dams=[self.dams[place] for place in dams.tolist()],
            dam=dam.reshape(-1),
            sires=[self.sires[place] for place in sires.tolist()],
            sire=sire.reshape(-1),
            means=None if self.means is None else self.means[at],
            **{name: getattr(self, name)[at] for name in FIGURES},
        )

    def record(
        self,
        number: int,
        *,
        counts: Mapping[int, Array],
        none: Mapping[int, Array],
        count_families: Mapping[int, str],
        none_families: Mapping[int, str],
        luck: Luck | None,
    ) -> Candidate:
        """Return the record of one pair, with what stands in no column."""
        means = {}
        if self.means is not None:
            own = self.means[number]
            means = {term: float(own[term]) for term in np.flatnonzero(own).tolist()}
        return Candidate(
            dam=self.pairs[number][0],
            sire=self.pairs[number][1],
            counts=counts,
            none=none,
            count_families=count_families,
            none_families=none_families,
            luck=luck,
            means=None if self.means is None else means,
            **{name: float(getattr(self, name)[number]) for name in FIGURES},
        )


class Pairs(Sequence[Candidate]):
    """Candidate pairs in columns; the record of one is made when it is first asked for."""

    def __init__(self, columns: PairColumns, make: Callable[[int], Candidate]) -> None:
        """Take the columns, and what makes the record of the pair of a number."""
        self.columns = columns
        self._make = make
        self._made: list[Candidate | None] = [None] * len(columns)

    def __len__(self) -> int:
        return len(self.columns)

    @overload
    def __getitem__(self, number: int) -> Candidate: ...

    @overload
    def __getitem__(self, number: slice) -> tuple[Candidate, ...]: ...

    def __getitem__(self, number: int | slice) -> Candidate | tuple[Candidate, ...]:
        if isinstance(number, slice):
            return tuple([self[place] for place in range(*number.indices(len(self)))])
        number = range(len(self))[number]
        made = self._made[number]
        if made is None:
            made = self._made[number] = self._make(number)
        return made

    def only(self, numbers: Sequence[int]) -> Pairs:
        """Return some of the pairs; their records are those of the whole."""
        return Pairs(self.columns.only(numbers), lambda place: self[numbers[place]])

    def __reduce__(self) -> tuple[type[tuple[Candidate, ...]], tuple[list[Candidate]]]:
        """Leave behind what makes pairs when they travel to another process."""
        return tuple, (list(self),)


def named(names: Sequence[str]) -> tuple[list[str], Numbers]:
    """Return each name once, in order, and the place of each."""
    found = sorted(set(names))
    place = {name: number for number, name in enumerate(found)}
    return found, np.array([place[name] for name in names], dtype=np.intp)


def columns_of(candidates: Sequence[Candidate], terms: int) -> PairColumns:
    """Return the columns of candidates that are all made already; ``terms`` counts wish terms."""
    dams, dam = named([each.dam for each in candidates])
    sires, sire = named([each.sire for each in candidates])
    figures = {
        name: np.array([getattr(each, name) for each in candidates], dtype=np.float64)
        for name in FIGURES
    }
    return PairColumns(
        pairs=[each.pair for each in candidates],
        dams=dams,
        dam=dam,
        sires=sires,
        sire=sire,
        means=_means(candidates, terms),
        **figures,
    )


def _means(candidates: Sequence[Candidate], terms: int) -> Array | None:
    found = np.zeros((len(candidates), terms))
    for number, candidate in enumerate(candidates):
        if candidate.means is None:
            return None
        for term, mean in candidate.means.items():
            found[number, term] = mean
    return found
