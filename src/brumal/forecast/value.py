"""What hatchlings are worth: the price list, and linkage groups as prices see them.

A hatchling is worth the highest total over the wanted entries that it satisfies (the base price is
an entry that asks for nothing), each with the extras of the visuals and hets it does not name.
Because an entry is satisfied locus by locus and extras add up locus by locus, the total of entry
``e`` for a hatchling with outcome ``s_g`` at each linkage group ``g`` is
``sum_g worth_g[e, s_g]``, with minus infinity where ``s_g`` breaks the entry and the price by sex
in the sex group. What an outcome adds under every entry alike (the total of the base entry,
which names nothing) is taken out and only averaged; outcomes that no entry and no extra tells apart
are merged. The totals are joined in :mod:`brumal.forecast.sheets`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.het_labels import Labels, Levels, Told, told_of
from brumal.forecast.price_lines import FEMALE, MALE, Line, line_worths, lines_of
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import (
    SEX_GROUP,
    Belief,
    Case,
    Diplotype,
    GroupOdds,
    Y,
)
from brumal.genetics.wishes import Wish
from brumal.records.settings import Values

Array = NDArray[np.float64]
Tracked = tuple[tuple[int, ...], tuple[int, ...]]
"""Young that are counted: sold under one of these entries, of one of these sexes."""


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """What the young of some pairs may be at one linkage group, as the price list sees it.

    ``worth[e, s]`` is what outcome ``s`` adds under entry ``e`` beyond what it adds under the base
    entry (minus infinity: entry broken), ``sex[s]`` its sex (all zero outside the sex group) and
    ``reach`` the entries, as bits, that some outcome leaves open.
    """

    worth: Array
    sex: NDArray[np.intp]
    reach: int


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """Odds at one linkage group, outcomes that prices cannot tell apart merged.

    ``weights``, shape (states, cases), are the chances of what the parents may be given each state
    of the parents that are followed (one state where none is), and ``odds``, shape (states, cases,
    outcomes), the odds of one young given each. ``place`` is the outcome of each diplotype and
    ``common`` the expected worth of a young under the base entry. ``code`` is equal just where
    outcomes are, and whether they are taken apart by state. ``told`` has the labels of what the
    young may carry unseen, where they are sold by labels.
    """

    group: str
    outcomes: Outcomes
    weights: Array
    odds: Array
    place: Mapping[Diplotype, int]
    common: float
    code: int
    told: Told


@dataclass(slots=True, eq=False)
class PriceList:
    """The keeper's prices ready for use; ``entries[0]`` is the base price.

    ``entries`` are the lines of :mod:`brumal.forecast.price_lines`. ``order`` lists those that are
    sold under as a hatchling worth the same under several takes them.
    ``tracked`` are (entries, sexes) whose young are counted, ``fitting`` entries whose young count
    even when sold under another. ``whole`` keeps what is common to all entries on the sheets, so
    that the moments are those of the whole value. What is worked out once is kept.
    """

    catalogue: Catalogue
    entries: tuple[Line, ...]
    labels: Labels | None
    needing: Mapping[str, int]
    tracked: tuple[Tracked, ...] = ()
    fitting: tuple[int, ...] = ()
    whole: bool = False
    order: tuple[int, ...] = (0,)
    _groups: dict[int, tuple[GroupOdds, Reduced]] = field(default_factory=dict)
    _alike: dict[bytes, Outcomes] = field(default_factory=dict)
    _worths: dict[tuple[str, Diplotype, Levels], tuple[Array, int, float]] = field(
        default_factory=dict
    )

    @property
    def groups(self) -> frozenset[str]:
        """Return the linkage groups that an entry or an extra can see; sex is always one."""
        genes: set[str] = set()
        for line in self.entries:
            genes |= {*line.genes, *line.visual, *line.het}
        loci = {self.catalogue.alleles[gene].locus for gene in genes}
        seen = {group.id for group in self.catalogue.groups.values() if loci & set(group.loci)}
        return frozenset(seen | {SEX_GROUP})


def price_list(
    values: Values,
    wishes: tuple[Wish, ...],
    catalogue: Catalogue,
    tracked: tuple[Tracked, ...] = (),
    fitting: tuple[int, ...] = (),
    whole: bool = False,
) -> PriceList:
    """Join the prices of ``season.yaml`` with its wishes: wanted entries, then combinations.

    ``tracked`` and ``fitting`` name wanted entries by their number, the base price being 0.
    """
    lines = lines_of(values, wishes, catalogue)
    needing: dict[str, int] = {}
    for index, line in enumerate(lines.lines):
        for group in _groups_needed(line, catalogue):
            needing[group] = needing.get(group, 0) | (1 << index)
    return PriceList(
        catalogue=catalogue,
        entries=lines.lines,
        labels=lines.labels,
        needing=needing,
        tracked=tuple((lines.sold_as(entries), sexes) for entries, sexes in tracked),
        fitting=fitting,
        whole=whole,
        order=lines.order,
    )


def told_labels(
    prices: PriceList, group: str, young: Sequence[Sequence[Belief | None]], chances: Array
) -> Iterator[tuple[NDArray[np.intp], Told]]:
    """Yield parents, as rows of ``chances``, whose young are sold by the same labels, with these.

    See :func:`brumal.forecast.het_labels.told_of`; all rows at once where none are sold so.
    """
    if not _by_label(prices, group):
        yield np.arange(len(chances)), {}
    else:
        assert prices.labels is not None
        yield from told_of(prices.labels, group, young, chances, prices.catalogue)


def _by_label(prices: PriceList, group: str) -> bool:
    return prices.labels is not None and group in prices.labels.hidden


def reduced(prices: PriceList, odds: GroupOdds) -> Reduced:
    """Return the odds of one linkage group as prices see them; equal objects give equal ones."""
    seen = prices._groups.get(id(odds))
    if seen is None:
        seen = (odds, _reduce(prices, odds, _labelled(prices, odds)))
        prices._groups[id(odds)] = seen
    return seen[1]


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
        """Return the expected worth under the base entry, by the chances of the parents."""
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
    base = _reduce(prices, GroupOdds(group, cases), told)
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
                common[both] = sum([p * _known(prices, group, found, told)[2] for found, p in odds])
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
    worths = [chance * _known(prices, odds.group, found, odds.told)[2] for found, chance in alike]
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


def _known(prices: PriceList, group: str, found: Diplotype, told: Told) -> tuple[Array, int, float]:
    levels = told.get(found, ())
    known = prices._worths.get((group, found, levels))
    if known is None:
        known = prices._worths[group, found, levels] = _worth(prices, group, found, levels)
    return known


def _labelled(prices: PriceList, odds: GroupOdds) -> Told:
    """Return the labels of the young of one pair."""
    young = [[case.outcomes for case in odds.cases]]
    weights = np.array([[[case.weight for case in odds.cases]]])
    ((_, told),) = told_labels(prices, odds.group, young, weights)
    return told


def _reduce(prices: PriceList, odds: GroupOdds, told: Told) -> Reduced:
    columns: dict[bytes, int] = {}
    worths: list[Array] = []
    sexes: list[int] = []
    place: dict[Diplotype, int] = {}
    common: dict[Diplotype, float] = {}
    for found in dict.fromkeys(d for case in odds.cases for d, _ in case.outcomes):
        worth, sex, common[found] = _known(prices, odds.group, found, told)
        place[found] = columns.setdefault(worth.tobytes() + bytes([sex]), len(worths))
        if place[found] == len(worths):
            worths.append(worth)
            sexes.append(sex)
    cases: dict[bytes, tuple[float, Array]] = {}
    expected = 0.0
    for case in odds.cases:
        probability = np.zeros(len(worths))
        for found, chance in case.outcomes:
            probability[place[found]] += chance
            expected += case.weight * chance * common[found]
        weight, _ = cases.get(probability.tobytes(), (0.0, probability))
        cases[probability.tobytes()] = (weight + case.weight, probability)
    outcomes = _canonical(prices, odds.group, np.array(worths).T.copy(), np.array(sexes))
    return Reduced(
        group=odds.group,
        outcomes=outcomes,
        weights=np.array([[weight for weight, _ in cases.values()]]),
        odds=np.stack([probability for _, probability in cases.values()])[None],
        place=place,
        common=expected,
        code=2 * id(outcomes),
        told=told,
    )


def _canonical(prices: PriceList, group: str, worth: Array, sex: NDArray[np.intp]) -> Outcomes:
    open_ = np.isfinite(worth).any(axis=1)
    reach = sum(1 << index for index in np.flatnonzero(open_).tolist())
    return prices._alike.setdefault(content_key(group, worth, sex), Outcomes(worth, sex, reach))


def content_key(group: str, worth: Array, sex: NDArray[np.intp]) -> bytes:
    """Return bytes that are equal just for outcomes that say the same of the same group."""
    return repr((group, worth.shape)).encode() + worth.tobytes() + sex.tobytes()


def _groups_needed(line: Line, catalogue: Catalogue) -> frozenset[str]:
    """Return the linkage groups that a line asks something of."""
    loci = {need.locus for need in line.needs}
    return frozenset(group.id for group in catalogue.groups.values() if loci & set(group.loci))


def _worth(
    prices: PriceList, group: str, found: Diplotype, levels: Levels
) -> tuple[Array, int, float]:
    """Return what a diplotype adds under each entry beyond the base entry, its sex, and the base.

    The first has shape (entries,). A price list kept whole counts the base with the entries.
    """
    sex = MALE if group == SEX_GROUP and Y in (found[0][0], found[1][0]) else FEMALE
    worth = line_worths(prices.entries, prices.labels, prices.catalogue, (group, found), levels)
    if group == SEX_GROUP:
        worth += [line.value[sex] for line in prices.entries]
    if prices.whole:
        return worth, sex, 0.0
    return worth - worth[0], sex, float(worth[0])
