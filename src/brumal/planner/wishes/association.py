"""Whether clutches of uncertain parents only ever bring more, or fewer, young together.

What a shared sire or uncertain kin may be makes a family of clutches dependent. Where its states
can be ordered, in part, so that each clutch brings more the higher the state, and where the states'
chances are *associated* in that order (increasing functions of the state are never negatively
correlated), the counts of the clutches are associated too (Esary, Proschan & Walkup 1967, Ann Math
Stat 38:1466-1474, from memory). Their sum is then more spread than that of independent clutches
with the same laws:

    E (B + Y - n)^+ = E (B - n)^+ + sum over u >= 0 of P(Y > u, B >= n - u)

and ``P(Y > u, B >= n - u) >= P(Y > u) P(B >= n - u)`` for one clutch ``Y`` and the sum ``B`` of
others, so each can be made independent in turn and the left side only falls.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array

_DECIMALS = 12
_BITS = 62
_TOLERANCE = 1e-12
_MOST_SETS = 500
"""With more upper sets than this the question is answered no, which is always safe."""


def are_associated(weights: Array, laws: Array, most: int) -> bool:
    """Say whether association of a family's clutches is certain, counts up to ``most`` looked at.

    ``weights``, shape (states,), are the chances of its states and ``laws``, shape (states,
    clutches, young + 1), the laws of the counts given each. "No" means "not shown".
    """
    tails = np.cumsum(laws[:, :, ::-1], axis=2)[:, :, ::-1][:, :, 1 : most + 1]
    chances, tails = _distinct(weights, tails.reshape(weights.size, -1))
    if chances.size == 1:
        return True
    below = (tails[:, None, :] <= tails[None, :, :]).all(axis=2)
    sets = _upper_sets(below)
    if sets is None:
        return False
    alone = sets @ chances
    both = (sets * chances) @ sets.T
    return bool((both - np.multiply.outer(alone, alone)).min() > -_TOLERANCE)


def _distinct(weights: Array, tails: Array) -> tuple[Array, Array]:
    """Merge states that no clutch tells apart; tails are rounded, so that none stay level."""
    tails = np.round(tails, _DECIMALS)
    place: dict[bytes, int] = {}
    chances: list[float] = []
    kept: list[int] = []
    for state, (weight, row) in enumerate(zip(weights.tolist(), tails, strict=True)):
        at = place.setdefault(row.tobytes(), len(kept))
        if at == len(kept):
            kept.append(state)
            chances.append(0.0)
        chances[at] += weight
    return np.array(chances), tails[kept]


def _upper_sets(below: NDArray[np.bool_]) -> Array | None:
    """Return every set of states that holds all states above its own, shape (sets, states)."""
    count = below.shape[0]
    above = [
        sum(1 << other for other in range(count) if other != state and below[state, other])
        for state in range(count)
    ]
    found = [0]
    # The highest first, so that what stands above a state is settled before it.
    for state in np.argsort(below.sum(axis=1), kind="stable").tolist():
        found += [each | 1 << state for each in found if each & above[state] == above[state]]
        if len(found) > _MOST_SETS:
            return None
    bits = np.array(found, dtype=object) if count > _BITS else np.array(found, dtype=np.int64)
    return (bits[:, None] >> np.arange(count) & 1).astype(np.float64)
