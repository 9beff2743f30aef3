"""The trade name of young that look alike: what shows, and the chance of each hidden het."""

from __future__ import annotations

from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.clutch_odds import VisualClass
from brumal.genetics.genotypes import WILD, AllelePair
from brumal.genetics.notation.naming import look_name
from brumal.genetics.notation.words import NORMAL_WORDS, format_chance

_EXACT = (1 / 4, 1 / 3, 1 / 2, 2 / 3)
_NEAR = 1e-9


def class_name(found: VisualClass, catalogue: Catalogue) -> str:
    """Return the name of a look with its hets: ``Pastel 66% het Clown``, ``Normal het Piebald``.

    A het that all of these young carry stands without a figure; the trade's 66, 50, 33 and 25 %
    stand for the exact fractions, any other chance is rounded to a whole per cent.
    """
    look = look_name(found.shown, catalogue)
    hets = [words for hidden in found.hidden if (words := _het(hidden.pair, hidden.chance))]
    if not hets:
        return look
    return " ".join(hets if look == NORMAL_WORDS else [look, *hets])


@lru_cache(maxsize=1 << 12)
def _het(pair: AllelePair, chance: float) -> str:
    """Name a hidden carrier; a second copy of a dominant is hidden too, but is no het."""
    if WILD not in pair:
        return ""
    gene = next(name for name in pair if name != WILD)
    if chance > 1 - _NEAR:
        return f"het {gene}"
    exact = next((share for share in _EXACT if abs(share - chance) < _NEAR), None)
    figure = format_chance(exact) if exact else f"{chance:.0%}"
    return f"{figure} het {gene}"
