"""Looks under the trade's names: ``Bumblebee``, ``Lesser Mojave (Blue Eyed Leucistic)``.

What is written so reads back as the same genes.
"""

from __future__ import annotations

import itertools
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import Claim, Morph
from brumal.genetics.notation.parse import parse_morph
from brumal.genetics.notation.words import NORMAL_WORDS, format_morph, runs_together


def in_trade_names(morph: Morph, catalogue: Catalogue) -> str:
    """Write a morph with the combination names that its genes make, those of most genes first.

    A look that several make-ups of one locus share has its usual name in brackets.
    """
    left = set(morph.claims)
    names: list[str] = []
    for name, claims in _combinations(catalogue):
        if claims <= left:
            names.append(name)
            left -= claims
    usual = sorted(
        found.name
        for found in catalogue.combinations.values()
        for claim in left
        if claim.locus == found.locus and claim.pairs[0] in found.pairs
    )
    rest = format_morph(Morph(tuple(sorted(left, key=lambda claim: claim.locus))), catalogue)
    words = [*names, *([rest] if rest != NORMAL_WORDS or not names else [])]
    text = words[0]
    for before, after in itertools.pairwise(words):
        text += f"{',' if runs_together(before, after, catalogue) else ''} {after}"
    return f"{text} ({', '.join(usual)})" if usual else text


@lru_cache(maxsize=8)
def _combinations(catalogue: Catalogue) -> tuple[tuple[str, frozenset[Claim]], ...]:
    """Return the genes of each combination, those of most genes first."""
    found = []
    for combination in catalogue.combinations.values():
        morph, _ = parse_morph(combination.parts, catalogue) if combination.parts else (None, ())
        if morph is not None:
            found.append((combination.name, frozenset(morph.claims)))
    return tuple(sorted(found, key=lambda each: (-_genes(each[1]), each[0])))


def _genes(claims: frozenset[Claim]) -> int:
    return sum(len(set(claim.pairs[0]) - {"+"}) for claim in claims)
