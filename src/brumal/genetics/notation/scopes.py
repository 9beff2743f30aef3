"""What holds over several words of a morph: a ``het`` or percentage, a name in brackets."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Allele
from brumal.genetics.catalogue.vocabulary import Term, Vocabulary
from brumal.genetics.claims import MorphProblem
from brumal.genetics.notation.tokens import Token
from brumal.genetics.notation.words import carried_words


@dataclass(slots=True)
class Scope:
    """A ``het`` or percentage and the genes named under it so far.

    ``behind`` is a percentage that stands behind the gene it holds for.
    """

    words: str
    het: bool = False
    possible: bool = False
    chance: float | None = None
    wanted: int | None = None
    named: int = 0
    told: bool = False
    behind: float | None = None


@dataclass(frozen=True, slots=True)
class Name:
    """A name as it stands in a text: what it means, its words, how many tokens it takes."""

    term: Term
    words: str
    tokens: int


def next_name(tokens: Sequence[Token], plain: int, vocabulary: Vocabulary) -> Name | None:
    """Read the name that a text begins with; ``plain`` words stand before the first mark."""
    bracketed = _in_brackets(tokens, plain, vocabulary)
    words = [token.text for token in tokens[:plain]]
    matched = None if bracketed else vocabulary.match(words)
    if matched is None:
        return bracketed
    term, count = matched
    return Name(term, " ".join(words[:count]), count)


def _in_brackets(tokens: Sequence[Token], plain: int, vocabulary: Vocabulary) -> Name | None:
    """Read a name that goes on in brackets, such as ``Axanthic (VPI)``."""
    opens = plain < len(tokens) and tokens[plain].kind == "mark"
    if not opens or not tokens[plain].text.endswith("("):
        return None
    inside = list(itertools.takewhile(lambda token: token.kind == "word", tokens[plain + 1 :]))
    close = plain + 1 + len(inside)
    if not inside or close >= len(tokens) or ")" not in tokens[close].text:
        return None
    before, within = ([t.text for t in part] for part in (tokens[:plain], inside))
    matched = vocabulary.match([*before, *within])
    if matched is None or matched[1] != plain + len(inside):
        return None
    whole = close + (tokens[close].text == ")")
    return Name(matched[0], f"{' '.join(before)} ({' '.join(within)})", whole)


def figure_behind(tokens: Sequence[Token]) -> tuple[str, int]:
    """Return the figure of a percentage that stands behind a gene, and how many tokens it takes.

    It may stand in brackets, and nothing but a mark may follow; else the figure is empty.
    """
    bracket = bool(tokens) and tokens[0].kind == "mark" and "(" in tokens[0].text
    here = tokens[1:] if bracket else tokens
    if not here or here[0].kind != "percent" or (here[1:] and here[1].kind != "mark"):
        return "", 0
    return here[0].text.rstrip("% \t"), 1 + bracket


def no_figure(said: str, allele: Allele, words: Vocabulary) -> MorphProblem:
    """Tell a possible gene without its chance."""
    gene = carried_words(allele.name, words.catalogue)
    return MorphProblem(
        found=repr(said),
        expected=f"its percentage: '66% {gene}' (both parents carry one) or '50% {gene}' (one "
        "parent does)",
        repair="Write the one that is true, or set notation.possible in season.yaml.",
    )


def figure_of_several(figure: str) -> MorphProblem:
    """Tell a percentage behind several genes: it may be meant for the last one or for all."""
    return MorphProblem(
        found=f"{figure + '%'!r} behind several genes",
        expected="a percentage before or behind each gene",
        repair=f"Write it before each, such as '{figure}% het Clown'.",
    )
