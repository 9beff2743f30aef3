"""Cuts on expected surplus that one solve learnt and another may start from.

A cut holds for every plan of its season. With nothing for pairs that it does not know it holds in
any season in which the pairs that it knows count the same young: more young never make a surplus
smaller. Cuts on the chance of none, and on bad seasons, have no such property and are not carried.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeVar

import numpy as np

from brumal.planner.pairs.candidate import Array, Candidate
from brumal.planner.problem import Problem
from brumal.planner.wishes.surplus import Cut

Key = TypeVar("Key", int, str)


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
    if changed.candidates is base.candidates:
        return tuple(cuts)
    if not _same_arrays(base.family_states, changed.family_states):
        return ()
    place = {pair: index for index, pair in enumerate(changed.columns.pairs)}
    names = {}
    for index in sorted({index for cut in cuts for index in cut.coefficients}):
        new = place.get(base.columns.pairs[index])
        if new is not None and _counts_same(base.candidates[index], changed.candidates[new]):
            names[index] = new
    return renamed(cuts, names)


def _counts_same(one: Candidate, other: Candidate) -> bool:
    """Say whether two records of a pair count the same young for every wish."""
    return one is other or (
        dict(one.count_families) == dict(other.count_families)
        and _same_arrays(one.counts, other.counts)
    )


def _same_arrays(one: Mapping[Key, Array], other: Mapping[Key, Array]) -> bool:
    return one is other or (
        one.keys() == other.keys()
        and all(law is other[key] or np.array_equal(law, other[key]) for key, law in one.items())
    )
