"""What the animals of a collection are, by their looks, their parents and all recorded young.

Every linkage group is inferred exactly over the whole pedigree, loops and shared uncertain parents
included. The parts, each with its source: ``group_space`` (what is possible), ``family_network``
(how families combine), ``inference`` (the bucket tree and its limit), ``group_solver`` (hidden
alleles and contradictions), ``evidence_findings`` (what the keeper is told).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.meiosis import is_wild, wild_pair
from brumal.genetics.evidence.bucket_tree import LARGEST_TABLE
from brumal.genetics.evidence.clutch_evidence import ClutchYoung, without_animals
from brumal.genetics.evidence.family_network import ClutchLooks
from brumal.genetics.evidence.findings import Collection, GeneticFinding, findings_of
from brumal.genetics.evidence.group_evidence import GroupEvidence
from brumal.genetics.evidence.group_solver import GroupResult, solve_group
from brumal.genetics.evidence.group_space import GroupSpace
from brumal.genetics.evidence.kindred import Kindred, kindred
from brumal.genetics.genotypes import (
    SEX_GROUP,
    WILD,
    Belief,
    Claim,
    ClaimKind,
    Genotype,
    Morph,
)
from brumal.genetics.masks import Scene, scene_of
from brumal.records.animals import Animal, Sex

__all__ = ["ClutchYoung", "GeneticFinding", "Inferred", "infer"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Inferred:
    """All that is inferred of a collection.

    ``genotypes`` maps an animal's id to its genotype (equal beliefs are one object), ``findings``
    holds what the keeper should know; with an error among them the genotypes near it are not to be
    trusted. ``collection`` holds what the evidence was, ``groups`` the solved linkage groups, for
    joint questions (``pair_odds``) and explanations (``why_known``).
    """

    genotypes: Mapping[str, Genotype]
    findings: tuple[GeneticFinding, ...]
    collection: Collection
    groups: Mapping[str, GroupResult]

    @cached_property
    def uncertain(self) -> Mapping[str, Mapping[str, int]]:
        """For each animal: the groups where it is uncertain and the part that it belongs to."""
        found: dict[str, dict[str, int]] = {name: {} for name in self.genotypes}
        for group, result in self.groups.items():
            for index, part in enumerate(result.parts):
                for number in part.numbers:
                    name = self.collection.kin.ids[number]
                    if name in found:
                        found[name][group] = index
        return found


def infer(
    animals: Sequence[Animal],
    morphs: Mapping[str, Morph],
    clutch_young: Sequence[ClutchYoung],
    catalogue: Catalogue,
    *,
    largest_table: int = LARGEST_TABLE,
) -> Inferred:
    """Infer the genotype of every animal from all evidence together.

    ``morphs`` maps an id to its morph (left out: normal). A founder is what its morph says and wild
    type elsewhere. Other animals have Mendelian odds from their parents, given their own look; a
    visual, het or pinned claim is taken as fact, a possible het that the pedigree accounts for adds
    nothing, and one that it does not account for is the prior. Young in ``clutch_young`` count by
    their look, unless they are animals of the collection (see ``clutch_evidence``). A look that
    hides others leaves what it hides open: in an animal unless its morph states it, in a young
    whatever its morph states.

    The pedigree must be sound: raises ``ValueError`` for an animal that descends from itself or is
    both dam and sire, ``KeyError`` for an allele or locus that the catalogue does not hold.
    """
    rows = {animal.id: animal for animal in animals}
    known = {name: morphs.get(name, Morph()) for name in rows}
    kin = kindred(animals, clutch_young)
    clutches = without_animals(clutch_young, animals, known, catalogue)
    evidence = _by_group(kin, known, clutches, catalogue)
    groups = {name: solve_group(each, largest_table) for name, each in evidence.items()}
    collection = Collection(kin, rows, known, clutches, catalogue)
    return Inferred(
        genotypes=_genotypes(tuple(rows.values()), kin, groups, catalogue),
        findings=findings_of(collection, groups),
        collection=collection,
        groups=groups,
    )


def _by_group(
    kin: Kindred,
    morphs: Mapping[str, Morph],
    clutches: Sequence[ClutchYoung],
    catalogue: Catalogue,
) -> dict[str, GroupEvidence]:
    """Return the evidence at each linkage group that anyone is said to carry a mutant allele of."""
    group_of = {locus: group.id for group in catalogue.groups.values() for locus in group.loci}
    claims: dict[str, dict[int, tuple[Claim, ...]]] = {}
    in_play: dict[str, dict[str, set[str]]] = {}

    def put_in_play(claim: Claim) -> None:
        alleles = {allele for pair in claim.pairs for allele in pair} - {WILD}
        by_locus = in_play.setdefault(group_of[claim.locus], {})
        by_locus.setdefault(claim.locus, set()).update(alleles)

    for number, name in enumerate(kin.ids):
        for claim in morphs[name].claims if name in morphs else ():
            put_in_play(claim)
            by_number = claims.setdefault(group_of[claim.locus], {})
            by_number[number] = (*by_number.get(number, ()), claim)
    for clutch in clutches:
        for _, morph in clutch.young:
            for claim in _shown(morph, catalogue):
                put_in_play(claim)
    hiding = _hiding(kin, morphs, catalogue)
    found = {}
    for name, by_locus in sorted(in_play.items()):
        if any(by_locus.values()):
            space = GroupSpace(catalogue.groups[name], by_locus, catalogue)
            looks = _clutch_looks(space, kin, clutches, catalogue)
            veils = {
                number: veil
                for number, scene in hiding.items()
                if (veil := scene.veil(space.group.loci))
            }
            found[name] = GroupEvidence(space, kin, claims.get(name, {}), looks, veils)
    return found


def _hiding(kin: Kindred, morphs: Mapping[str, Morph], catalogue: Catalogue) -> dict[int, Scene]:
    """Return the scene of each animal whose look hides others."""
    scenes = {
        number: scene_of(morphs[name], catalogue)
        for number, name in enumerate(kin.ids)
        if name in morphs
    }
    return {number: scene for number, scene in scenes.items() if scene.hidden}


def _clutch_looks(
    space: GroupSpace, kin: Kindred, clutches: Sequence[ClutchYoung], catalogue: Catalogue
) -> tuple[ClutchLooks, ...]:
    """Return what the young of each clutch show at a group, alike young counted together.

    A young whose look hides the whole group says nothing of it and is left out.
    """
    found = []
    anything = space.anything(None).mask
    for place, (clutch, (dam, sire)) in enumerate(zip(clutches, kin.clutches, strict=True)):
        looks: dict[int, int] = {}
        for count, morph, sex in clutch.seen:
            look = look_at(space, morph, sex, catalogue)
            if look != anything:
                looks[look] = looks.get(look, 0) + count
        if looks:
            found.append(ClutchLooks(place, dam, sire, tuple(sorted(looks.items()))))
    return tuple(found)


def look_at(space: GroupSpace, morph: Morph, sex: Sex | None, catalogue: Catalogue) -> int:
    """Return the mask of what a young of this look may be at a group."""
    loci = space.group.loci
    here = tuple(claim for claim in _shown(morph, catalogue) if claim.locus in loci)
    return space.seen(here, sex, scene_of(morph, catalogue).veil(loci))


def _shown(morph: Morph, catalogue: Catalogue) -> tuple[Claim, ...]:
    """Return the claims of a morph that its look bears out."""
    seen = (ClaimKind.VISUAL, ClaimKind.PINNED, ClaimKind.ANY_OF)
    hidden = scene_of(morph, catalogue).hidden
    return tuple(c for c in morph.claims if c.kind in seen and c.locus not in hidden)


def _genotypes(
    animals: Sequence[Animal],
    kin: Kindred,
    groups: Mapping[str, GroupResult],
    catalogue: Catalogue,
) -> dict[str, Genotype]:
    """Return each animal's beliefs; groups certainly wild are left out, equal beliefs shared."""
    shared: dict[Belief, Belief] = {}
    sexes = {sex: _sex_belief(catalogue, sex) for sex in (Sex.FEMALE, Sex.MALE, None)}
    wild = {
        name: {place for place, pair in enumerate(result.evidence.space.pairs) if is_wild(pair)}
        for name, result in groups.items()
    }
    found = {}
    for animal in sorted(animals, key=lambda animal: animal.id):
        number = kin.place[animal.id]
        beliefs = {SEX_GROUP: sexes[kin.sexes[number]]}
        for name, result in groups.items():
            odds, pairs = result.odds(number), result.evidence.space.pairs
            if name != SEX_GROUP and len(odds) == 1 and odds[0][0] in wild[name]:
                continue
            belief = tuple([(pairs[place], chance) for place, chance in odds])
            # Equal up to the last digits of a float is equal.
            key = tuple([(pair, round(chance, 14)) for pair, chance in belief])
            beliefs[name] = shared.setdefault(key, belief)
        found[animal.id] = Genotype(dict(sorted(beliefs.items())))
    return found


def _sex_belief(catalogue: Catalogue, sex: Sex | None) -> Belief:
    group = catalogue.groups[SEX_GROUP]
    if sex is not None:
        return ((wild_pair(group, sex), 1.0),)
    return ((wild_pair(group, Sex.FEMALE), 0.5), (wild_pair(group, Sex.MALE), 0.5))
