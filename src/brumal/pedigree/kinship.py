"""Kinship (coancestry) and inbreeding, exact, for the animals that are asked for.

Two ways lead to the same figures: ``tabular`` fills the matrix of the animals wanted and all their
ancestors; ``strips`` never writes it down, for ancestors so many that it would fill the memory.

Unknown parents are founders of their own, not inbred and unrelated to everyone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from brumal.pedigree.graph import Pedigree
from brumal.pedigree.lineage import Floats, ancestry, lineage_of
from brumal.pedigree.strips import strip_kinship
from brumal.pedigree.tabular import whole_kinship

#: Up to so many animals with their ancestors the whole matrix is the faster way (512 MB at most).
WHOLE_UP_TO = 8000
#: Beyond that, strips save memory where the ancestors outnumber the animals wanted so many times.
STRIPS_FROM = 5


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

    def only(self, ids: Iterable[str]) -> KinshipBlock:
        """Return the kinship among ``ids``, in their order."""
        kept = tuple(ids)
        rows = [self.index[name] for name in kept]
        return _block(kept, self.matrix[np.ix_(rows, rows)])


def kinship_block(pedigree: Pedigree, ids: Iterable[str] | None = None) -> KinshipBlock:
    """Return the exact kinship among ``ids`` (all animals of the pedigree when left out).

    Only the ancestors of ``ids`` are looked at. Raises ``KeyError`` for an id that is not in the
    pedigree and ``ValueError`` for one that is given twice.
    """
    wanted = pedigree.ids if ids is None else tuple(ids)
    if len(set(wanted)) != len(wanted):
        raise ValueError("an id is given twice")
    rows = np.array([pedigree.index[name] for name in wanted], dtype=np.int64)
    members = ancestry(pedigree, rows)
    line = lineage_of(pedigree, members)
    places = np.searchsorted(members, rows)
    if len(members) > max(WHOLE_UP_TO, STRIPS_FROM * len(rows)):
        matrix = strip_kinship(line, places)
    else:
        matrix = whole_kinship(line)
        if not np.array_equal(places, np.arange(len(members))):
            matrix = matrix[np.ix_(places, places)]
    return _block(wanted, matrix)


def _block(ids: tuple[str, ...], matrix: Floats) -> KinshipBlock:
    matrix.setflags(write=False)
    index = MappingProxyType({name: at for at, name in enumerate(ids)})
    return KinshipBlock(ids=ids, matrix=matrix, index=index)
