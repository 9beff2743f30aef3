"""Trade notation cut into words, percentages, pinned pairs and marks."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

from brumal.genetics.catalogue.vocabulary import KEYWORDS

_TOKENS = re.compile(
    r"(?P<pin>\[[^\]]*\])"
    r"|(?P<percent>\d+(?:[.,]\d+)?\s*%"
    r"|\d+(?:[.,]\d+)?(?=[\s-]*(?:poss|possible|pos|ph|hets?|dh|th|double|triple)\b))"
    r"|(?P<word>[^\W_]+(?:['’][^\W_]+)*)"
    r"|(?P<space>[\s\-_.]+)"
    r"|(?P<mark>[,;:&+/()|]+)"
    r"|(?P<other>\S)",
    re.IGNORECASE,
)
_GLUED = re.compile(r"(super|het)([^\W_]{3,})", re.IGNORECASE)
_EXACT = {"25": 1 / 4, "33": 1 / 3, "50": 1 / 2, "66": 2 / 3}


class Token(NamedTuple):
    """One piece of a text: ``kind`` is pin, percent, word, mark or other."""

    kind: str
    text: str


def tokens_of(text: str) -> list[Token]:
    """Cut a text into its pieces; spaces, hyphens and full stops only part words."""
    tokens: list[Token] = []
    for match in _TOKENS.finditer(text):
        kind, piece = str(match.lastgroup), match.group()
        glued = _GLUED.fullmatch(piece) if kind == "word" else None
        if glued and piece.casefold() not in KEYWORDS:
            tokens += [Token("word", glued[1]), Token("word", glued[2])]
        elif kind != "space":
            tokens.append(Token(kind, piece))
    return tokens


def chance_of(figure: str) -> float:
    """Return the probability that a percentage stands for: ``66`` is 2/3, ``66.0`` is 0.66."""
    return _EXACT.get(figure, float(Decimal(figure.replace(",", ".")).scaleb(-2)))
