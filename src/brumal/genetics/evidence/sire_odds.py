"""Which of several males sired a clutch: what its young say.

Bayes over the males: the chance that these young hatch of each, all parents being what the other
evidence makes them. Linkage groups are independent given the parents, and so are the young.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.pair_odds import joint_chances
from brumal.genetics.evidence.bucket_tree import FloatArray
from brumal.genetics.evidence.clutch_evidence import ClutchYoung
from brumal.genetics.evidence.infer import Inferred, infer, look_at
from brumal.genetics.genotypes import Morph
from brumal.records.animals import Animal

SURE = 1 - 1e-9
_STAND_IN = "\0dam of young in question"


def with_sires(
    animals: Sequence[Animal],
    morphs: Mapping[str, Morph],
    clutches: Sequence[ClutchYoung],
    open_clutches: Sequence[tuple[ClutchYoung, Mapping[str, float]]],
    catalogue: Catalogue,
) -> tuple[Inferred, dict[str, dict[str, float]]]:
    """Infer with clutches of which the sire is not sure: (young, chance of each male before).

    Returns what is inferred, and for each of their dams the chance of each male now. A clutch whose
    sire is then certain is evidence on him; the young of any other are evidence on their dam alone,
    by an unknown sire. Where no male explains the young, the chances stay as they were.
    """
    settled = list(clutches)
    found: dict[str, dict[str, float]] = {}
    for young, before in open_clutches:
        now = sire_chances(animals, morphs, settled, young, before, catalogue)
        found[young.dam] = now
        likeliest = max(now, key=lambda male: (now[male], male))
        sure = now[likeliest] >= SURE
        settled.append(replace(young, sire=likeliest if sure else None))
    return infer(animals, morphs, settled, catalogue), found


def sire_chances(
    animals: Sequence[Animal],
    morphs: Mapping[str, Morph],
    clutches: Sequence[ClutchYoung],
    young: ClutchYoung,
    before: Mapping[str, float],
    catalogue: Catalogue,
) -> dict[str, float]:
    """Return the chance of each male once the young of a clutch are seen, ``before`` without them.

    ``clutches`` are those of which the sire is known.
    """
    if not young.young or len(before) == 1:
        return dict(before)
    # The young by unknown parents put their genes in play without telling of any known animal.
    stand_in = replace(young, dam=_STAND_IN, sire=None)
    known = infer(animals, morphs, [*clutches, stand_in], catalogue)
    logs = {
        sire: np.log(chance) + _log_likelihood(known, young, sire, catalogue)
        for sire, chance in before.items()
        if chance > 0
    }
    best = max(logs.values())
    if best == -np.inf:
        return dict(before)
    weights = {sire: float(np.exp(log - best)) for sire, log in logs.items()}
    total = sum(weights.values())
    return {sire: weights.get(sire, 0.0) / total for sire in before}


def _log_likelihood(known: Inferred, young: ClutchYoung, sire: str, catalogue: Catalogue) -> float:
    total = 0.0
    for group in known.groups:
        chances = _parents(known, young.dam, sire, group)
        space = known.groups[group].evidence.space
        anything = space.anything(None).mask
        shown = [
            (look, count)
            for count, morph, sex in young.seen
            for look in [look_at(space, morph, sex, catalogue)]
            if look != anything
        ]
        share = 0.0
        for (mother, father), chance in chances.items():
            likelihood = chance
            for look, count in shown:
                fits = sum(p for n, p in space.young(mother, father) if look >> n & 1)
                likelihood *= fits**count
            share += likelihood
        total += float(np.log(share)) if share > 0 else -np.inf
    return total


def _parents(known: Inferred, dam: str, sire: str, group: str) -> dict[tuple[int, int], float]:
    """Return the chances of both parents together, by the numbers of their diplotypes."""
    result, place = known.groups[group], known.collection.kin.place
    joint = joint_chances(known, dam, sire, group)
    hers, his = (result.evidence.space.members(result.domains[place[n]]) for n in (dam, sire))
    if joint is not None:
        table: FloatArray = joint.chances
        return {
            (mother, father): float(table[row, column])
            for row, mother in enumerate(hers)
            for column, father in enumerate(his)
            if table[row, column] > 0
        }
    return {
        (mother, father): p * q
        for mother, p in result.odds(place[dam])
        for father, q in result.odds(place[sire])
    }
