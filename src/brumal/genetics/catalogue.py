"""The gene catalogue: loci, alleles, linkage, combination names, welfare notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Inheritance(StrEnum):
    """How an allele shows against wild type."""

    RECESSIVE = "recessive"
    INCOMPLETE_DOMINANT = "incomplete dominant"
    DOMINANT = "dominant"


class Harm(StrEnum):
    """The kind of a welfare note; lethal and neurological ones are excluded by default."""

    LETHAL = "lethal"
    NEUROLOGICAL = "neurological"
    SHAPE = "shape"
    FERTILITY = "fertility"
    EYES = "eyes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Allele:
    """One mutant allele under its trade name; ``super_name`` names the homozygote.

    ``source`` is the published source or ``common practice, no source``.
    """

    name: str
    locus: str
    inheritance: Inheritance
    super_name: str
    aliases: tuple[str, ...] = ()
    source: str = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkageGroup:
    """Loci in order; ``recombination[i]`` is the fraction between locus ``i`` and ``i + 1``."""

    id: str
    loci: tuple[str, ...]
    recombination: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """A trade name for several genes together, ``parts`` in trade notation."""

    name: str
    parts: str
    aliases: tuple[str, ...] = ()
    source: str = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class WelfareNote:
    """A disorder tied to a genotype: so many copies or more of each allele in ``carries``."""

    harm: Harm
    carries: Mapping[str, int]
    text: str
    source: str

    @property
    def excluded(self) -> bool:
        """Say whether the tool leaves such young out of every plan unless the keeper lifts it."""
        return self.harm in (Harm.LETHAL, Harm.NEUROLOGICAL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """All genes known to the tool, the keeper's own laid over the shipped ones.

    ``alleles`` is keyed by canonical name, ``loci`` maps a locus to its mutant allele names,
    ``groups`` a linkage group id to the group (every locus stands in exactly one; the sex group is
    always there), ``names`` every casefolded spelling (canonical, alias, super name, combination)
    to the canonical name it stands for.
    """

    alleles: Mapping[str, Allele]
    loci: Mapping[str, tuple[str, ...]]
    groups: Mapping[str, LinkageGroup]
    combinations: Mapping[str, Combination]
    welfare: tuple[WelfareNote, ...]
    names: Mapping[str, str]
