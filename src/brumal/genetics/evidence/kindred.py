"""Who descends from whom, as evidence needs it: parents before young, unknown parents made nodes.

An id that stands only as a parent is a founder without a record; an unknown parent of a half-known
animal (or of a clutch) is an anonymous founder of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from graphlib import TopologicalSorter
from typing import Protocol

from brumal.records.animals import Animal, Sex


class HasParents(Protocol):
    """A clutch, as far as kinship goes."""

    @property
    def dam(self) -> str: ...  # noqa: D102
    @property
    def sire(self) -> str | None: ...  # noqa: D102


@dataclass(frozen=True)
class Kindred:
    """The pedigree by number; a number is a place in ``ids``, parents stand before their young.

    ``parents`` holds (dam, sire) or ``None`` for a founder. ``recorded`` says whether the animal
    has a row of its own; ``clutches`` holds (dam,
    sire) of each clutch given.
    """

    ids: tuple[str, ...]
    parents: tuple[tuple[int, int] | None, ...]
    sexes: tuple[Sex | None, ...]
    recorded: tuple[bool, ...]
    labels: tuple[str, ...]
    clutches: tuple[tuple[int, int], ...]

    @cached_property
    def place(self) -> dict[str, int]:
        """The number of each id."""
        return {name: number for number, name in enumerate(self.ids)}

    @cached_property
    def young(self) -> tuple[tuple[int, ...], ...]:
        """The numbers of each animal's young."""
        found: list[list[int]] = [[] for _ in self.ids]
        for number, both in enumerate(self.parents):
            for parent in both or ():
                found[parent].append(number)
        return tuple(tuple(young) for young in found)

    def ancestors(self, numbers: Iterable[int]) -> set[int]:
        """Return these animals and all that they descend from."""
        found: set[int] = set()
        waiting = list(numbers)
        while waiting:
            number = waiting.pop()
            if number not in found:
                found.add(number)
                waiting.extend(self.parents[number] or ())
        return found

    def parted(self, numbers: Collection[int], unrecorded: Collection[int]) -> Kindred:
        """Return the pedigree with these animals as founders, and those as without a record."""
        return replace(
            self,
            parents=tuple(None if n in numbers else both for n, both in enumerate(self.parents)),
            recorded=tuple(known and n not in unrecorded for n, known in enumerate(self.recorded)),
        )

    def is_anonymous(self, number: int) -> bool:
        """Say whether nothing at all is known of this animal, not even an id."""
        return self.ids[number].startswith(_UNKNOWN)


def kindred(animals: Sequence[Animal], clutches: Sequence[HasParents]) -> Kindred:
    """Return the pedigree of the animals, of their parents and of the parents of the clutches.

    Order does not depend on the order of rows. Raises ``ValueError`` where an animal descends from
    itself or is both dam and sire; the pedigree's own checks report those to the keeper first.
    """
    rows = {animal.id: animal for animal in animals}
    pairs: dict[str, tuple[str, str]] = {}
    for animal in sorted(animals, key=lambda animal: animal.id):
        if animal.dam is not None or animal.sire is not None:
            pairs[animal.id] = (
                animal.dam or f"{_UNKNOWN}dam of {animal.id}",
                animal.sire or f"{_UNKNOWN}sire of {animal.id}",
            )
    clutch_pairs = [
        (clutch.dam, clutch.sire or f"{_UNKNOWN}sire of clutch {number}")
        for number, clutch in enumerate(clutches)
    ]
    dams = {dam for dam, _ in (*pairs.values(), *clutch_pairs)}
    sires = {sire for _, sire in (*pairs.values(), *clutch_pairs)}
    if dams & sires:
        raise ValueError(f"both dam and sire: {', '.join(sorted(dams & sires))}")
    everyone = sorted({*rows, *dams, *sires})
    ids = tuple(TopologicalSorter({name: pairs.get(name, ()) for name in everyone}).static_order())
    place = {name: number for number, name in enumerate(ids)}

    def sex(name: str) -> Sex | None:
        if name in dams:
            return Sex.FEMALE
        if name in sires:
            return Sex.MALE
        return rows[name].sex

    return Kindred(
        ids=ids,
        parents=tuple(
            (place[pairs[name][0]], place[pairs[name][1]]) if name in pairs else None
            for name in ids
        ),
        sexes=tuple(sex(name) for name in ids),
        recorded=tuple(name in rows for name in ids),
        labels=tuple(rows[name].label if name in rows else _label(name) for name in ids),
        clutches=tuple((place[dam], place[sire]) for dam, sire in clutch_pairs),
    )


def _label(name: str) -> str:
    return f"the unknown {name[1:]}" if name.startswith(_UNKNOWN) else name


_UNKNOWN = "\0"
"""What no id in a keeper's file starts with."""
