"""Pinned pairs: ``[+/Pinstripe]``, ``[clown: +/+]``, what trade words cannot say."""

from __future__ import annotations

from brumal.genetics.catalogue.genes import Allele, fold
from brumal.genetics.catalogue.vocabulary import Vocabulary
from brumal.genetics.claims import Form, Mention, MorphProblem, sorted_pair
from brumal.genetics.genotypes import WILD
from brumal.records.faults import did_you_mean

_SHAPE = "two alleles of one locus, such as [+/Pinstripe] or [clown: +/+]"


def pinned_mention(text: str, words: Vocabulary) -> Mention | MorphProblem:
    """Read one pair in brackets; the locus before a colon is needed only where both are wild."""
    named, colon, pair_words = text.strip("[] ").rpartition(":")
    names = [part.strip() for part in pair_words.split("/")]
    if len(names) != 2:
        return MorphProblem(found=repr(text), expected=_SHAPE)
    alleles: list[Allele | None] = []
    for name in names:
        allele = _allele(name, words)
        if isinstance(allele, MorphProblem):
            return allele
        alleles.append(allele)
    loci = {allele.locus for allele in alleles if allele is not None}
    if colon:
        known = words.catalogue.loci
        locus = named.strip().casefold()
        if locus not in known:
            return MorphProblem(
                found=f"the locus {named.strip()!r} in {text!r}",
                expected="a locus of the catalogue before the colon",
                repair=did_you_mean(locus, known),
            )
        loci.add(locus)
    if not loci:
        return MorphProblem(found=repr(text), expected="the locus too, such as [clown: +/+]")
    if len(loci) > 1:
        return MorphProblem(
            found=f"{text!r}, of more than one locus",
            expected=_SHAPE,
            repair="Pin each locus by itself.",
        )
    first, second = (allele.name if allele else WILD for allele in alleles)
    pair = sorted_pair(first, second)
    return Mention(locus=loci.pop(), allele=max(pair), form=Form.PINNED, words=text, pair=pair)


def _allele(name: str, words: Vocabulary) -> Allele | MorphProblem | None:
    """Return the gene of a name, ``None`` for wild type."""
    if name == WILD:
        return None
    term = words.terms.get(fold(name))
    if term is not None and term.allele is not None and not term.is_super:
        return term.allele
    return MorphProblem(
        found=f"{name!r} in brackets",
        expected=f"a gene of the catalogue, or {WILD} for wild type",
        repair=words.suggest(name) if name else "",
    )
