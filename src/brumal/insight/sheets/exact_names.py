"""Allele pairs named exactly: one copy of a dominant plainly, sex-linked genes with their side."""

from __future__ import annotations

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.claims import pair_claim, visual_claim
from brumal.genetics.crosses.meiosis import sex_of
from brumal.genetics.genotypes import SEX_GROUP, WILD, Claim, ClaimKind, Diplotype, X, Y
from brumal.genetics.looks import NORMAL, pair_at
from brumal.records.animals import Sex


def exact_claims(group: str, carried: Diplotype, catalogue: Catalogue) -> tuple[Claim, ...]:
    """Return a claim for each locus of a linkage group that is not wild type.

    Two copies of a dominant bear its super's name. Of a male's sex-linked allele in one copy the
    sex chromosome is named that it lies on.
    """
    loci = catalogue.groups[group].loci
    # The sexes stand first in their group and are no mutants.
    start = 1 if group == SEX_GROUP else 0
    return tuple(
        _claim(loci[place], place, carried, catalogue, linked_to_sex=group == SEX_GROUP)
        for place in range(start, len(loci))
        if pair_at(carried, place) != NORMAL
    )


def _claim(
    locus: str, place: int, carried: Diplotype, catalogue: Catalogue, *, linked_to_sex: bool
) -> Claim:
    alleles = pair_at(carried, place)
    side = ""
    if linked_to_sex and WILD in alleles and sex_of(carried) is Sex.MALE:
        strand = next(strand for strand in carried if strand[place] != WILD)
        side = Y if strand[0] == Y else X
    claim = pair_claim(locus, alleles, catalogue, side)
    if claim.kind is ClaimKind.PINNED and alleles[0] == WILD and not side:
        return visual_claim(catalogue.alleles[alleles[1]])
    return claim
