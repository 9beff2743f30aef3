"""The trade name of young that look alike: what shows, and the chance of each hidden gene."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.clutch_odds import VisualClass
from brumal.genetics.genotypes import WILD, AllelePair
from brumal.genetics.looks import NORMAL, shown_pair
from brumal.genetics.notation.naming import look_name
from brumal.genetics.notation.words import NORMAL_WORDS, carried_words, format_chance

_EXACT = (1 / 4, 1 / 3, 1 / 2, 2 / 3)
_NEAR = 1e-9


def class_name(found: VisualClass, catalogue: Catalogue, trade_names: bool = False) -> str:
    """Return the name of a look with its hets: ``Pastel 66% het Clown``, ``Normal het Piebald``.

    A het that all of these young carry stands without a figure; the trade's 66, 50, 33 and 25 %
    stand for the exact fractions, any other chance is rounded to a whole per cent. What the look
    hides is named if it is certain, else by its chance: ``Ivory Clown``, ``Ivory 50% Pastel``. A
    gene that would show is never called a het.
    """
    shown = list(found.shown)
    hets: list[str] = []
    hidden: dict[str, dict[AllelePair, float]] = {}
    for each in found.hidden:
        hidden.setdefault(each.locus, {})[each.pair] = each.chance
    for locus, pairs in hidden.items():
        if locus not in found.scene.hidden:
            # A second copy of a dominant is hidden too, but is no het.
            pairs = {pair: chance for pair, chance in pairs.items() if WILD in pair}
        elif _certain_visual(pairs, catalogue):
            shown += [(locus, pair) for pair in pairs]
            continue
        hets += [_het(gene, chance, catalogue) for gene, chance in _carried(pairs).items()]
    look = look_name(tuple(sorted(shown)), catalogue, trade_names)
    if not hets:
        return look
    return " ".join(hets if look == NORMAL_WORDS else [look, *hets])


def _certain_visual(pairs: Mapping[AllelePair, float], catalogue: Catalogue) -> bool:
    """Say whether one pair is certain that would show if it were not hidden."""
    (pair, chance), *more = pairs.items()
    return not more and chance > 1 - _NEAR and shown_pair(pair, catalogue) != NORMAL


def _carried(pairs: Mapping[AllelePair, float]) -> dict[str, float]:
    """Return the chance of each gene that may be carried, in one copy or two."""
    found: dict[str, float] = {}
    for pair, chance in pairs.items():
        for gene in dict.fromkeys(name for name in pair if name != WILD):
            found[gene] = found.get(gene, 0.0) + chance
    return found


@lru_cache(maxsize=1 << 12)
def _het(gene: str, chance: float, catalogue: Catalogue) -> str:
    """Name a gene that is carried unseen."""
    words = carried_words(gene, catalogue)
    if chance > 1 - _NEAR:
        return words
    exact = next((share for share in _EXACT if abs(share - chance) < _NEAR), None)
    figure = format_chance(exact) if exact else f"{chance:.0%}"
    return f"{figure} {words}"
