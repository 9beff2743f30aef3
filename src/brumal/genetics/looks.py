"""How a genotype looks: what of an allele pair can be seen, and what stays hidden."""

from __future__ import annotations

from brumal.genetics.catalogue.genes import Catalogue, Inheritance
from brumal.genetics.genotypes import WILD, AllelePair, Diplotype

NORMAL: AllelePair = (WILD, WILD)


def pair_at(found: Diplotype, place: int) -> AllelePair:
    """Return the sorted alleles that a diplotype carries at the ``place``-th locus of its group."""
    first, second = found[0][place], found[1][place]
    return (first, second) if first <= second else (second, first)


def shown_pair(pair: AllelePair, catalogue: Catalogue) -> AllelePair:
    """Return the pair that an animal carrying ``pair`` is taken for by its look alone.

    A recessive het looks normal, two copies of a dominant allele look like one, and all else is
    seen as it is: supers of incomplete dominants and compound heterozygotes have looks of their
    own. Raises ``KeyError`` for an allele that the catalogue does not hold.
    """
    first, second = pair
    if second == WILD:
        return NORMAL
    inheritance = catalogue.alleles[second].inheritance
    if first == WILD and inheritance is Inheritance.RECESSIVE:
        return NORMAL
    if first == second and inheritance is Inheritance.DOMINANT:
        return (WILD, second)
    return pair
