"""Odds of young by what their parents may be, one linkage group, as prices see them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from brumal.forecast.het_labels import Told
from brumal.forecast.value import Array, PriceList, Reduced, known_worth, reduce_odds
from brumal.genetics.genotypes import Belief, Case, GroupOdds


@dataclass(frozen=True, slots=True, eq=False)
class Parents:
    """The young of parents of known genotypes, for every mother and father there may be.

    ``alike`` are the odds as prices see them, cases alike merged. Arrays that begin with parents
    have one row for each mother and father, the fathers of the first mother first: ``onto``, shape
    (parents, cases), marks the case of each (none for two there cannot be) and ``common``, shape
    (parents,), is the expected worth of their young under the base entry. ``by_father``, shape
    (fathers, mothers, outcomes), are the odds given each pair.
    """

    alike: Reduced
    onto: Array
    common: Array
    by_father: Array

    def weights(self, chances: Array) -> Array:
        """Return the chances of the cases, by those of the parents: shape (pairs, cases)."""
        found: Array = chances.reshape(len(chances), -1) @ self.onto
        return found

    def commons(self, chances: Array) -> Array:
        """Return the expected worth under the base entry by the chances of parents, (pairs,)."""
        found: Array = chances.reshape(len(chances), -1) @ self.common
        return found


def parents_of(
    prices: PriceList, group: str, young: Sequence[Sequence[Belief | None]], told: Told
) -> Parents:
    """Return the odds of the young of each mother (row) and father; ``None``: no such pair.

    ``told`` are the labels by which the young are sold (see ``told_labels``).
    """
    distinct = sorted({odds for row in young for odds in row if odds is not None})
    cases = tuple(Case(1.0, odds) for odds in distinct)
    base = reduce_odds(prices, GroupOdds(group, cases), told)
    rows: dict[bytes, int] = {row.tobytes(): place for place, row in enumerate(base.odds[0])}
    mothers, fathers = len(young), len(young[0])
    by_father = np.zeros((fathers, mothers, base.outcomes.sex.size))
    onto = np.zeros((mothers * fathers, len(rows)))
    common = np.zeros(mothers * fathers)
    for mother, row in enumerate(young):
        for father, odds in enumerate(row):
            if odds is not None:
                own = _placed(base, odds)
                both = mother * fathers + father
                by_father[father, mother] = own
                onto[both, rows[own.tobytes()]] = 1.0
                worths = [p * known_worth(prices, group, found, told)[2] for found, p in odds]
                common[both] = sum(worths)
    return Parents(base, onto, common, by_father)


def weighted(parents: Parents, chances: Array) -> Reduced:
    """Return the odds of young of parents with these chances, shape (mothers, fathers)."""
    alike = parents.alike
    return Reduced(
        group=alike.group,
        outcomes=alike.outcomes,
        weights=parents.weights(chances[None]),
        odds=alike.odds,
        place=alike.place,
        common=float(parents.commons(chances[None])[0]),
        code=alike.code,
        told=alike.told,
    )


def taken_apart(
    parents: Parents, chances: Array, common: float, *, fathers: bool, mothers: bool
) -> Reduced:
    """Return the same odds taken apart by what the parents are: those followed are the states.

    The other parent's genotypes are the cases. With both followed, states are the fathers' in
    their order and for each of them the mothers'.
    """
    alike = parents.alike
    if fathers and mothers:
        odds = parents.by_father.reshape(-1, 1, parents.by_father.shape[2])
        weights = np.ones(odds.shape[:2])
    elif fathers:
        odds = parents.by_father
        weights = (chances / chances.sum(axis=0)).T
    else:
        odds = parents.by_father.transpose(1, 0, 2)
        weights = chances / chances.sum(axis=1, keepdims=True)
    return Reduced(
        group=alike.group,
        outcomes=alike.outcomes,
        weights=weights,
        odds=odds,
        place=alike.place,
        common=common,
        code=alike.code + (weights.shape[0] > 1),
        told=alike.told,
    )


def narrowed(prices: PriceList, odds: Reduced, alike: Belief) -> Reduced:
    """Return the odds of young that are known to be among ``alike``, outcomes as before."""
    worths = [
        chance * known_worth(prices, odds.group, found, odds.told)[2] for found, chance in alike
    ]
    return Reduced(
        group=odds.group,
        outcomes=odds.outcomes,
        weights=np.ones((1, 1)),
        odds=_placed(odds, alike)[None, None],
        place=odds.place,
        common=sum(worths),
        code=odds.code,
        told=odds.told,
    )


def _placed(base: Reduced, odds: Belief) -> Array:
    probability = np.zeros(base.outcomes.sex.size)
    for found, chance in odds:
        probability[base.place[found]] += chance
    return probability
