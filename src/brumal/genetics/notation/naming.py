"""Genotypes to words: what shows, what is hidden, and what keepers call it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue, Inheritance
from brumal.genetics.claims import pair_claim, sorted_pair, visual_claim
from brumal.genetics.genotypes import (
    SEX_LOCUS,
    WILD,
    AllelePair,
    Claim,
    ClaimKind,
    Diplotype,
    Morph,
)
from brumal.genetics.notation.trade_names import in_trade_names
from brumal.genetics.notation.words import format_morph


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What of an allele pair shows (``visuals``) and what is carried unseen (``hets``): genes."""

    visuals: tuple[str, ...] = ()
    hets: tuple[str, ...] = ()


def visuals_and_hets(pair: AllelePair, catalogue: Catalogue, locus: str) -> Look:
    """Return the genes that show and those that are hidden in an allele pair of a locus.

    One recessive allele beside wild type is hidden; two mutant alleles both show, whether they are
    copies of one (named once) or a compound heterozygote. Raises ``ValueError`` for an allele that
    does not stand at this locus.
    """
    genes = tuple(dict.fromkeys(name for name in pair if name != WILD))
    strange = [name for name in genes if name not in catalogue.loci.get(locus, ())]
    if strange:
        raise ValueError(f"{strange[0]!r} is no allele of the locus {locus!r}")
    if WILD in pair and genes:
        (gene,) = genes
        if catalogue.alleles[gene].inheritance is Inheritance.RECESSIVE:
            return Look(hets=genes)
    return Look(visuals=genes)


def told_genes(
    pair: AllelePair,
    possible: frozenset[AllelePair] | None,
    catalogue: Catalogue,
    locus: str,
) -> Look:
    """Return the genes that a young can be sold by at a locus: as above where it can be seen.

    ``possible`` are the pairs it may have where another look hides the locus (``None``: it does
    not): of visuals those count that it has for certain, and a recessive one that it may have is
    a het.
    """
    look = visuals_and_hets(pair, catalogue, locus)
    if possible is None or len(possible) == 1:
        return look
    sure = [set(visuals_and_hets(each, catalogue, locus).visuals) for each in possible]
    visuals = tuple(gene for gene in look.visuals if all(gene in each for each in sure))
    unsure = tuple(
        gene
        for gene in look.visuals
        if gene not in visuals and catalogue.alleles[gene].inheritance is Inheritance.RECESSIVE
    )
    return Look(visuals=visuals, hets=look.hets + unsure)


def name_of(pairs: Mapping[str, AllelePair], catalogue: Catalogue) -> str:
    """Return the trade name of a full genotype, such as ``Super Pastel Clown het Piebald``.

    One copy of a dominant is named plainly, two as its super; wild type everywhere is ``Normal``.
    """
    return _named(pairs, catalogue, look_only=False)


def visual_name(pairs: Mapping[str, AllelePair], catalogue: Catalogue) -> str:
    """Return the name of the look alone: hets and the number of copies of a dominant are unseen."""
    return _named(pairs, catalogue, look_only=True)


@lru_cache(maxsize=1 << 16)
def look_name(
    shown: tuple[tuple[str, AllelePair], ...], catalogue: Catalogue, trade_names: bool = False
) -> str:
    """Return ``visual_name`` of a look; a collection shows the same few again and again.

    With ``trade_names`` it bears the combination names of the trade (see ``trade_name``).
    """
    pairs = dict(shown)
    return trade_name(pairs, catalogue) if trade_names else visual_name(pairs, catalogue)


def trade_name(pairs: Mapping[str, AllelePair], catalogue: Catalogue) -> str:
    """Return the name of a look in the trade's combination names where there are any."""
    return in_trade_names(_look_claims(pairs, catalogue, look_only=True), catalogue)


def diplotype_pairs(
    group: str, diplotype: Diplotype, catalogue: Catalogue
) -> Mapping[str, AllelePair]:
    """Split a diplotype of a linkage group into its allele pairs by locus, the sexes left out."""
    first, second = diplotype
    return {
        locus: sorted_pair(first[place], second[place])
        for place, locus in enumerate(catalogue.groups[group].loci)
        if locus != SEX_LOCUS
    }


def _named(pairs: Mapping[str, AllelePair], catalogue: Catalogue, *, look_only: bool) -> str:
    return format_morph(_look_claims(pairs, catalogue, look_only=look_only), catalogue)


def _look_claims(
    pairs: Mapping[str, AllelePair], catalogue: Catalogue, *, look_only: bool
) -> Morph:
    claims = (
        _claim(locus, pair, catalogue, look_only=look_only)
        for locus, pair in sorted(pairs.items())
        if pair != (WILD, WILD)
    )
    return Morph(tuple(claim for claim in claims if claim is not None))


def _claim(locus: str, pair: AllelePair, catalogue: Catalogue, *, look_only: bool) -> Claim | None:
    claim = pair_claim(locus, pair, catalogue)
    if claim.kind is ClaimKind.HET:
        return None if look_only else claim
    if claim.kind is ClaimKind.PINNED and (look_only or pair[0] == WILD):
        return visual_claim(catalogue.alleles[pair[1]])
    return claim
