"""Young on record that are not animals of the collection: what they add to the evidence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import AllelePair, ClaimKind, Morph
from brumal.genetics.looks import NORMAL, shown_pair
from brumal.records.animals import Animal

Look = tuple[tuple[str, AllelePair], ...]
"""What shows: (locus, pair) wherever the look differs from normal, sorted by locus."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClutchYoung:
    """The hatchlings of one row of the clutches table whose look was recorded.

    ``young`` holds (how many, morph). Only what shows is evidence: that a young is "het Clown" is a
    conclusion from its parents, not an observation. Slugs, dead eggs and young of unrecorded look
    do not belong here. ``hatched_year`` helps to tell which animals of the collection come from
    this clutch.
    """

    dam: str
    sire: str | None
    young: tuple[tuple[int, Morph], ...]
    row: int = 0
    hatched_year: int | None = None


def without_animals(
    clutches: Sequence[ClutchYoung],
    animals: Sequence[Animal],
    morphs: Mapping[str, Morph],
    catalogue: Catalogue,
) -> tuple[ClutchYoung, ...]:
    """Return the clutches without young that are animals of the collection themselves.

    An animal of the same dam, sire and hatch year is one of the clutch's young and stands for one
    recorded young of its look. Where the year of either is not known the animal is taken to be from
    the clutch too: evidence counted once too little does less harm than evidence counted twice.
    """
    left = [list(clutch.young) for clutch in clutches]
    by_parents: dict[tuple[str | None, str | None], list[int]] = defaultdict(list)
    for place, clutch in enumerate(clutches):
        by_parents[clutch.dam, clutch.sire].append(place)
    for animal in sorted(animals, key=lambda animal: animal.id):
        if animal.dam is None and animal.sire is None:
            continue
        look = look_of(morphs.get(animal.id, Morph()), catalogue)
        year = animal.hatched.year if animal.hatched else None
        same = [
            place
            for place in by_parents.get((animal.dam, animal.sire), ())
            if year is None or clutches[place].hatched_year in (year, None)
        ]
        # Clutches of the very year come before those of an unknown one.
        same.sort(key=lambda place: (clutches[place].hatched_year != year, place))
        for place in same:
            if _take_one(left[place], look, catalogue):
                break
    return tuple(
        replace(clutch, young=tuple((count, morph) for count, morph in young if count > 0))
        for clutch, young in zip(clutches, left, strict=True)
    )


def look_of(morph: Morph, catalogue: Catalogue) -> Look:
    """Return what shows of a morph."""
    shown = (
        (claim.locus, shown_pair(claim.pairs[0], catalogue))
        for claim in morph.claims
        if claim.kind in (ClaimKind.VISUAL, ClaimKind.PINNED)
    )
    return tuple(sorted((locus, pair) for locus, pair in shown if pair != NORMAL))


def _take_one(young: list[tuple[int, Morph]], look: Look, catalogue: Catalogue) -> bool:
    """Take one young of this look off the list; say whether there was one."""
    for place, (count, morph) in enumerate(young):
        if count > 0 and look_of(morph, catalogue) == look:
            young[place] = (count - 1, morph)
            return True
    return False
