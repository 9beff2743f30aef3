"""Names in other writing directions inside a sentence: kept from turning the words around them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable

from markupsafe import Markup, escape

from brumal.report.words import visible

_TURNING = frozenset({"R", "AL"})


def isolator(names: Iterable[str]) -> Callable[[str], Markup]:
    """Return a function that escapes a text and sets apart each of ``names`` that turns direction.

    A name of right-to-left letters stands in a ``bdi`` element: neither its neighbours nor the
    rest of the line move (Unicode Standard Annex 9). Marks that turn the direction are shown.
    """
    found = {visible(name) for name in names if turns(name)}
    turning = sorted(found, key=lambda name: (-len(name), name))
    if not turning:
        return lambda text: escape(visible(text))
    pattern = re.compile("|".join(re.escape(name) for name in turning))

    def told(text: str) -> Markup:
        text = visible(text)
        parts = []
        end = 0
        for found in pattern.finditer(text):
            parts += [escape(text[end : found.start()]), Markup("<bdi>{}</bdi>").format(found[0])]
            end = found.end()
        return Markup("").join([*parts, escape(text[end:])])

    return told


def turns(name: str) -> bool:
    """Say whether a name holds letters that are written from right to left."""
    return not name.isascii() and any(
        unicodedata.bidirectional(letter) in _TURNING for letter in name
    )
