"""Looks that hide others: what of a genotype can be seen, and what stays unknown under it.

A white snake shows no pattern. Which looks hide which loci is said by the catalogue (its *masks*,
in order: of two in one animal the earlier is seen). What an animal's eye-catching looks are divides
all genotypes into *scenes*: within a scene it is settled which loci are hidden, and a scene asks
something of each locus by itself. So independent loci stay independent within a scene, and whatever
is exact for a product over loci is exact here as a sum over the few scenes that can be.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue, Mask
from brumal.genetics.genotypes import (
    SEX_LOCUS,
    AllelePair,
    ClaimKind,
    Diplotype,
    GroupOdds,
    Morph,
)
from brumal.genetics.looks import NORMAL, pair_at, shown_pair

Veil = tuple[tuple[str, frozenset[AllelePair]], ...]
"""The hidden loci of a linkage group, each with the pairs it cannot have: those would be seen."""


@dataclass(frozen=True, slots=True)
class Scene:
    """Which masks are seen (places in the catalogue's list), and what that says of each locus.

    ``shown`` maps the locus of a mask that is seen to its pairs, ``barred`` a locus to the pairs
    that would show another mask, and ``hidden`` holds the loci that nobody can see.
    """

    masks: tuple[int, ...] = ()
    hidden: frozenset[str] = frozenset()
    shown: tuple[tuple[str, frozenset[AllelePair]], ...] = ()
    barred: tuple[tuple[str, frozenset[AllelePair]], ...] = ()

    def admits(self, locus: str, pair: AllelePair) -> bool:
        """Say whether an animal of this scene may carry a pair at a locus."""
        for name, pairs in self.shown:
            if name == locus:
                return pair in pairs
        return all(name != locus or pair not in pairs for name, pairs in self.barred)

    def look(self, locus: str, pair: AllelePair, catalogue: Catalogue) -> AllelePair:
        """Return the pair that an animal of this scene is taken for at a locus by its look."""
        return NORMAL if locus in self.hidden else shown_pair(pair, catalogue)

    def veil(self, loci: Iterable[str]) -> Veil:
        """Return which of these loci are hidden."""
        barred = dict(self.barred)
        return tuple(
            (locus, barred.get(locus, frozenset())) for locus in loci if locus in self.hidden
        )


OPEN = Scene()
"""Nothing is hidden."""


@lru_cache(maxsize=1 << 12)
def scenes(possible: tuple[int, ...], catalogue: Catalogue) -> tuple[Scene, ...]:
    """Return every scene of animals in which no other masks can be met; the open one comes first.

    ``possible`` are places in the catalogue's list of masks, ascending.
    """
    found = [OPEN]
    for place in possible:
        mask = catalogue.masks[place]
        found = [longer for scene in found for longer in _with_mask(scene, place, mask)]
    return tuple(found)


def _with_mask(scene: Scene, place: int, mask: Mask) -> Iterator[Scene]:
    if mask.locus in scene.hidden:
        yield scene
        return
    shown, barred = dict(scene.shown), dict(scene.barred)
    if mask.locus in shown:
        # Another mask of the same locus is seen: the locus cannot have this one's pairs too.
        yield scene
        return
    without = barred | {mask.locus: barred.get(mask.locus, frozenset()) | mask.pairs}
    yield Scene(scene.masks, scene.hidden, scene.shown, tuple(sorted(without.items(), key=_name)))
    seen = {*shown, mask.locus}
    yield Scene(
        (*scene.masks, place),
        scene.hidden | (mask.hides - seen),
        tuple(sorted({**shown, mask.locus: mask.pairs}.items(), key=_name)),
        scene.barred,
    )


def _name(item: tuple[str, frozenset[AllelePair]]) -> str:
    return item[0]


def possible_masks(groups: Iterable[GroupOdds], catalogue: Catalogue) -> tuple[int, ...]:
    """Return the masks that some young may show, if nothing else hides them."""
    if not catalogue.masks:
        return ()
    at_locus = _by_locus(catalogue)
    found: set[int] = set()
    for odds in groups:
        for place, locus in enumerate(catalogue.groups[odds.group].loci):
            if locus in at_locus:
                found |= {
                    at_locus[locus][pair]
                    for case in odds.cases
                    for carried, _ in case.outcomes
                    if (pair := pair_at(carried, place)) in at_locus[locus]
                }
    return tuple(sorted(found))


def scenes_of(groups: Iterable[GroupOdds], catalogue: Catalogue) -> tuple[Scene, ...]:
    """Return every scene that the young of a pair may make."""
    return scenes(possible_masks(groups, catalogue), catalogue)


def admitted(scene: Scene, group: str, carried: Diplotype, catalogue: Catalogue) -> bool:
    """Say whether an animal of a scene may carry a diplotype at a linkage group."""
    return scene is OPEN or all(
        scene.admits(locus, pair_at(carried, place))
        for place, locus in enumerate(catalogue.groups[group].loci)
        if locus != SEX_LOCUS
    )


@lru_cache(maxsize=1 << 12)
def scene_of_marks(marks: int, catalogue: Catalogue) -> Scene:
    """Return the scene of an animal whose loci have the pairs of these masks, given as bits."""
    scene = OPEN
    for place, mask in enumerate(catalogue.masks if marks else ()):
        without, *seen = _with_mask(scene, place, mask)
        scene = seen[0] if seen and marks >> place & 1 else without
    return scene


def marks_of(group: str, carried: Diplotype, catalogue: Catalogue) -> int:
    """Return the masks whose pairs a diplotype of a linkage group has, as bits."""
    marks = 0
    for place, locus in enumerate(catalogue.groups[group].loci):
        mask = mask_at(locus, pair_at(carried, place), catalogue)
        if mask is not None:
            marks |= 1 << mask
    return marks


@lru_cache(maxsize=1 << 10)
def veils_of(group: str, catalogue: Catalogue) -> tuple[Veil, ...]:
    """Return every way in which loci of a linkage group may be hidden."""
    everything = tuple(range(len(catalogue.masks)))
    loci = catalogue.groups[group].loci
    return tuple(
        dict.fromkeys(veil for scene in scenes(everything, catalogue) if (veil := scene.veil(loci)))
    )


def possible_under(
    veil: Veil, support: Iterable[Mapping[str, AllelePair]]
) -> dict[str, frozenset[AllelePair]]:
    """Return what young may have at each hidden locus, of all pairs that they may have by locus."""
    carried = list(support)
    return {
        locus: frozenset(pairs[locus] for pairs in carried if pairs[locus] not in barred)
        for locus, barred in veil
    }


def mask_at(locus: str, pair: AllelePair, catalogue: Catalogue) -> int | None:
    """Return the place of the mask that a pair of a locus makes, if any."""
    return _by_locus(catalogue).get(locus, {}).get(pair)


@lru_cache(maxsize=1 << 14)
def scene_of(morph: Morph, catalogue: Catalogue) -> Scene:
    """Return the scene that an animal's stated look makes."""
    stated = (ClaimKind.VISUAL, ClaimKind.PINNED, ClaimKind.ANY_OF)
    seen = {claim.locus: claim.pairs[0] for claim in morph.claims if claim.kind in stated}
    return scene_of_pairs(seen, catalogue)


def scene_of_pairs(pairs: Mapping[str, AllelePair], catalogue: Catalogue) -> Scene:
    """Return the scene of an animal that carries these pairs; a locus left out is wild type."""
    made = [mask_at(locus, pair, catalogue) for locus, pair in pairs.items()]
    return scene_of_marks(sum(1 << mask for mask in made if mask is not None), catalogue)


@lru_cache(maxsize=8)
def _by_locus(catalogue: Catalogue) -> Mapping[str, Mapping[AllelePair, int]]:
    found: dict[str, dict[AllelePair, int]] = {}
    for place, mask in enumerate(catalogue.masks):
        found.setdefault(mask.locus, {}).update(dict.fromkeys(mask.pairs, place))
    return found
