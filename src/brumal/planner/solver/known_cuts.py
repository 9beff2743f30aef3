"""Cuts on expected surplus that one solve learnt and another may start from.

A cut holds for every plan of its season. With nothing for pairs that it does not know it holds in
any season in which the pairs that it knows count as many young or more: more young never make a
surplus smaller. Cuts on the chance of none, and on bad seasons, have no such property and are not
carried.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeVar

import numpy as np

from brumal.planner.pairs.candidate import Array, Candidate
from brumal.planner.problem import Problem
from brumal.planner.wishes.surplus import Cut

Key = TypeVar("Key", int, str)
_ROUNDING = 1e-12


def renamed(cuts: Iterable[Cut], names: Mapping[int, int]) -> tuple[Cut, ...]:
    """Return cuts by new indices of pairs; pairs without one are left out of them."""
    return tuple(
        Cut(
            cut.number,
            cut.constant,
            {names[i]: slope for i, slope in cut.coefficients.items() if i in names},
        )
        for cut in cuts
    )


def carried(cuts: Sequence[Cut], base: Problem, changed: Problem) -> tuple[Cut, ...]:
    """Return the cuts of one season that hold in another, by the indices of its candidates."""
    if [wish.threshold for wish in base.wish_terms] != [w.threshold for w in changed.wish_terms]:
        return ()
    if not _same_arrays(base.family_states, changed.family_states):
        return ()
    if changed.candidates is base.candidates:
        return tuple(cuts)
    place = {pair: index for index, pair in enumerate(changed.columns.pairs)}
    names = {}
    for index in sorted({index for cut in cuts for index in cut.coefficients}):
        new = place.get(base.columns.pairs[index])
        if new is not None and _counts_no_less(base.candidates[index], changed.candidates[new]):
            names[index] = new
    return renamed(cuts, names)


def _counts_no_less(one: Candidate, other: Candidate) -> bool:
    """Say whether the other record of a pair counts as many young for every wish, or more."""
    return one is other or all(
        one.family_of_count(term) == other.family_of_count(term)
        and _is_no_less(law, other.counts.get(term))
        for term, law in one.counts.items()
    )


def _is_no_less(law: Array, other: Array | None) -> bool:
    """Say whether no number of young is passed less often, whatever the state of the family."""
    if other is None or len(law) != len(other):
        return False
    most = max(law.shape[1], other.shape[1])
    before, after = (np.cumsum(_padded(each, most), axis=1) for each in (law, other))
    return bool((after <= before + _ROUNDING).all())


def _padded(law: Array, most: int) -> Array:
    return np.pad(law, ((0, 0), (0, most - law.shape[1])))


def _same_arrays(one: Mapping[Key, Array], other: Mapping[Key, Array]) -> bool:
    return one is other or (
        one.keys() == other.keys()
        and all(law is other[key] or np.array_equal(law, other[key]) for key, law in one.items())
    )
