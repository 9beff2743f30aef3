"""Saturating wishes, exactly: the expected surplus of young and the cuts that bound it.

For a wish term with threshold ``n`` the objective loses ``cost * f(S)`` with
``f(S) = E[max(N(S) - n, 0)]`` and ``N(S)`` the counted young of the chosen pairs ``S``. As a set
function ``f`` is supermodular, with ``f`` of nothing zero: a convex function of a sum of
non-negative counts. It cannot be written as a finite linear model of reasonable size, so the
solver is given lower bounds on it that are exact at plans already met, and more are added until
the model's value and the true value agree. Three families, all valid for every plan:

* Nemhauser, Wolsey & Fisher 1978 (Math Program 14:265-294, from memory), the two linear bounds of
  a submodular function, here mirrored for a supermodular one;
* the subgradient of an expected recourse (Van Slyke & Wets 1969, SIAM J Appl Math 17:638-663, from
  memory): ``f(S) >= E[w * (N(S) - n)]`` for any weight ``0 <= w <= 1``, taken as the event
  ``N(T) >= n``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from brumal.planner.problem import Array, Candidate, Problem


@dataclass(frozen=True, slots=True)
class Cut:
    """A lower bound on the surplus of wish term ``term``: constant + sum of coefficients x pair."""

    term: int
    constant: float
    coefficients: Mapping[int, float]


def total_law(laws: Sequence[Array]) -> Array:
    """Return the distribution of the sum of independent counts."""
    law = np.ones(1)
    for other in laws:
        law = np.convolve(law, other)
    return law


def surplus(law: Array, threshold: int) -> float:
    """Return E[max(N - threshold, 0)] for the distribution ``law`` of N."""
    return float(law[threshold:] @ np.arange(law.size - threshold)) if law.size > threshold else 0.0


def mean(law: Array) -> float:
    """Return the mean of a distribution on 0, 1, 2 ..."""
    return float(law @ np.arange(law.size))


def true_value(problem: Problem, chosen: Sequence[int]) -> float:
    """Return the expected value of a plan: full prices less what saturated wishes lose."""
    value = sum(problem.candidates[index].value for index in chosen)
    for term, wish in enumerate(problem.wish_terms):
        laws = _laws(problem.candidates, chosen, term)
        value -= wish.cost * surplus(total_law(list(laws.values())), wish.threshold)
    return value


def first_cuts(problem: Problem, term: int) -> tuple[Cut, ...]:
    """Return the bounds that hold before any plan is known: the mean's, and each pair alone."""
    threshold = problem.wish_terms[term].threshold
    laws = _laws(problem.candidates, range(len(problem.candidates)), term)
    alone = {index: surplus(law, threshold) for index, law in laws.items()}
    return (
        Cut(term, -threshold, {index: mean(law) for index, law in laws.items()}),
        Cut(term, 0.0, {index: value for index, value in alone.items() if value > 0}),
    )


def cuts_at(problem: Problem, term: int, chosen: Sequence[int]) -> tuple[Cut, ...]:
    """Return three bounds on the surplus of a term, each exact at the plan ``chosen``."""
    threshold = problem.wish_terms[term].threshold
    every = _laws(problem.candidates, range(len(problem.candidates)), term)
    inside = {index: every[index] for index in chosen if index in every}
    law = total_law(list(inside.values()))
    at_plan = surplus(law, threshold)
    reached = float(law[threshold:].sum())
    without = {
        index: total_law([inside[other] for other in inside if other != index]) for index in inside
    }
    last_gain = {i: at_plan - surplus(rest, threshold) for i, rest in without.items()}
    removal, insertion, slope = dict(last_gain), {}, {}
    for index, own in every.items():
        if index in inside:
            insertion[index] = mean(own)
            slope[index] = _mean_when_reached(own, without[index], threshold)
        else:
            removal[index] = surplus(own, threshold)
            insertion[index] = surplus(np.convolve(law, own), threshold) - at_plan
            slope[index] = mean(own) * reached
    return (
        Cut(term, at_plan - sum(last_gain.values()), removal),
        Cut(term, at_plan - sum(insertion[index] for index in inside), insertion),
        Cut(term, -threshold * reached, slope),
    )


def _mean_when_reached(own: Array, rest: Array, threshold: int) -> float:
    """Return E[Y; Y + R >= threshold] for independent counts Y (``own``) and R (``rest``)."""
    tail = np.concatenate([np.cumsum(rest[::-1])[::-1], [0.0]])
    needed = np.clip(threshold - np.arange(own.size), 0, tail.size - 1)
    return float(own * np.arange(own.size) @ tail[needed])


def _laws(candidates: Sequence[Candidate], chosen: Sequence[int], term: int) -> dict[int, Array]:
    return {
        index: candidates[index].counts[term]
        for index in chosen
        if term in candidates[index].counts
    }
