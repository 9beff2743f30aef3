"""What the young of a pair are worth: exact expectation over their genotypes.

A hatchling is worth the highest total over the wanted entries that it satisfies (the base price is
an entry that asks for nothing), each with the extras of the visuals and hets it does not name.
Because an entry is satisfied locus by locus and extras add up locus by locus, the total of entry
``e`` for a hatchling with outcome ``s_g`` at each linkage group ``g`` is
``value_e + sum_g worth_g[e, s_g]``, with minus infinity where ``s_g`` breaks the entry. The best
entry is then a maximum over one small tensor a pair, and nothing is truncated: outcomes are merged
only where every entry and every extra sees them alike.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.genetics.catalogue import Catalogue, fold
from brumal.genetics.genotypes import (
    SEX_GROUP,
    WILD,
    AllelePair,
    Diplotype,
    GroupOdds,
    Offspring,
    Y,
)
from brumal.genetics.naming import diplotype_pairs, visuals_and_hets
from brumal.genetics.wishes import Wish
from brumal.records.settings import BySex, Values

Array = NDArray[np.float64]
FEMALE, MALE = 0, 1
_UNMET = -np.inf


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the price list: by-sex value (female, male) and the wish it asks for."""

    wish: Wish | None
    value: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Reduced:
    """One linkage group as the price list sees it, outcomes that it cannot tell apart merged.

    ``worth[e, s]`` is what outcome ``s`` adds under entry ``e`` (minus infinity: entry broken);
    ``sex[s]`` is the sex of outcome ``s`` (all zero outside the sex group); ``cases`` pairs each
    weight with the probabilities of the outcomes, shape (outcomes,).
    """

    worth: Array
    sex: NDArray[np.intp]
    cases: tuple[tuple[float, Array], ...]


@dataclass(frozen=True, slots=True)
class HatchlingCase:
    """Value of one hatchling, given what the parents are.

    ``mean`` and ``square`` are the first two moments of its value; ``taken[e, sex]`` is the chance
    that it is of that sex and sold under entry ``e`` (entry 0 is the base price), and
    ``fits[e]`` the chance that it satisfies entry ``e`` whether or not that is its best one.
    """

    weight: float
    mean: float
    square: float
    taken: Array
    fits: Array


@dataclass(frozen=True, slots=True)
class HatchlingValue:
    """Value of one hatchling of a pair, as a mixture over what the parents may be."""

    cases: tuple[HatchlingCase, ...]

    @property
    def mean(self) -> float:
        """Expected value of one hatchling, in money."""
        return float(sum(case.weight * case.mean for case in self.cases))


@dataclass(slots=True)
class PriceList:
    """The keeper's prices ready for use; ``entries[0]`` is the base price.

    Groups and pairs already seen are kept, since crosses share their ``GroupOdds`` objects and
    many pairs differ only where no price looks.
    """

    catalogue: Catalogue
    entries: tuple[Entry, ...]
    visual_extra: Mapping[str, float]
    het_extra: Mapping[str, float]
    _groups: dict[int, tuple[GroupOdds, Reduced]] = field(default_factory=dict)
    _alike: dict[bytes, Reduced] = field(default_factory=dict)
    _pairs: dict[tuple[int, ...], HatchlingValue] = field(default_factory=dict)

    @property
    def groups(self) -> frozenset[str]:
        """Return the linkage groups that an entry or an extra can see; sex is always one."""
        genes = {*self.visual_extra, *self.het_extra}
        for entry in self.entries:
            genes |= entry.wish.genes if entry.wish else frozenset()
        loci = {self.catalogue.alleles[gene].locus for gene in genes}
        seen = {group.id for group in self.catalogue.groups.values() if loci & set(group.loci)}
        return frozenset(seen | {SEX_GROUP})


def price_list(values: Values, wishes: tuple[Wish, ...], catalogue: Catalogue) -> PriceList:
    """Join the prices of ``season.yaml`` with its wishes, one a wanted entry, in order."""
    entries = [Entry(None, (values.base, values.base))]
    for wanted, wish in zip(values.wanted, wishes, strict=True):
        entries.append(Entry(wish, by_sex(wanted.value)))
    return PriceList(
        catalogue=catalogue,
        entries=tuple(entries),
        visual_extra=_by_gene(values.extra.visual, catalogue),
        het_extra=_by_gene(values.extra.het, catalogue),
    )


def _by_gene(extras: Mapping[str, float], catalogue: Catalogue) -> dict[str, float]:
    """Key extras by canonical gene name, whatever spelling the keeper used."""
    return {catalogue.names.get(fold(gene), gene): money for gene, money in extras.items()}


def by_sex(value: float | BySex) -> tuple[float, float]:
    """Return a value as (female, male); a sex the keeper leaves out cannot be sold so."""
    if isinstance(value, BySex):
        return (
            _UNMET if value.female is None else value.female,
            _UNMET if value.male is None else value.male,
        )
    return (value, value)


def hatchling_value(prices: PriceList, offspring: Offspring) -> HatchlingValue:
    """Return the value of one hatchling of this pair, exactly."""
    tables = [_reduced(prices, odds) for odds in offspring.groups]
    sexed = next(i for i, odds in enumerate(offspring.groups) if odds.group == SEX_GROUP)
    tables.insert(0, tables.pop(sexed))
    present = frozenset(odds.group for odds in offspring.groups)
    absent = tuple(not _needs(entry, prices.catalogue) <= present for entry in prices.entries)
    key = (*absent, *sorted(id(table) for table in tables))
    if key not in prices._pairs:
        prices._pairs[key] = _value(tables, np.where(absent, _UNMET, 0.0))
    return prices._pairs[key]


def _value(tables: list[Reduced], absent: Array) -> HatchlingValue:
    """Join the groups' tables, the sex group first; ``absent`` breaks entries out of reach."""
    totals = absent[:, None]
    for table in tables:
        totals = (totals[:, :, None] + table.worth[:, None, :]).reshape(absent.size, -1)
    best = np.argmax(totals, axis=0)
    value = np.take_along_axis(totals, best[None, :], axis=0)[0]
    sex = np.repeat(tables[0].sex, value.size // tables[0].sex.size)
    met = np.isfinite(totals)
    cases = [
        _case(weight, probability, value, best, sex, met)
        for weight, probability in _joint_cases(tables)
    ]
    return HatchlingValue(tuple(cases))


def _case(
    weight: float,
    probability: Array,
    value: Array,
    best: NDArray[np.intp],
    sex: NDArray[np.intp],
    met: NDArray[np.bool_],
) -> HatchlingCase:
    taken = np.zeros(met.shape[0] * 2)
    np.add.at(taken, best * 2 + sex, probability)
    weighted = probability * value
    return HatchlingCase(
        weight=weight,
        mean=float(weighted.sum()),
        square=float(weighted @ value),
        taken=taken.reshape(-1, 2),
        fits=met @ probability,
    )


def _joint_cases(tables: list[Reduced]) -> list[tuple[float, Array]]:
    """Every combination of the groups' cases with its joint outcome probabilities, flattened."""
    cases = []
    for chosen in itertools.product(*(table.cases for table in tables)):
        weight, joint = 1.0, np.ones(1)
        for case_weight, probability in chosen:
            weight *= case_weight
            joint = np.multiply.outer(joint, probability).reshape(-1)
        cases.append((weight, joint))
    return cases


def _needs(entry: Entry, catalogue: Catalogue) -> frozenset[str]:
    """Return the linkage groups that an entry asks something of."""
    if entry.wish is None:
        return frozenset()
    loci = {need.locus for need in entry.wish.needs}
    return frozenset(group.id for group in catalogue.groups.values() if loci & set(group.loci))


def _reduced(prices: PriceList, odds: GroupOdds) -> Reduced:
    seen = prices._groups.get(id(odds))
    if seen is None:
        table = _reduce(prices, odds)
        seen = (odds, prices._alike.setdefault(_print(table), table))
        prices._groups[id(odds)] = seen
    return seen[1]


def _print(table: Reduced) -> bytes:
    """Return bytes that are equal just for tables that say the same."""
    cases = [np.array([weight, *probability]).tobytes() for weight, probability in table.cases]
    shape = np.array([*table.worth.shape, len(cases)]).tobytes()
    return b"".join([shape, table.worth.tobytes(), table.sex.tobytes(), *cases])


def _reduce(prices: PriceList, odds: GroupOdds) -> Reduced:
    columns: dict[bytes, int] = {}
    worths: list[Array] = []
    sexes: list[int] = []
    place: dict[Diplotype, int] = {}
    for found in dict.fromkeys(d for case in odds.cases for d, _ in case.outcomes):
        worth, sex = _worth(prices, odds.group, found)
        place[found] = columns.setdefault(worth.tobytes() + bytes([sex]), len(worths))
        if place[found] == len(worths):
            worths.append(worth)
            sexes.append(sex)
    cases: dict[bytes, tuple[float, Array]] = {}
    for case in odds.cases:
        probability = np.zeros(len(worths))
        for found, chance in case.outcomes:
            probability[place[found]] += chance
        weight, _ = cases.get(probability.tobytes(), (0.0, probability))
        cases[probability.tobytes()] = (weight + case.weight, probability)
    return Reduced(np.array(worths).T.copy(), np.array(sexes, dtype=np.intp), tuple(cases.values()))


def _worth(prices: PriceList, group: str, found: Diplotype) -> tuple[Array, int]:
    """Return what this diplotype adds under each entry (shape (entries,)) and its sex."""
    pairs = diplotype_pairs(group, found, prices.catalogue)
    extras = _extras(prices, pairs)
    sex = MALE if group == SEX_GROUP and Y in (found[0][0], found[1][0]) else FEMALE
    worth = np.zeros(len(prices.entries))
    for index, entry in enumerate(prices.entries):
        wish = entry.wish
        if wish and not all(
            need.satisfied(pairs.get(need.locus, (WILD, WILD)))
            for need in wish.needs
            if need.locus in pairs
        ):
            worth[index] = _UNMET
            continue
        named = wish.genes if wish else frozenset()
        worth[index] = sum(money for gene, money in extras if gene not in named)
        if group == SEX_GROUP:
            worth[index] += entry.value[sex]
    return worth, sex


def _extras(prices: PriceList, pairs: Mapping[str, AllelePair]) -> list[tuple[str, float]]:
    """Return (gene, money) of each visual and each het that has an extra price."""
    found: list[tuple[str, float]] = []
    for locus, pair in pairs.items():
        shown = visuals_and_hets(pair, prices.catalogue, locus)
        found += [(g, prices.visual_extra[g]) for g in shown.visuals if g in prices.visual_extra]
        found += [(g, prices.het_extra[g]) for g in shown.hets if g in prices.het_extra]
    return found
