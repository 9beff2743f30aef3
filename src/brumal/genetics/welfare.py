"""Welfare: the chance that young, or an animal itself, carry a genotype tied to a disorder.

Lethal and neurological notes are excluded by default, those on laying and fertility bar the animal
itself without a vet's clearance, the others are cautions. The keeper lifts an
exclusion by naming the genotype itself in ``accept_welfare``: ``Spider`` lifts the note on one copy
of Spider and no other. Who accepts a wobble has not accepted the death of homozygotes or what two
such genes do together, so ``Super Spider`` and ``Champagne Spider`` need entries of their own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue, WelfareNote
from brumal.genetics.claims import MorphProblem, sorted_pair
from brumal.genetics.genotypes import (
    SEX_GROUP,
    WILD,
    Belief,
    Diplotype,
    Genotype,
    GroupOdds,
    Offspring,
    Y,
)
from brumal.genetics.notation.naming import name_of
from brumal.genetics.notation.parse import parse_morph
from brumal.records.animals import Sex

Carries = frozenset[tuple[str, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class WelfareRisk:
    """A note with the probability that one young (or the animal) carries its genotype.

    ``genotype`` is what the note is on, in trade notation; ``excluded`` says whether the tool
    leaves such young out of every plan: the note is lethal or neurological and not lifted.
    ``accepted`` says that the keeper's ``accept_welfare`` names the genotype.
    """

    note: WelfareNote
    genotype: str
    probability: float
    excluded: bool
    accepted: bool = False


@dataclass(frozen=True, slots=True)
class Demand:
    """What a note asks of one linkage group: copies of alleles by place, and the sex."""

    copies: tuple[tuple[int, str, int], ...] = ()
    sex: Sex | None = None

    def met(self, found: Diplotype) -> bool:
        """Say whether a diplotype has what is asked."""
        first, second = found
        if self.sex is not None:
            male = Y in (first[0], second[0])
            if male != (self.sex is Sex.MALE):
                return False
        return all(
            (first[place] == allele) + (second[place] == allele) >= copies
            for place, allele, copies in self.copies
        )


@dataclass(frozen=True, slots=True)
class Watched:
    """A note ready for use: where its genes lie and what it asks there."""

    note: WelfareNote
    genotype: str
    gene_groups: frozenset[str]
    demands: Mapping[str, Demand]


def welfare_risks(
    offspring: Offspring, catalogue: Catalogue, accepted: frozenset[str] = frozenset()
) -> tuple[WelfareRisk, ...]:
    """Return every note that a young of this pair may fall under, with its exact probability.

    ``accepted`` holds the keeper's ``accept_welfare`` entries. Linkage groups are independent, so
    the probability is the product over the groups of a note of the chance there, each summed over
    what the parents may be; genes of one group are taken jointly. Notes come in catalogue order.
    """
    watched, gene_groups = _watched(catalogue)
    present = {odds.group: odds for odds in offspring.groups}
    if gene_groups.isdisjoint(present):
        return ()
    return tuple(
        _risk(item, probability, catalogue, accepted)
        for item in watched
        if item.gene_groups <= present.keys()
        for probability in [
            math.prod(_share(present[group], demand) for group, demand in item.demands.items())
        ]
        if probability > 0
    )


def watched_notes(catalogue: Catalogue) -> tuple[Watched, ...]:
    """Return the notes ready for use."""
    return _watched(catalogue)[0]


def watched_genes(genotype: Genotype, catalogue: Catalogue) -> frozenset[str]:
    """Return the genes of welfare notes that an animal may carry."""
    watched, groups = _watched(catalogue)
    carried = {
        allele
        for group in groups
        for (one, two), _ in genotype.groups.get(group, ())
        for allele in (*one, *two)
    }
    return frozenset(gene for item in watched for gene in item.note.carries if gene in carried)


def bears_on_welfare(genes: frozenset[str], catalogue: Catalogue) -> bool:
    """Say whether young may fall under a note if no other genes of notes come together in them.

    Where not, ``welfare_risks`` finds none: both parents lack a gene that each note asks for.
    """
    return any(item.note.carries.keys() <= genes for item in _watched(catalogue)[0])


def animal_welfare(
    genotype: Genotype, catalogue: Catalogue, accepted: frozenset[str] = frozenset()
) -> tuple[WelfareRisk, ...]:
    """Return every note that an animal itself may fall under, as ``welfare_risks`` does."""
    watched, _ = _watched(catalogue)
    return tuple(
        _risk(item, probability, catalogue, accepted)
        for item in watched
        if item.gene_groups <= genotype.groups.keys()
        for probability in [
            math.prod(
                _met_share(genotype.groups[group], demand) for group, demand in item.demands.items()
            )
        ]
        if probability > 0
    )


def accept_problems(accepted: Iterable[str], catalogue: Catalogue) -> tuple[MorphProblem, ...]:
    """Return what is wrong with ``accept_welfare`` entries: each names the genotype of a note."""
    known = {note_key(item.note): item.genotype for item in _watched(catalogue)[0]}
    problems: list[MorphProblem] = []
    for entry in accepted:
        carries, unread = _carries(entry, catalogue)
        problems.extend(unread)
        if carries is not None and carries not in known:
            genes = {gene for gene, _ in carries}
            near = [name for key, name in known.items() if genes & {gene for gene, _ in key}]
            problems.append(
                MorphProblem(
                    found=f"{entry!r}, on which there is no welfare note",
                    expected="the genotype of a welfare note, such as 'Spider'",
                    repair=f"Notes that name it: {', '.join(map(repr, near))}." if near else "",
                )
            )
    return tuple(problems)


def _risk(
    item: Watched, probability: float, catalogue: Catalogue, accepted: frozenset[str]
) -> WelfareRisk:
    lifted = bool(accepted) and note_key(item.note) in _lifted(catalogue, accepted)
    return WelfareRisk(
        note=item.note,
        genotype=item.genotype,
        probability=min(probability, 1.0),
        excluded=item.note.excluded and not lifted,
        accepted=lifted,
    )


def _share(odds: GroupOdds, demand: Demand) -> float:
    return math.fsum(case.weight * _met_share(case.outcomes, demand) for case in odds.cases)


def _met_share(belief: Belief, demand: Demand) -> float:
    return math.fsum(chance for found, chance in belief if demand.met(found))


@lru_cache(maxsize=8)
def _watched(catalogue: Catalogue) -> tuple[tuple[Watched, ...], frozenset[str]]:
    """Return the notes ready for use, and every linkage group that one of their genes lies in."""
    places = {
        locus: (group.id, place)
        for group in catalogue.groups.values()
        for place, locus in enumerate(group.loci)
    }
    watched = tuple(_watch(note, places, catalogue) for note in catalogue.welfare)
    return watched, frozenset(group for item in watched for group in item.gene_groups)


def _watch(
    note: WelfareNote, places: Mapping[str, tuple[str, int]], catalogue: Catalogue
) -> Watched:
    copies: dict[str, list[tuple[int, str, int]]] = {}
    for allele, count in note.carries.items():
        group, place = places[catalogue.alleles[allele].locus]
        copies.setdefault(group, []).append((place, allele, count))
    demands = {group: Demand(tuple(found)) for group, found in copies.items()}
    if note.sex is not None:
        demands[SEX_GROUP] = Demand(tuple(copies.get(SEX_GROUP, ())), note.sex)
    return Watched(note, genotype_name(note, catalogue), frozenset(copies), demands)


def genotype_name(note: WelfareNote, catalogue: Catalogue) -> str:
    """Return the genotype of a note in trade notation, the least that falls under it."""
    at_locus: dict[str, list[str]] = {}
    for allele, count in note.carries.items():
        at_locus.setdefault(catalogue.alleles[allele].locus, []).extend([allele] * count)
    pairs = {locus: sorted_pair(*[WILD, *found][-2:]) for locus, found in at_locus.items()}
    return name_of(pairs, catalogue)


@lru_cache(maxsize=64)
def _lifted(catalogue: Catalogue, accepted: frozenset[str]) -> frozenset[Carries]:
    read = (_carries(entry, catalogue)[0] for entry in sorted(accepted))
    return frozenset(carries for carries in read if carries is not None)


def genotype_key(entry: str, catalogue: Catalogue) -> Carries | None:
    """Return what a genotype in trade notation carries, ``None`` where it cannot be read."""
    return _carries(entry, catalogue)[0]


def note_key(note: WelfareNote) -> Carries:
    """Return what a note asks an animal to carry, in the form of :func:`genotype_key`."""
    return frozenset(note.carries.items())


def _carries(entry: str, catalogue: Catalogue) -> tuple[Carries | None, tuple[MorphProblem, ...]]:
    """Return the alleles and copies that an entry in trade notation names."""
    morph, problems = parse_morph(entry, catalogue)
    if morph is None:
        return None, problems
    alleles = [name for claim in morph.claims for name in claim.pairs[0] if name != WILD]
    return frozenset((name, alleles.count(name)) for name in alleles), ()
