"""Small catalogues and animals built in code, for the tests of crosses and evidence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from brumal.genetics.catalogue.genes import Allele, Catalogue, Inheritance, LinkageGroup
from brumal.genetics.genotypes import (
    SEX_GROUP,
    SEX_LOCUS,
    WILD,
    AllelePair,
    Belief,
    Claim,
    ClaimKind,
    Diplotype,
    Genotype,
    Morph,
    diplotype,
)

RECESSIVE = Inheritance.RECESSIVE
INCOMPLETE = Inheritance.INCOMPLETE_DOMINANT
DOMINANT = Inheritance.DOMINANT

FEMALE: Diplotype = (("X",), ("X",))
MALE: Diplotype = (("X",), ("Y",))


def catalogue_of(
    alleles: Mapping[str, tuple[str, Inheritance]],
    linked: Iterable[LinkageGroup] = (),
) -> Catalogue:
    """Build a catalogue from allele -> (locus, inheritance); loci not ``linked`` stand alone."""
    loci: dict[str, tuple[str, ...]] = {}
    for name, (locus, _) in alleles.items():
        loci[locus] = (*loci.get(locus, ()), name)
    groups = {group.id: group for group in linked}
    groups.setdefault(SEX_GROUP, LinkageGroup(id=SEX_GROUP, loci=(SEX_LOCUS,)))
    placed = {locus for group in groups.values() for locus in group.loci}
    for locus in loci:
        if locus not in placed:
            groups[locus] = LinkageGroup(id=locus, loci=(locus,))
    return Catalogue(
        alleles={
            name: Allele(
                name=name, locus=locus, inheritance=inheritance, super_name=f"Super {name}"
            )
            for name, (locus, inheritance) in alleles.items()
        },
        loci=loci,
        groups=groups,
        combinations={},
        welfare=(),
        names={name.casefold(): name for name in alleles},
    )


def sex_linked(*loci: str, recombination: tuple[float, ...]) -> LinkageGroup:
    """Build the sex group with these loci after the sexes."""
    return LinkageGroup(id=SEX_GROUP, loci=(SEX_LOCUS, *loci), recombination=recombination)


SHOP = catalogue_of(
    {
        "Clown": ("clown", RECESSIVE),
        "Pied": ("pied", RECESSIVE),
        "Albino": ("albino", RECESSIVE),
        "Candy": ("albino", RECESSIVE),
        "Lavender": ("lavender", RECESSIVE),
        "Pastel": ("pastel", INCOMPLETE),
        "Mojave": ("bel", INCOMPLETE),
        "Lesser": ("bel", INCOMPLETE),
        "Pinstripe": ("pinstripe", DOMINANT),
        "Alpha": ("alpha", RECESSIVE),
        "Beta": ("beta", RECESSIVE),
        "Banana": ("banana", INCOMPLETE),
    },
    linked=(
        LinkageGroup(id="alpha-beta", loci=("alpha", "beta"), recombination=(0.1,)),
        sex_linked("banana", recombination=(0.05,)),
    ),
)
"""A shop-window catalogue: recessives, a complex, a dominant, two linked loci, one sex-linked."""


def pair(first: str, second: str) -> Diplotype:
    """Build a single-locus diplotype."""
    return diplotype((first,), (second,))


def certain(found: Diplotype) -> Belief:
    return ((found, 1.0),)


def het(allele: str, chance: float = 1.0) -> Belief:
    """Build the belief of a single-locus het, certain or possible."""
    rest = ((pair(WILD, WILD), 1 - chance),) if chance < 1 else ()
    return (*rest, (pair(WILD, allele), chance))


def visual(allele: str) -> Belief:
    return certain(pair(allele, allele))


def female(**groups: Belief) -> Genotype:
    """Build a female; the sex group holds no linked locus unless given."""
    return Genotype({SEX_GROUP: certain(FEMALE), **groups})


def male(**groups: Belief) -> Genotype:
    return Genotype({SEX_GROUP: certain(MALE), **groups})


def claim(
    catalogue: Catalogue,
    allele: str,
    kind: ClaimKind = ClaimKind.VISUAL,
    *,
    pairs: tuple[AllelePair, ...] | None = None,
    chance: float = 1.0,
    carried_on: str = "",
) -> Claim:
    """Build the claim that notation gives for one allele of its locus."""
    found = catalogue.alleles[allele]
    carrier: AllelePair = tuple(sorted((WILD, allele)))  # type: ignore[assignment]
    both = (allele, allele)
    if pairs is None:
        if kind is not ClaimKind.VISUAL:
            pairs = (carrier,)
        elif found.inheritance is RECESSIVE:
            pairs = (both,)
        else:
            pairs = (carrier,) if found.inheritance is INCOMPLETE else (carrier, both)
    return Claim(locus=found.locus, kind=kind, pairs=pairs, chance=chance, carried_on=carried_on)


def morph(*claims: Claim) -> Morph:
    return Morph(tuple(sorted(claims, key=lambda made: made.locus)))
