"""Young on record that are not animals of the collection: what they add to the evidence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import AllelePair, ClaimKind, Morph
from brumal.genetics.looks import NORMAL, shown_pair
from brumal.genetics.masks import scene_of
from brumal.records.animals import Animal, Sex

Look = tuple[tuple[str, frozenset[AllelePair]], ...]
"""What shows: (locus, pairs) wherever the look differs from normal, sorted by locus.

There are several pairs where the keeper names a look of unknown make-up.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClutchYoung:
    """The hatchlings of one row of the clutches table whose look was recorded.

    ``young`` holds (how many, morph). Only what shows is evidence: that a young is "het Clown" is a
    conclusion from its parents, not an observation. Slugs, dead eggs and young of unrecorded look
    do not belong here. ``sexes`` holds the sex of each entry where it was told (empty: of none).
    ``hatched_year`` helps to tell which animals of the collection come from this clutch.
    """

    dam: str
    sire: str | None
    young: tuple[tuple[int, Morph], ...]
    row: int = 0
    hatched_year: int | None = None
    sexes: tuple[Sex | None, ...] = ()

    @property
    def seen(self) -> tuple[tuple[int, Morph, Sex | None], ...]:
        """Return how many, of which morph and of which sex, entry by entry."""
        both = zip_longest(self.young, self.sexes[: len(self.young)])
        return tuple((count, morph, sex) for (count, morph), sex in both)


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
    left = [list(clutch.seen) for clutch in clutches]
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
            if _take_one(left[place], look, animal.sex, catalogue):
                break
    kept = [[each for each in young if each[0] > 0] for young in left]
    return tuple(
        replace(
            clutch,
            young=tuple((count, morph) for count, morph, _ in young),
            sexes=tuple(sex for _, _, sex in young) if clutch.sexes else (),
        )
        for clutch, young in zip(clutches, kept, strict=True)
    )


def look_of(morph: Morph, catalogue: Catalogue) -> Look:
    """Return what shows of a morph: not what another of its looks hides."""
    hidden = scene_of(morph, catalogue).hidden
    shown = (
        (claim.locus, frozenset(shown_pair(pair, catalogue) for pair in claim.pairs))
        for claim in morph.claims
        if claim.kind in (ClaimKind.VISUAL, ClaimKind.PINNED, ClaimKind.ANY_OF)
        and claim.locus not in hidden
    )
    return tuple(sorted((locus, pairs) for locus, pairs in shown if pairs != {NORMAL}))


def _take_one(
    young: list[tuple[int, Morph, Sex | None]],
    look: Look,
    sex: Sex | None,
    catalogue: Catalogue,
) -> bool:
    """Take one young of this look off the list, of this sex if it can be; say whether it could."""
    fits = [
        (seen_sex != sex, _alike(look_of(morph, catalogue), look), place)
        for place, (count, morph, seen_sex) in enumerate(young)
        if count > 0 and (sex is None or seen_sex in (sex, None))
    ]
    best = min(
        ((other, rank, place) for other, rank, place in fits if rank is not None), default=None
    )
    if best is None:
        return False
    place = best[2]
    count, morph, seen_sex = young[place]
    young[place] = (count - 1, morph, seen_sex)
    return True


def _alike(one: Look, two: Look) -> int | None:
    """Return 0 for equal looks, 1 for looks that may be one of unknown make-up, else ``None``."""
    if one == two:
        return 0
    if [locus for locus, _ in one] != [locus for locus, _ in two]:
        return None
    return 1 if all(a & b for (_, a), (_, b) in zip(one, two, strict=True)) else None
