"""Claims back to trade notation, in one canonical form."""

from __future__ import annotations

import itertools
import re
from decimal import Decimal
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue, Inheritance, fold
from brumal.genetics.catalogue.vocabulary import Vocabulary, vocabulary
from brumal.genetics.genotypes import WILD, Claim, ClaimKind, Morph

NORMAL_WORDS = "Normal"

_EXACT = {1 / 4: "25", 1 / 3: "33", 1 / 2: "50", 2 / 3: "66"}
_AMBIGUOUS = frozenset({"25", "33", "50", "66"})


def format_morph(morph: Morph, catalogue: Catalogue) -> str:
    """Write a morph in canonical trade notation; ``parse_morph`` reads it back unchanged.

    Genes that show with one copy come first, then visual recessives, pinned pairs, hets and
    possible hets, each in alphabetical order. A comma stands only where two neighbouring words
    would otherwise read as one name. Raises ``KeyError`` for an allele not in the catalogue.
    """
    phrases = sorted(_phrase(claim, catalogue) for claim in morph.claims)
    if not phrases:
        return NORMAL_WORDS
    words = vocabulary(catalogue)
    text = phrases[0][1]
    for (_, left), (_, right) in itertools.pairwise(phrases):
        text += f"{',' if _run_together(left, right, words) else ''} {right}"
    return text


def format_chance(chance: float) -> str:
    """Write a probability as the percentage that reads back as exactly the same number."""
    if chance in _EXACT:
        return f"{_EXACT[chance]}%"
    figure = format(Decimal(repr(chance)).scaleb(2).normalize(), "f")
    # "66%" stands for 2/3, so 0.66 itself needs another face.
    return f"{figure}.0%" if figure in _AMBIGUOUS else f"{figure}%"


def carried_words(allele: str, catalogue: Catalogue) -> str:
    """Return how one copy of a gene is told: ``het Clown``, but plainly ``Pastel``, which shows."""
    recessive = catalogue.alleles[allele].inheritance is Inheritance.RECESSIVE
    return f"het {allele}" if recessive else allele


def _phrase(claim: Claim, catalogue: Catalogue) -> tuple[int, str]:
    """Return the place in the order of words and the words of one claim."""
    place = f" on {claim.carried_on}" if claim.carried_on else ""
    first, second = claim.pairs[0]
    if claim.kind is ClaimKind.HET:
        return 3, f"het {second}{place}"
    if claim.kind is ClaimKind.POSSIBLE_HET:
        words = carried_words(second, catalogue)
        return 4, f"{format_chance(claim.chance)} {words}{place}"
    if claim.kind is ClaimKind.ANY_OF:
        return 0, vocabulary(catalogue).looks[claim.locus, claim.pairs]
    if claim.kind is ClaimKind.PINNED and first == WILD:
        locus = f"{claim.locus}: " if second == WILD else ""
        return 2, f"[{locus}{first}/{second}]{place}"
    recessive = all(
        catalogue.alleles[name].inheritance is Inheritance.RECESSIVE
        for name in (first, second)
        if name != WILD
    )
    return int(recessive), f"{_visual_words(first, second, catalogue)}{place}"


def _visual_words(first: str, second: str, catalogue: Catalogue) -> str:
    allele = catalogue.alleles[second]
    if first == WILD:
        return second
    if first != second:
        comma = "," if _run_together(first, second, vocabulary(catalogue)) else ""
        return f"{first}{comma} {second}"
    return second if allele.inheritance is Inheritance.RECESSIVE else allele.super_name


def runs_together(left: str, right: str, catalogue: Catalogue) -> bool:
    """Say whether two names next to each other would read as another one."""
    return _run_together(left, right, vocabulary(catalogue))


@lru_cache(maxsize=1 << 14)
def _run_together(left: str, right: str, words: Vocabulary) -> bool:
    """Say whether the end of one phrase and the start of the next would read as one name."""
    before, after = _plain_end(left), _plain_start(right)
    return any(
        fold("".join(before[start:] + after[:end])) in words.terms
        for start in range(max(0, len(before) - words.longest), len(before))
        for end in range(1, min(words.longest, len(after)) + 1)
    )


def _plain_end(phrase: str) -> list[str]:
    return [] if phrase.endswith("]") else re.findall(r"[^\W_]+", phrase)


def _plain_start(phrase: str) -> list[str]:
    return [] if phrase.startswith("[") or "%" in phrase else re.findall(r"[^\W_]+", phrase)
