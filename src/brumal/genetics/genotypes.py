"""Genotypes: the shapes that notation, crosses, evidence and prices share.

A *linkage group* is an ordered run of loci that are inherited together; most groups hold one
locus. A *haplotype* names one allele for each locus of its group, in the group's order, and a
*diplotype* is the unordered pair of haplotypes an animal carries (kept sorted). The sexes are
alleles too: the group ``SEX_GROUP`` always exists, its first locus is ``SEX_LOCUS`` with the
alleles ``X`` and ``Y``, females are X/X and males X/Y (Gamble et al. 2017 infer XY for
*Python regius*), and sex-linked loci follow in the same group.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

WILD = "+"
SEX_GROUP = "sex"
SEX_LOCUS = "sex"
X, Y = "X", "Y"

Haplotype = tuple[str, ...]
Diplotype = tuple[Haplotype, Haplotype]
Belief = tuple[tuple[Diplotype, float], ...]
"""Probability of each diplotype of one linkage group; the probabilities sum to one."""


@dataclass(frozen=True, slots=True)
class Genotype:
    """What is believed of one animal's genes.

    ``groups`` maps a linkage group to its belief; a group left out is certainly wild type. The
    sex group is always present (for an animal of unknown sex it holds both sexes at one half).
    Groups are independent of each other.
    """

    groups: Mapping[str, Belief] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Case:
    """One possibility for the parents: its weight, and the odds of each young given it."""

    weight: float
    outcomes: Belief


@dataclass(frozen=True, slots=True)
class GroupOdds:
    """Young of one pair at one linkage group, as a mixture over what the parents may be.

    Within a case the young of a clutch are independent; across cases they are not, which is why a
    2/3 carrier on a visual gives at least one visual in six eggs with 21/32. With certain parents
    there is one case of weight one.
    """

    group: str
    cases: tuple[Case, ...]


@dataclass(frozen=True, slots=True)
class Offspring:
    """Young of one pair: independent linkage groups, the sex group always among them.

    Groups at which every young is certainly wild type are left out.
    """

    groups: tuple[GroupOdds, ...]


def diplotype(first: Haplotype, second: Haplotype) -> Diplotype:
    """Return the unordered pair of two haplotypes in its one canonical order."""
    return (first, second) if first <= second else (second, first)


AllelePair = tuple[str, str]
"""The two alleles at one locus, sorted."""


class ClaimKind(StrEnum):
    """What a keeper's word says of one locus."""

    VISUAL = "visual"
    HET = "het"
    POSSIBLE_HET = "possible het"
    PINNED = "pinned"
    ANY_OF = "any of"


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What trade notation says of one locus of one animal.

    ``pairs`` are the allele pairs that fit the claim, the likeliest first (a visual dominant fits
    one copy and two; a look of unknown make-up any of several). For a possible het, or a gene that
    may show but is not known to, ``pairs`` holds the carrier pair alone and ``chance`` its
    probability, the rest being wild type. ``carried_on`` is ``X`` or ``Y`` where the keeper says
    which sex chromosome a male's sex-linked allele lies on, else empty.
    """

    locus: str
    kind: ClaimKind
    pairs: tuple[AllelePair, ...]
    chance: float = 1.0
    carried_on: str = ""


@dataclass(frozen=True, slots=True)
class Morph:
    """Trade notation understood: at most one claim a locus, sorted by locus; no claim = normal."""

    claims: tuple[Claim, ...] = ()
