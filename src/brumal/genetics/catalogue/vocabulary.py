"""The words of trade notation: which spelling stands for which gene, super or combination."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from brumal.genetics.catalogue.genes import Allele, Catalogue, Combination, Inheritance, fold
from brumal.genetics.genotypes import SEX_GROUP, SEX_LOCUS, AllelePair
from brumal.records.faults import nearest

KEYWORDS = frozenset(
    {
        "and",
        "dbl",
        "dh",
        "double",
        "female",
        "for",
        "het",
        "heterozygous",
        "hets",
        "homozygous",
        "maker",
        "male",
        "normal",
        "of",
        "on",
        "ph",
        "pos",
        "poss",
        "possible",
        "quad",
        "super",
        "th",
        "triple",
        "visual",
        "wild",
        "wildtype",
        "with",
        "wt",
    }
)
"""Words of the notation itself; no gene may bear one of them alone as its name."""


@dataclass(frozen=True, slots=True)
class Term:
    """What a spelling stands for: a gene, the super of a gene, or a combination."""

    allele: Allele | None = None
    is_super: bool = False
    combination: Combination | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Vocabulary:
    """Every spelling of one catalogue, ready for look-up.

    ``looks`` holds the names that stand for any of several allele pairs of a locus.
    """

    catalogue: Catalogue
    terms: dict[str, Term]
    spellings: tuple[str, ...]
    longest: int
    looks: dict[tuple[str, tuple[AllelePair, ...]], str]

    def match(self, words: Sequence[str]) -> tuple[Term, int] | None:
        """Return the longest term that ``words`` begin with, and how many words it takes."""
        for count in range(min(self.longest, len(words)), 0, -1):
            term = self.terms.get(fold("".join(words[:count])))
            if term is not None:
                return term, count
        return None

    def suggest(self, phrase: str, longer: str = "") -> str:
        """Return a sentence naming the spellings nearest to a phrase, or an empty string.

        ``longer`` is the phrase with the known word that follows it: in ``Desrt Ghost`` the second
        word is a gene of its own, yet ``Desert Ghost`` may be meant.
        """
        close = list(difflib.get_close_matches(longer, self.spellings, n=1, cutoff=0.85))
        # The notation's own words are short, and few: one letter off is near enough.
        close += difflib.get_close_matches(phrase.casefold(), _PLAIN_WORDS, n=1, cutoff=0.66)
        close += nearest(phrase, self.spellings)
        names = [repr(name) for name in dict.fromkeys(close)][:3]
        return f"Did you mean {' or '.join(names)}?" if names else ""


_PLAIN_WORDS = ("het", "super", "possible", "visual", "normal")


@lru_cache(maxsize=8)
def vocabulary(catalogue: Catalogue) -> Vocabulary:
    """Return the vocabulary of a catalogue, made once."""
    supers = {
        allele.super_name: allele
        for allele in catalogue.alleles.values()
        if allele.inheritance is not Inheritance.RECESSIVE
    }
    terms: dict[str, Term] = {}
    for spelling, canonical in catalogue.names.items():
        if canonical in catalogue.alleles:
            term = Term(allele=catalogue.alleles[canonical])
        elif canonical in supers:
            term = Term(allele=supers[canonical], is_super=True)
        else:
            term = Term(combination=catalogue.combinations[canonical])
        terms[fold(spelling)] = term
    spellings = {
        *catalogue.alleles,
        *supers,
        *catalogue.combinations,
        *(alias for allele in catalogue.alleles.values() for alias in allele.aliases),
        *(alias for found in catalogue.combinations.values() for alias in found.aliases),
    }
    return Vocabulary(
        catalogue=catalogue,
        terms=terms,
        spellings=tuple(sorted(spellings)),
        # A keeper may write "G-Stripe" or "Gstripe": one word more than the spelling has is enough.
        longest=1 + max((len(spelling.split()) for spelling in spellings), default=1),
        looks={
            (found.locus, found.pairs): found.name
            for found in catalogue.combinations.values()
            if found.pairs
        },
    )


def is_sex_linked(locus: str, catalogue: Catalogue) -> bool:
    """Say whether a locus lies in the linkage group of the sexes."""
    return locus in sex_linked_loci(catalogue)


@lru_cache(maxsize=8)
def sex_linked_loci(catalogue: Catalogue) -> tuple[str, ...]:
    """Return the loci that are inherited with the sexes, the sex locus left out."""
    group = catalogue.groups[SEX_GROUP]
    return tuple(locus for locus in group.loci if locus != SEX_LOCUS)
