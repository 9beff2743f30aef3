"""What pairs bring to the wishes: laws of counted young and chances of none, many pairs at once."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.layouts import in_parts
from brumal.forecast.sheets import ManyShares
from brumal.planner.pairs.candidate import Array


@dataclass(frozen=True, slots=True, eq=False)
class Served:
    """What pairs bring to the wishes, each list by pair.

    ``counts`` and ``none`` hold, by wish, laws of shape (states, most young + 1) and chances of
    shape (states,), states being what the followed parents are; wishes that a pair cannot serve are
    left out.
    """

    counts: list[dict[int, Array]]
    none: list[dict[int, Array]]


def serve(
    shares: Iterable[ManyShares],
    numbers: NDArray[np.intp],
    young: Array,
    watched: NDArray[np.bool_],
) -> Served:
    """Return what each pair brings to each wish, given each state of its followed parents.

    ``young``, shape (pairs, most young + 1), holds the laws of all pairs' hatchlings; ``shares``
    are those of the pairs that serve a wish, whose places among all are ``numbers``. Of the wishes
    that count, those ``watched``, shape (tracked,), are looked at.
    """
    count = young.shape[0]
    served = Served([{} for _ in range(count)], [{} for _ in range(count)])
    for many in shares:
        _serve_alike(served, many, numbers[many.places], young, watched)
    return served


def _serve_alike(
    served: Served,
    many: ManyShares,
    numbers: NDArray[np.intp],
    young: Array,
    watched: NDArray[np.bool_],
) -> None:
    """Fill in what pairs of as many states and cases bring."""
    shares = many.shares
    each = int(np.prod(shares.weights.shape[1:])) * young.shape[1]
    rows, wishes = np.nonzero(shares.taken.any(axis=(2, 3)) & watched)
    for part in in_parts(rows.size, each):
        row, wish = rows[part], wishes[part]
        laws = thinned(young[numbers[row]], shares.weights[row], shares.taken[row, wish])
        for number, term, law in zip(numbers[row].tolist(), wish.tolist(), laws, strict=True):
            served.counts[number][term] = law
    rows, wishes = np.nonzero(shares.fits.any(axis=(2, 3)))
    for part in in_parts(rows.size, each):
        row, wish = rows[part], wishes[part]
        none = none_left(young[numbers[row]], shares.weights[row], shares.fits[row, wish])
        for number, chance, law in zip(numbers[row].tolist(), wish.tolist(), none, strict=True):
            served.none[number][chance] = law


def thinned(young: Array, weights: Array, shares: Array) -> Array:
    """Return the probability of 0, 1, 2 ... counted young of pairs, given what their parents are.

    ``young``, shape (pairs, most young + 1), is the distribution of each pair's hatchlings;
    ``weights`` and ``shares`` have the shape (pairs, states, cases), the result (pairs, states,
    most young + 1). Within a case of the parents the young are independent, each counted with its
    share: ``P(k) = q^k sum over j of P(k + j young) C(k + j, k) (1 - q)^j``. Cases are mixed after
    counting, not before.
    """
    pairs, states, _ = shares.shape
    most = young.shape[1] - 1
    kept = np.arange(most + 1)
    more = kept[:, None] + kept[None, :]
    ways = np.array([[float(math.comb(k + j, k)) for k in kept.tolist()] for j in kept.tolist()])
    left = np.where(more <= most, young[:, np.minimum(more, most)] * ways, 0.0)
    # Most cases count with a share that others of the pair have too: each share is worked out once.
    distinct, place = _distinct(shares.reshape(pairs, -1))
    many = distinct.shape[1]
    cell = np.arange(pairs * states).repeat(shares.shape[2]) * many + place.reshape(-1)
    mix = np.bincount(cell, weights=weights.reshape(-1), minlength=pairs * states * many)
    lost = _powers(np.clip(1.0 - distinct, 0.0, 1.0), most)
    counted = (lost @ left) * _powers(distinct, most)
    laws: Array = mix.reshape(pairs, states, many) @ counted
    return laws


def _distinct(rows: Array) -> tuple[Array, NDArray[np.intp]]:
    """Return the distinct numbers of each row (some twice, to fill it), and the place of each."""
    order = np.argsort(rows, axis=1, kind="stable")
    along = np.take_along_axis(rows, order, axis=1)
    rank = np.zeros(rows.shape, dtype=np.intp)
    rank[:, 1:] = np.cumsum(along[:, 1:] > along[:, :-1], axis=1)
    place = np.empty_like(rank)
    np.put_along_axis(place, order, rank, axis=1)
    distinct = np.zeros((rows.shape[0], int(rank.max()) + 1))
    np.put_along_axis(distinct, rank, along, axis=1)
    return distinct, place


def _powers(base: Array, most: int) -> Array:
    """Return the powers 0, 1 ... most of each number, in one more axis at the end."""
    found = np.empty((*base.shape, most + 1))
    found[..., 0] = 1.0
    for power in range(most):
        np.multiply(found[..., power], base, out=found[..., power + 1])
    return found


def none_left(young: Array, weights: Array, shares: Array) -> Array:
    """Return the chance that no young of a pair is counted, shape (pairs, states).

    Arguments as for ``thinned``.
    """
    missed = _powers(np.clip(1.0 - shares, 0.0, 1.0), young.shape[1] - 1)
    chances: Array = np.einsum("psc,psck,pk->ps", weights, missed, young)
    return chances
