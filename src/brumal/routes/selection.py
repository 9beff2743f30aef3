"""Which young stand out in a clutch: exact chances of the best few by rank, without listing all.

A clutch of N young, N with generating function G, whose young fall into classes independently of
each other (given the parents). The chance of exactly x_i young of each class i that is looked at,
whatever the rest, is the product of p_i^x_i / x_i! times the X-th derivative of G at the chance of
the rest, X being the sum of the x_i: the multinomial distribution summed over N.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache

Pmf = tuple[float, ...]
Chosen = tuple[int, ...]
"""The places in the ranking of the young chosen, the best first; one place may stand more often."""
_Exact = tuple[tuple[float, int], ...]


def none_of(pmf: Pmf, chance: float) -> float:
    """Return the chance that no young of a clutch is of a kind that each is with ``chance``."""
    rest = 1.0 - chance
    total = 0.0
    for share in reversed(pmf):
        total = total * rest + share
    return total


@lru_cache(maxsize=1 << 15)
def derivative(pmf: Pmf, order: int, at: float) -> float:
    """Return the ``order``-th derivative of the generating function of ``pmf`` at ``at``."""
    total = 0.0
    for count in range(len(pmf) - 1, order - 1, -1):
        total = total * at + pmf[count] * math.perm(count, order)
    return total


@lru_cache(maxsize=1 << 15)
def best_of_clutch(
    pmf: Pmf, rankings: tuple[tuple[float, ...], ...], rest: float, most: tuple[int, ...]
) -> tuple[tuple[tuple[Chosen, ...], float], ...]:
    """Return the chance of each choice of the best young by rank, one choice a ranking.

    ``rankings`` holds the chances of a young's being of each class, the best class first, one
    ranking for each sex; ``rest`` the chance that it is of none of them (and not excluded: classes
    that must not occur are left out of both, and the chances returned then sum to the chance that
    they do not). ``most`` is how many are chosen at most from each ranking.
    """
    found = []
    choices = [list(_choices(len(r), m)) for r, m in zip(rankings, most, strict=True)]
    for chosen in _product(choices):
        terms: list[tuple[float, _Exact, float]] = [(1.0, (), rest)]
        for ranking, own, number in zip(rankings, chosen, most, strict=True):
            terms = [
                (sign * more, (*counts, *exact), free + left)
                for sign, counts, free in terms
                for more, exact, left in _terms(ranking, own, number)
            ]
        chance = math.fsum(sign * _exactly(pmf, counts, free) for sign, counts, free in terms)
        if chance > 1e-15:
            found.append((chosen, chance))
    return tuple(found)


def _product(choices: Sequence[Sequence[Chosen]]) -> Iterator[tuple[Chosen, ...]]:
    if not choices:
        yield ()
        return
    for rest in _product(choices[:-1]):
        for last in choices[-1]:
            yield (*rest, last)


def _choices(classes: int, most: int) -> Iterator[Chosen]:
    """Yield every multiset of up to ``most`` places, each sorted."""

    def longer(sofar: Chosen, first: int) -> Iterator[Chosen]:
        yield sofar
        if len(sofar) < most:
            for place in range(first, classes):
                yield from longer((*sofar, place), place)

    yield from longer((), 0)


def _terms(
    ranking: Sequence[float], chosen: Chosen, most: int
) -> Iterator[tuple[float, _Exact, float]]:
    """Yield (sign, exact counts, chance free) whose sum is the event that these are the best."""
    counts = [chosen.count(place) for place in range(len(ranking))]
    if len(chosen) < most or not chosen:
        # Fewer than asked for: all there are.
        yield (
            (1.0, tuple(zip(ranking, counts, strict=True)), 0.0)
            if most
            else (1.0, (), math.fsum(ranking))
        )
        return
    last = chosen[-1]
    above = tuple((ranking[place], counts[place]) for place in range(last))
    below = math.fsum(ranking[last + 1 :])
    # So many or more of the last class: any number, less each smaller number.
    yield 1.0, above, below + ranking[last]
    for fewer in range(counts[last]):
        yield -1.0, (*above, (ranking[last], fewer)), below


def _exactly(pmf: Pmf, counts: _Exact, free: float) -> float:
    total = sum(count for _, count in counts)
    chance = derivative(pmf, total, free)
    for share, count in counts:
        if count:
            chance *= share**count / math.factorial(count)
    return chance
