"""From a pair to a candidate: its clutch, its young's value, what it counts for each wish."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from brumal.forecast.clutch import ClutchForecast
from brumal.forecast.value import HatchlingValue, PriceList, hatchling_value, price_list
from brumal.genetics.genotypes import Genotype
from brumal.pipeline import Prepared
from brumal.planner.problem import Array, Candidate
from brumal.planner.wish_terms import (
    ChanceCounted,
    Counted,
    chance_terms,
    count_law,
    counted_terms,
    none_chance,
)
from brumal.records.animals import Animal

MOST_STATES = 64
"""A sire with more possible genotypes than this, as wishes see them, is taken at his average."""
_DECIMALS = 6
"""Money is rounded to this many decimals, so that equal pairs tie on every machine."""


@dataclass(frozen=True, slots=True)
class SireStates:
    """What an uncertain sire may be: weights, shape (states,), and the genotype of each state."""

    weights: Array
    genotypes: tuple[Genotype, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pricing:
    """Prices, wishes and uncertain sires, ready to price any pair.

    ``averaged`` names the sires of too many possible genotypes to be followed one by one.
    """

    prepared: Prepared
    prices: PriceList
    terms: tuple[Counted, ...]
    chances: tuple[ChanceCounted, ...]
    states: Mapping[str, SireStates]
    averaged: tuple[str, ...]

    def value(self, dam: Animal, sire: Animal) -> HatchlingValue:
        """Return the value of one hatchling of a pair."""
        return hatchling_value(self.prices, self.prepared.cross(dam.id, sire.id))

    def candidate(
        self,
        clutch: ClutchForecast,
        value: HatchlingValue,
        young: Array,
        penalties: Mapping[str, float],
    ) -> Candidate:
        """Join clutch and value of a pair; ``young`` is the distribution of its hatchlings."""
        costs = self.prepared.records.settings.costs
        expected = clutch.expected_young
        laid = clutch.goes * clutch.eggs
        money = expected * (value.mean - costs.hatchling) - costs.pairing - costs.egg * laid
        given = self._given_sire(clutch.dam, clutch.sire, value)
        kinship = self.prepared.kinship.phi(clutch.dam, clutch.sire)
        penalty = (
            penalties[clutch.dam]
            + penalties[clutch.sire]
            + self.prepared.records.settings.kin.penalty_per_F * kinship
        )
        return Candidate(
            dam=clutch.dam,
            sire=clutch.sire,
            value=round(money, _DECIMALS),
            extra=round(expected * self._extra(value), _DECIMALS),
            penalty=round(penalty, _DECIMALS),
            young=round(expected, 9),
            eggs=clutch.eggs,
            box_eggs=clutch.eggs_p90,
            F=kinship,
            sd=_deviation(clutch, value, young, costs.egg, costs.hatchling),
            counts=self._counts(given, young),
            none=self._none(given, young),
        )

    def none(self, entry: int, clutch: ClutchForecast) -> Array:
        """Return the chance of no young that satisfies an entry, given each state of the sire."""
        own = hatchling_value(self.prices, self.prepared.cross(clutch.dam, clutch.sire))
        given = self._given_sire(clutch.dam, clutch.sire, own)
        return np.array([none_chance(entry, value, clutch.young_pmf) for value in given])

    def weights(self, sire: str) -> Array:
        """Return the probabilities of a sire's possible genotypes, shape (states,)."""
        return self.states[sire].weights if sire in self.states else np.ones(1)

    def _extra(self, value: HatchlingValue) -> float:
        """Return what holdbacks add to one hatchling while every wish is open."""
        return sum(
            counted.full_extra * case.weight * counted.share(case)
            for counted in self.terms
            if counted.full_extra
            for case in value.cases
        )

    def _given_sire(self, dam: str, sire: str, value: HatchlingValue) -> tuple[HatchlingValue, ...]:
        """Return the value of a hatchling given each genotype the sire may have."""
        states = self.states.get(sire)
        if states is None:
            return (value,)
        return tuple(
            hatchling_value(self.prices, self.prepared.cross_with(dam, genotype))
            for genotype in states.genotypes
        )

    def _counts(self, given: tuple[HatchlingValue, ...], young: Array) -> dict[int, Array]:
        laws = {
            number: np.stack([count_law(counted, value, young) for value in given])
            for number, counted in enumerate(self.terms)
            if any(counted.share(case) for value in given for case in value.cases)
        }
        return {number: law for number, law in laws.items() if law[:, 1:].any()}

    def _none(self, given: tuple[HatchlingValue, ...], young: Array) -> dict[int, Array]:
        return {
            number: np.array([none_chance(counted.entry, value, young) for value in given])
            for number, counted in enumerate(self.chances)
            if any(case.fits[counted.entry] for value in given for case in value.cases)
        }


def pricing_of(prepared: Prepared, sires: Collection[str]) -> Pricing:
    """Make prices and wishes ready; ``sires`` are those whose pairs will be priced."""
    values = prepared.records.settings.values
    prices = price_list(values, prepared.wishes, prepared.catalogue)
    terms, chances = counted_terms(values), chance_terms(values)
    states: dict[str, SireStates] = {}
    averaged: list[str] = []
    for sire in sorted(sires) if terms or chances else ():
        found = _states(prepared.genotypes[sire], prices.groups)
        if found is None:
            averaged.append(sire)
        elif len(found.genotypes) > 1:
            states[sire] = found
    return Pricing(
        prepared=prepared,
        prices=prices,
        terms=terms,
        chances=chances,
        states=states,
        averaged=tuple(averaged),
    )


def _states(genotype: Genotype, groups: frozenset[str]) -> SireStates | None:
    """Return every genotype the sire may have where prices look, ``None`` if there are too many."""
    unsure = [g for g, belief in sorted(genotype.groups.items()) if g in groups and len(belief) > 1]
    if math.prod(len(genotype.groups[group]) for group in unsure) > MOST_STATES:
        return None
    weights, genotypes = [], []
    for choice in itertools.product(*(genotype.groups[group] for group in unsure)):
        pinned = {group: ((found, 1.0),) for group, (found, _) in zip(unsure, choice, strict=True)}
        weights.append(math.prod(chance for _, chance in choice))
        genotypes.append(replace(genotype, groups={**genotype.groups, **pinned}))
    return SireStates(np.array(weights), tuple(genotypes))


def _deviation(
    clutch: ClutchForecast, value: HatchlingValue, young: Array, per_egg: float, per_young: float
) -> float:
    """Return the standard deviation of a pair's money, uncertain parents included.

    Income is a sum over a random number K of young that share their parents, less the cost of the
    eggs laid, of which a share hatches: Var = E[K] s2 + Var(K) m2 - 2 c m Cov(E, K) + c2 Var(E),
    averaged over what the parents may be, plus the variance of the means (law of total variance).
    """
    counts = np.arange(young.size)
    mean = float(young @ counts)
    spread = float(young @ counts**2) - mean**2
    eggs = np.arange(clutch.eggs_pmf.size)
    laid = clutch.goes * clutch.eggs
    laid_spread = clutch.goes * float(clutch.eggs_pmf @ eggs**2) - laid**2
    hatch = clutch.fertile * clutch.hatched
    total, squares, means = 0.0, 0.0, 0.0
    for case in value.cases:
        each = case.mean - per_young
        own = case.square - case.mean**2
        total += case.weight * (
            mean * own + spread * each**2 - 2 * per_egg * each * hatch * laid_spread
        )
        squares += case.weight * (mean * each) ** 2
        means += case.weight * mean * each
    total += per_egg**2 * laid_spread + squares - means**2
    return math.sqrt(max(total, 0.0))
