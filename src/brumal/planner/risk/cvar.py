"""The taste for risk: the mean of the worst of sampled seasons, and the cuts that bound it.

The objective is ``(1 - w) E + w B``, that is the expectation less ``w`` times the shortfall
``E - B`` of bad seasons. ``E`` is the true expectation; ``B`` is the conditional value at risk
(Rockafellar & Uryasev 2000, J Risk 2:21-41, from memory) over seasons that are drawn once, the same
for every plan: the mean of its ``k`` worst ones,

    B(x) = least over q of  sum over s of q_s I_s(x),    0 <= q_s <= 1 / k,  sum of q_s = 1,

with the income ``I_s(x) = sum of money_ps x_p - sum over wishes of cost max(N_s(x) - n, 0)``, where
``N_s`` are the young of the season that the wish counts. ``I_s`` is concave in the plan, so ``B``
is, and for any plan, or parts of pairs,

    B(x) <= sum over s of q_s (sum of money_ps x_p - sum over wishes of cost a_s (N_s(x) - n))

with ``q`` the worst seasons of one plan and ``a_s`` one where a wish is past its threshold in it,
zero elsewhere: exact at that plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.planner.pairs.candidate import Array, Candidate, Luck
from brumal.planner.problem import Problem
from brumal.planner.wishes.surplus import Cut


@dataclass(frozen=True, slots=True, eq=False)
class WishCounts:
    """Young that a wish counts: ``counts``, shape (members, seasons), of candidates ``members``."""

    threshold: int
    cost: float
    members: NDArray[np.intp]
    counts: Array


@dataclass(frozen=True, slots=True, eq=False)
class Seasons:
    """The sampled seasons of all candidates; ``money`` has shape (candidates, seasons)."""

    bad: int
    money: Array
    wishes: tuple[WishCounts, ...]


def seasons_of(problem: Problem) -> Seasons | None:
    """Gather the sampled seasons; ``None`` where bad seasons do not count.

    Raises ``ValueError`` for a candidate without luck where they do.
    """
    if problem.risk is None:
        return None
    luck = [_luck(candidate) for candidate in problem.candidates]
    wishes = []
    for number, wish in enumerate(problem.wish_terms):
        members = [n for n, own in enumerate(luck) if number in own.counts]
        if members:
            counts = np.stack([luck[n].counts[number] for n in members]).astype(float)
            wishes.append(WishCounts(wish.threshold, wish.cost, np.array(members), counts))
    return Seasons(
        bad=problem.risk.bad,
        money=np.stack([own.money for own in luck])
        if luck
        else np.zeros((0, problem.risk.seasons)),
        wishes=tuple(wishes),
    )


def incomes(seasons: Seasons, amounts: Array) -> Array:
    """Return what each season brings where ``amounts``, shape (candidates,), are made."""
    total: Array = amounts @ seasons.money
    for wish in seasons.wishes:
        total -= wish.cost * np.maximum(amounts[wish.members] @ wish.counts - wish.threshold, 0.0)
    return total


def bad_mean(problem: Problem, chosen: Sequence[int]) -> float:
    """Return the mean of the worst seasons of a plan; ``problem`` has a taste for risk.

    What animals cost for being used at all is not in it.
    """
    made = [_luck(problem.candidates[index]) for index in chosen]
    assert problem.risk is not None
    total = np.zeros(problem.risk.seasons)
    for own in made:
        total += own.money
    for number, wish in enumerate(problem.wish_terms):
        count = sum((own.counts[number] for own in made if number in own.counts), start=0)
        total -= wish.cost * np.maximum(count - wish.threshold, 0)
    return float(np.sort(total)[: problem.risk.bad].mean())


def mean_cut(seasons: Seasons) -> Cut:
    """Return the bound that no season's mean is passed by that of its worst ones."""
    return _lower(0.0, seasons.money.mean(axis=1))


def bad_cut(seasons: Seasons, amounts: Array) -> tuple[Cut, float]:
    """Return the bound that is exact at a plan, or parts of pairs, and its value there.

    Both are on what bad seasons *lose*, the mean of the worst ones with its sign turned.
    """
    total = incomes(seasons, amounts)
    worst = np.argsort(total, kind="stable")[: seasons.bad]
    slopes = seasons.money[:, worst].mean(axis=1)
    constant = 0.0
    for wish in seasons.wishes:
        counts = wish.counts[:, worst]
        past = (amounts[wish.members] @ counts > wish.threshold).astype(float)
        slopes[wish.members] -= wish.cost * (counts @ past) / seasons.bad
        constant += wish.cost * wish.threshold * float(past.mean())
    return _lower(constant, slopes), -float(total[worst].mean())


def _lower(constant: float, slopes: Array) -> Cut:
    some = np.flatnonzero(slopes)
    return Cut(0, -constant, dict(zip(some.tolist(), (-slopes[some]).tolist(), strict=True)))


def _luck(candidate: Candidate) -> Luck:
    if candidate.luck is None:
        raise ValueError(f"no sampled seasons for {candidate.pair}")
    return candidate.luck
