"""What a season's clutches may bring, seen from what the keeper sees of them.

Two ways to look. ``whole``: every composition of every clutch is told apart, as the best policy
needs it; for small clutches. ``ranked``: of each sex the best few young by a stated ranking are
told apart, whatever else hatched; a policy that looks no further is still followed exactly.

Targets are left out of every outcome: what is returned is the chance that none hatches and the
keeper sees this, given what the animals are.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from brumal.routes.frame import Pmf
from brumal.routes.genes import Brood, Look
from brumal.routes.selection import Chosen, best_of_clutch

Offer = tuple[int, Look]
"""A young that may be held back: the place of its pair in the season, and its look."""
Seen = tuple[tuple[Offer, int], ...]
"""What a keeper sees of a season: how many young of each kind; sorted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clutch:
    """One clutch of a season given what its parents are."""

    young: Pmf
    brood: Brood


def whole(
    clutches: Sequence[Clutch], wanted: frozenset[Look], most: int | None
) -> dict[Seen, float]:
    """Return the chance of each composition of all clutches of a season.

    ``wanted`` are the looks that may be held back; with ``most`` (nothing else is to be learnt from
    a clutch) only those are told apart, and up to so many of each.
    """
    found: dict[Seen, float] = {(): 1.0}
    for place, clutch in enumerate(clutches):
        shares = tuple(
            (each.look, each.share)
            for each in clutch.brood.others
            if most is None or each.look in wanted
        )
        rest = sum(each.share for each in clutch.brood.others) - sum(p for _, p in shares)
        table = _compositions(clutch.young, shares, max(rest, 0.0), most)
        longer: dict[Seen, float] = {}
        for (sofar, chance), (counts, more) in itertools.product(found.items(), table):
            seen = (*sofar, *(((place, look), count) for look, count in counts))
            longer[seen] = longer.get(seen, 0.0) + chance * more
        found = longer
    return found


@lru_cache(maxsize=1 << 12)
def _compositions(
    young: Pmf, shares: tuple[tuple[Look, float], ...], rest: float, most: int | None
) -> tuple[tuple[tuple[tuple[Look, int], ...], float], ...]:
    """Return (counts above zero, chance) for the young of one clutch, those of ``rest`` unseen."""
    found: dict[tuple[tuple[Look, int], ...], float] = {}

    def fill(at: int, left: int, counts: tuple[tuple[Look, int], ...], chance: float) -> None:
        if at == len(shares):
            chance *= rest**left / math.factorial(left)
            if chance > 0:
                found[counts] = found.get(counts, 0.0) + chance
            return
        look, share = shares[at]
        for count in range(left + 1):
            told = min(count, most) if most is not None else count
            longer = (*counts, (look, told)) if told else counts
            fill(at + 1, left - count, longer, chance * share**count / math.factorial(count))

    for number, chance in enumerate(young):
        if chance > 0:
            fill(0, number, (), chance * math.factorial(number))
    return tuple(found.items())


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """The young looked for in a season, females and males, the best first, and how many of each."""

    females: tuple[Offer, ...]
    males: tuple[Offer, ...]
    most: tuple[int, int]


def ranked(clutches: Sequence[Clutch], ranking: Ranking) -> dict[Seen, float]:
    """Return the chance of each choice of the season's best young by the ranking."""
    found: dict[tuple[Chosen, Chosen], float] = {((), ()): 1.0}
    for place, clutch in enumerate(clutches):
        share = {each.look: each.share for each in clutch.brood.others}
        # A look that these parents cannot give has no share; its place in the ranking stays.
        own = [
            [at for at, offer in enumerate(offers) if offer[0] == place and offer[1] in share]
            for offers in (ranking.females, ranking.males)
        ]
        rankings = tuple(
            tuple(share[offers[at][1]] for at in places)
            for places, offers in zip(own, (ranking.females, ranking.males), strict=True)
        )
        rest = sum(share.values()) - sum(map(sum, rankings))
        table = best_of_clutch(clutch.young, rankings, max(rest, 0.0), ranking.most)
        longer: dict[tuple[Chosen, Chosen], float] = {}
        for ((hers, his), chance), (chosen, more) in itertools.product(found.items(), table):
            merged = (
                _merged(hers, [own[0][at] for at in chosen[0]], ranking.most[0]),
                _merged(his, [own[1][at] for at in chosen[1]], ranking.most[1]),
            )
            longer[merged] = longer.get(merged, 0.0) + chance * more
        found = longer
    seen: dict[Seen, float] = {}
    for (hers, his), chance in found.items():
        offers = [ranking.females[at] for at in hers] + [ranking.males[at] for at in his]
        key = tuple(sorted((offer, offers.count(offer)) for offer in set(offers)))
        seen[key] = seen.get(key, 0.0) + chance
    return seen


def _merged(sofar: Chosen, more: Sequence[int], most: int) -> Chosen:
    return tuple(sorted((*sofar, *more))[:most])
