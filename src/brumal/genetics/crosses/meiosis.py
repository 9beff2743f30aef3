"""Meiosis: the gametes of one animal at one linkage group, exactly.

Crossovers are taken to be independent of each other (no interference), so the strand that a gamete
copies is a Markov chain along the group's loci: it starts on either strand with one half and
changes between loci ``i`` and ``i + 1`` with the recombination fraction between them. The sexes
need no rule of their own: ``SEX_LOCUS`` is the first locus of the sex group, so a male X/Y passes a
sex-linked allele from his X to sons with exactly the recombination fraction, and a female X/X
recombines among her linked loci as usual.

Haldane (1919), "The combination of linkage values, and the calculation of distances between the
loci of linked factors", Journal of Genetics 8:299-309 (cited from memory).
"""

from __future__ import annotations

from functools import lru_cache

from brumal.genetics.catalogue.genes import LinkageGroup
from brumal.genetics.genotypes import SEX_GROUP, WILD, Diplotype, Haplotype, X, Y, diplotype
from brumal.records.animals import Sex

Gametes = tuple[tuple[Haplotype, float], ...]
"""Probability of each haplotype among an animal's gametes; sorted, sums to one."""


@lru_cache(maxsize=1 << 16)
def gametes(pair: Diplotype, recombination: tuple[float, ...]) -> Gametes:
    """Return the haplotypes that an animal with this ``pair`` passes on, with their probabilities.

    ``recombination[i]`` is the fraction between locus ``i`` and ``i + 1`` of the group (empty for a
    single locus). Raises ``ValueError`` when its length does not fit the haplotypes.
    """
    if len(recombination) != len(pair[0]) - 1 or len(pair[0]) != len(pair[1]):
        raise ValueError(f"{pair} does not fit {len(recombination) + 1} loci")
    paths: dict[tuple[Haplotype, int], float] = {((), 0): 0.5, ((), 1): 0.5}
    for locus in range(len(pair[0])):
        crossing = recombination[locus - 1] if locus else 0.0
        longer: dict[tuple[Haplotype, int], float] = {}
        for (copied, strand), chance in paths.items():
            for onto, share in ((strand, 1 - crossing), (1 - strand, crossing)):
                if share:
                    key = ((*copied, pair[onto][locus]), onto)
                    longer[key] = longer.get(key, 0.0) + chance * share
        paths = longer
    odds: dict[Haplotype, float] = {}
    for (haplotype, _), chance in paths.items():
        odds[haplotype] = odds.get(haplotype, 0.0) + chance
    return tuple(sorted(odds.items()))


def wild_pair(group: LinkageGroup, sex: Sex) -> Diplotype:
    """Return the wild type diplotype at ``group`` of an animal of this ``sex``."""
    if group.id != SEX_GROUP:
        wild = (WILD,) * len(group.loci)
        return (wild, wild)
    rest = (WILD,) * (len(group.loci) - 1)
    other = X if sex is Sex.FEMALE else Y
    return diplotype((X, *rest), (other, *rest))


def is_wild(pair: Diplotype) -> bool:
    """Say whether no mutant allele stands on either haplotype (the sexes are not mutants)."""
    return all(allele in (WILD, X, Y) for haplotype in pair for allele in haplotype)


def sex_of(pair: Diplotype) -> Sex:
    """Return the sex of a diplotype of the sex group: X/X is female, X/Y male."""
    return Sex.MALE if Y in (pair[0][0], pair[1][0]) else Sex.FEMALE
