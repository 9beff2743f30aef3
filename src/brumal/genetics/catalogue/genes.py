"""The gene catalogue: loci, alleles, linkage, combination names, welfare notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from brumal.genetics.genotypes import AllelePair
from brumal.records.animals import Sex

COMMON_PRACTICE = "common practice, no source"


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
    LAYING = "laying"
    EYES = "eyes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Allele:
    """One mutant allele under its trade name; ``super_name`` names the homozygote.

    A recessive's ``super_name`` is its own name: the homozygote is the visual. ``source`` is the
    published source or ``common practice, no source``; ``note`` is a remark for the list of genes.
    """

    name: str
    locus: str
    inheritance: Inheritance
    super_name: str
    aliases: tuple[str, ...] = ()
    source: str = COMMON_PRACTICE
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkageGroup:
    """Loci in order; ``recombination[i]`` is the fraction between locus ``i`` and ``i + 1``."""

    id: str
    loci: tuple[str, ...]
    recombination: tuple[float, ...] = ()
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """A trade name for several genes together, ``parts`` in trade notation.

    A name that the trade uses for more than one thing has ``readings`` (two or more, each in trade
    notation) and empty ``parts``: it is never guessed at, the keeper is asked for one of them. A
    name for any of several allele pairs of one locus has them as ``any_of``: it stands for that
    look, whichever of the pairs makes it; ``locus`` and ``pairs`` say the same as alleles. ``note``
    is a remark for the list of names.
    """

    name: str
    parts: str = ""
    readings: tuple[str, ...] = ()
    any_of: tuple[str, ...] = ()
    locus: str = ""
    pairs: tuple[AllelePair, ...] = ()
    note: str = ""
    aliases: tuple[str, ...] = ()
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class Mask:
    """A look that hides others: any of these allele pairs of a locus hides what other loci show.

    ``hides`` holds the loci that cannot be seen in such an animal, never its own.
    """

    locus: str
    pairs: frozenset[AllelePair]
    hides: frozenset[str]
    source: str = COMMON_PRACTICE
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WelfareNote:
    """A disorder tied to a genotype: so many copies or more of each allele in ``carries``.

    ``sex`` is set where only one sex is affected. ``fertile`` is the share of the usual fertility
    that such an animal is forecast to have.
    """

    harm: Harm
    carries: Mapping[str, int]
    text: str
    source: str
    sex: Sex | None = None
    fertile: float = 1.0

    @property
    def cited(self) -> str:
        """The source as a reader needs it: without our mark that it was read."""
        return self.source.replace(" [source read]", "")

    @property
    def bars_animal(self) -> bool:
        """Say whether breeding may harm the animal itself, so that it needs a vet's clearance."""
        return self.harm in (Harm.FERTILITY, Harm.LAYING)

    @property
    def excluded(self) -> bool:
        """Say whether the tool leaves such young out of every plan unless the keeper lifts it."""
        return self.harm in (Harm.LETHAL, Harm.NEUROLOGICAL)


def fold(spelling: str) -> str:
    """Return a spelling without case, spaces, hyphens and other marks, as ``names`` keys it."""
    return "".join(mark for mark in spelling.casefold() if mark.isalnum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Catalogue:
    """All genes known to the tool, the keeper's own laid over the shipped ones.

    ``alleles`` is keyed by canonical name, ``loci`` maps a locus to its mutant allele names,
    ``groups`` a linkage group id to the group (every locus stands in exactly one; the sex group is
    always there), ``names`` every spelling as ``fold`` leaves it (canonical, alias, super name,
    combination) to the canonical name it stands for. ``loci`` is in alphabetical order and so are
    the alleles of each locus. Of two ``masks`` in one animal the earlier one is seen; an allele
    pair stands in one of them at most. Two catalogues are equal only when they are the same object,
    so that what is worked out from one can be kept with it.
    """

    alleles: Mapping[str, Allele]
    loci: Mapping[str, tuple[str, ...]]
    groups: Mapping[str, LinkageGroup]
    combinations: Mapping[str, Combination]
    welfare: tuple[WelfareNote, ...]
    names: Mapping[str, str]
    masks: tuple[Mask, ...] = ()
