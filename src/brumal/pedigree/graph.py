"""The pedigree of a collection as a graph: parents before young, every fault in it found."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from graphlib import TopologicalSorter
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from brumal.pedigree.checks import Parents, check_parents, sexes_of
from brumal.pedigree.cycles import cut_cycles, young_of
from brumal.records.animals import Animal, Sex
from brumal.records.faults import Fault, Where

UNKNOWN = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class FounderFacts:
    """What the keeper states of founders: F of each, and kinship (coancestry) of two of them.

    The keys of ``kinship`` are ordered pairs of ids (the lesser id first). Founders that are not
    named here count as not inbred and unrelated.
    """

    F: Mapping[str, float] = field(default_factory=dict)
    kinship: Mapping[tuple[str, str], float] = field(default_factory=dict)

    def phi(self, one: str, other: str) -> float:
        """Return the kinship of two founders, (1 + F) / 2 of one with itself."""
        if one == other:
            return (1.0 + self.F.get(one, 0.0)) / 2.0
        return self.kinship.get((min(one, other), max(one, other)), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pedigree:
    """A pedigree without cycles.

    ``ids`` lists every animal and every ancestor known by name only, parents before young: the
    founders, then those with young by generation, then those without; clutch mates stand together,
    and the order of the rows in the file does not matter. ``dams``, ``sires`` and ``step`` are
    arrays of shape (len(ids),): positions in ``ids`` with -1 for an unknown parent; and 0 for
    founders or 1 + the greater generation of the parents, with one last step for all animals
    without young, never falling along ``ids``.
    ``young`` holds the young of each, in order of their ids.
    """

    young: Mapping[str, tuple[str, ...]]
    ids: tuple[str, ...]
    index: Mapping[str, int]
    dams: NDArray[np.int64]
    sires: NDArray[np.int64]
    step: NDArray[np.int64]
    animals: Mapping[str, Animal]
    sexes: Mapping[str, Sex]
    founders: FounderFacts

    def parents(self, animal: str) -> Parents:
        """Return (dam, sire) of an animal, ``None`` for one that is not known."""
        at = self.index[animal]
        dam, sire = int(self.dams[at]), int(self.sires[at])
        return (
            None if dam == UNKNOWN else self.ids[dam],
            None if sire == UNKNOWN else self.ids[sire],
        )

    def label(self, animal: str) -> str:
        """Return the name with the id, or the id of an ancestor known by name only."""
        row = self.animals.get(animal)
        return row.label if row else animal


def build_pedigree(
    animals: Sequence[Animal],
    founders: FounderFacts | None = None,
    *,
    file: str = "animals.csv",
) -> tuple[Pedigree, tuple[Fault, ...]]:
    """Build the pedigree of ``animals`` and find every fault in it.

    Parent ids without a row of their own become ancestors known by name only (the records reader
    lists them, and near misses of known ids). Links inside a cycle
    are left out, so the pedigree can be used after errors only to find more of them. ``founders``
    applies to founders only; ``brumal.pedigree.founders.kin_faults`` reports the rest of it.
    Raises nothing: the faults carry what is wrong.
    """
    rows, faults = _first_rows(animals, file)
    parents: dict[str, Parents] = {name: (row.dam, row.sire) for name, row in rows.items()}
    faults += check_parents(rows, file)
    parents, cycle_faults = cut_cycles(parents, rows, file)
    faults += cycle_faults
    named_only = sorted({p for pair in parents.values() for p in pair if p and p not in parents})
    parents.update({name: (None, None) for name in named_only})
    return _assemble(parents, rows, founders or FounderFacts()), tuple(faults)


def _first_rows(animals: Iterable[Animal], file: str) -> tuple[dict[str, Animal], list[Fault]]:
    """Return the animals by id, and a fault for each id that stands twice."""
    rows: dict[str, Animal] = {}
    faults = []
    for animal in animals:
        first = rows.setdefault(animal.id, animal)
        if first is not animal:
            faults.append(
                Fault(
                    where=Where(file=file, row=animal.row or None, column="id"),
                    found=f"'{animal.id}' a second time"
                    + (f" (first in row {first.row})" if first.row else ""),
                    expected="an id of its own for each animal",
                )
            )
    return rows, faults


def _assemble(
    parents: Mapping[str, Parents], rows: Mapping[str, Animal], facts: FounderFacts
) -> Pedigree:
    links = {name: {each for each in parents[name] if each} for name in sorted(parents)}
    young = {name: tuple(sorted(own)) for name, own in young_of(links).items()}
    generation: dict[str, int] = {}
    for name in TopologicalSorter(links).static_order():
        generation[name] = max((1 + generation[each] for each in links[name]), default=0)
    steps = _steps(young, generation)
    index: dict[str, int] = {}
    for step in steps:
        for name in sorted(step, key=lambda one: (*_places(parents[one], index), one)):
            index[name] = len(index)
    ids = tuple(index)

    places = [_places(parents[name], index) for name in ids]

    def is_founder(name: str) -> bool:
        return parents.get(name) == (None, None)

    return Pedigree(
        young=MappingProxyType(young),
        ids=ids,
        index=MappingProxyType(index),
        dams=_frozen([dam for dam, _ in places]),
        sires=_frozen([sire for _, sire in places]),
        step=_frozen([at for at, step in enumerate(steps) for _ in step]),
        animals=MappingProxyType(dict(rows)),
        sexes=MappingProxyType(sexes_of(parents, rows)),
        founders=FounderFacts(
            F={name: value for name, value in facts.F.items() if is_founder(name)},
            kinship={
                (min(a, b), max(a, b)): value
                for (a, b), value in facts.kinship.items()
                if a != b and is_founder(a) and is_founder(b)
            },
        ),
    )


def _steps(young: Mapping[str, tuple[str, ...]], generation: Mapping[str, int]) -> list[list[str]]:
    """Return the animals in steps: founders, those with young by generation, all the others."""
    last = max(generation.values(), default=0) + 1
    steps: dict[int, list[str]] = {}
    for name, at in generation.items():
        steps.setdefault(at if at == 0 or young[name] else last, []).append(name)
    return [steps[at] for at in sorted(steps)]


def _places(pair: Parents, index: Mapping[str, int]) -> tuple[int, int]:
    dam, sire = pair
    return (UNKNOWN if dam is None else index[dam], UNKNOWN if sire is None else index[sire])


def _frozen(values: Sequence[int]) -> NDArray[np.int64]:
    array = np.array(values, dtype=np.int64)
    array.setflags(write=False)
    return array
