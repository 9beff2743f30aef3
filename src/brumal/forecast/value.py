"""What hatchlings are worth: the price list, and linkage groups as prices see them.

A hatchling is worth the highest total over the wanted entries that it satisfies (the base price is
an entry that asks for nothing), each with the extras of the visuals and hets it does not name.
Because an entry is satisfied locus by locus and extras add up locus by locus, the total of entry
``e`` for a hatchling with outcome ``s_g`` at each linkage group ``g`` is ``sum_g worth_g[e, s_g]``,
with minus infinity where ``s_g`` breaks the entry and the price by sex in the sex group. Under a
look that hides a group (:mod:`brumal.genetics.masks`) what is certain by the parents is still sold,
and hets by their chance: an outcome has a worth in the open and one ``under`` each veil, and bears
``marks`` of the looks that hide others. What an outcome adds under every entry alike (the total of
the base entry, which names nothing) is taken out and only averaged; outcomes that no entry and no
extra tells apart are merged. The totals are joined in :mod:`brumal.forecast.sheets`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.entries import UNMET, Entry, by_sex, taking_order
from brumal.genetics.catalogue.genes import Catalogue, fold
from brumal.genetics.genotypes import (
    SEX_GROUP,
    AllelePair,
    Diplotype,
    GroupOdds,
    Y,
)
from brumal.genetics.lethal import is_harmed, living_cases
from brumal.genetics.masks import Veil, marks_of, possible_under, veils_of
from brumal.genetics.notation.naming import diplotype_pairs, told_genes
from brumal.genetics.wishes import Wish
from brumal.records.settings import Values

Array = NDArray[np.float64]
Tracked = tuple[tuple[int, ...], tuple[int, ...]]
"""Young that are counted: sold under one of these entries, of one of these sexes."""
FEMALE, MALE = 0, 1


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """What the young of some pairs may be at one linkage group, as the price list sees it.

    ``worth[e, s]`` is what outcome ``s`` adds under entry ``e`` beyond what it adds under the base
    entry (minus infinity: entry broken), ``sex[s]`` its sex (all zero outside the sex group) and
    ``reach`` the entries, as bits, that some outcome leaves open. ``marks[s]`` are the masks, as
    bits, whose pairs it has, ``masks`` those of all outcomes; ``under`` is ``worth`` where loci of
    the group are hidden.
    """

    worth: Array
    sex: NDArray[np.intp]
    reach: int
    marks: NDArray[np.intp]
    masks: int
    under: Mapping[Veil, Array]


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """Odds at one linkage group, outcomes that prices cannot tell apart merged.

    ``weights``, shape (states, cases), are the chances of what the parents may be given each state
    of the parents that are followed (one state where none is), and ``odds``, shape (states, cases,
    outcomes), the odds of one young given each. ``place`` is the outcome of each diplotype and
    ``common`` the expected worth of a young under the base entry. ``code`` is equal just where
    outcomes are, and whether they are taken apart by state.
    """

    group: str
    outcomes: Outcomes
    weights: Array
    odds: Array
    place: Mapping[Diplotype, int]
    common: float
    code: int


@dataclass(slots=True, eq=False)
class PriceList:
    """The keeper's prices ready for use; ``entries[0]`` is the base price.

    ``order`` lists the entries as a hatchling worth the same under several takes them.
    ``tracked`` are (entries, sexes) whose young are counted, ``fitting`` entries whose young count
    even when sold under another. ``whole`` keeps what is common to all entries on the sheets, so
    that the moments are those of the whole value. What is worked out once is kept.
    """

    catalogue: Catalogue
    entries: tuple[Entry, ...]
    visual_extra: Mapping[str, float]
    het_extra: Mapping[str, float]
    needing: Mapping[str, int]
    tracked: tuple[Tracked, ...] = ()
    fitting: tuple[int, ...] = ()
    whole: bool = False
    order: tuple[int, ...] = (0,)
    _groups: dict[int, tuple[GroupOdds, Reduced]] = field(default_factory=dict)
    _alike: dict[bytes, Outcomes] = field(default_factory=dict)
    _worths: dict[tuple[str, Diplotype], tuple[Array, int, float]] = field(default_factory=dict)

    @property
    def harmed(self) -> frozenset[str]:
        """Return the linkage groups at which young may be harmed."""
        return frozenset(entry.harmed for entry in self.entries if entry.harmed)

    @property
    def groups(self) -> frozenset[str]:
        """Return the linkage groups that an entry or an extra can see; sex is always one."""
        genes = {*self.visual_extra, *self.het_extra}
        for entry in self.entries:
            genes |= entry.wish.genes if entry.wish else frozenset()
        loci = {self.catalogue.alleles[gene].locus for gene in genes}
        # What hides a priced gene is seen too, and what hides that.
        for mask in reversed(self.catalogue.masks):
            if mask.hides & loci:
                loci.add(mask.locus)
        seen = {group.id for group in self.catalogue.groups.values() if loci & set(group.loci)}
        return frozenset(seen | self.harmed | {SEX_GROUP})


def price_list(
    values: Values,
    wishes: tuple[Wish, ...],
    catalogue: Catalogue,
    tracked: tuple[Tracked, ...] = (),
    fitting: tuple[int, ...] = (),
    whole: bool = False,
    harmed: frozenset[str] = frozenset(),
) -> PriceList:
    """Join the prices of ``season.yaml`` with its wishes, one a wanted entry, in order.

    Young harmed at one of the linkage groups ``harmed`` are worth nothing. That hangs on no single
    group's worth, so such a price list is kept whole.
    """
    entries = [Entry(None, (values.base, values.base))]
    for wanted, wish in zip(values.wanted, wishes, strict=True):
        entries.append(Entry(wish, by_sex(wanted.value)))
    entries += [Entry(None, (0.0, 0.0), group) for group in sorted(harmed)]
    needing: dict[str, int] = {}
    for index, entry in enumerate(entries):
        for group in _groups_needed(entry, catalogue):
            needing[group] = needing.get(group, 0) | (1 << index)
    return PriceList(
        catalogue=catalogue,
        entries=tuple(entries),
        visual_extra=_by_gene(values.extra.visual, catalogue),
        het_extra=_by_gene(values.extra.het, catalogue),
        needing=needing,
        tracked=tracked,
        fitting=fitting,
        whole=whole or bool(harmed),
        order=(*taking_order(values), *range(len(entries) - len(harmed), len(entries))),
    )


def reduced(prices: PriceList, odds: GroupOdds) -> Reduced:
    """Return the odds of one linkage group as prices see them; equal objects give equal ones."""
    seen = prices._groups.get(id(odds))
    if seen is None:
        seen = (odds, reduce_odds(prices, odds))
        prices._groups[id(odds)] = seen
    return seen[1]


def known_worth(prices: PriceList, group: str, found: Diplotype) -> tuple[Array, int, float]:
    """Return what a diplotype adds (see ``_worth``), worked out once."""
    known = prices._worths.get((group, found))
    if known is None:
        known = prices._worths[group, found] = _worth(prices, group, found)
    return known


def reduce_odds(prices: PriceList, odds: GroupOdds) -> Reduced:
    """Return the odds of one linkage group as prices see them, worked out anew."""
    columns: dict[bytes, int] = {}
    worths: list[Array] = []
    sexes: list[int] = []
    marks: list[int] = []
    place: dict[Diplotype, int] = {}
    common: dict[Diplotype, float] = {}
    born = living_cases(odds, prices.catalogue)
    support = tuple(dict.fromkeys(d for case in born for d, _ in case.outcomes))
    veiled = _veiled(prices, odds.group, support)
    for number, found in enumerate(support):
        worth, sex, common[found] = known_worth(prices, odds.group, found)
        worth = np.concatenate([worth, *(rows[number] for rows in veiled.values())])
        mark = marks_of(odds.group, found, prices.catalogue)
        key = worth.tobytes() + repr((sex, mark)).encode()
        place[found] = columns.setdefault(key, len(worths))
        if place[found] == len(worths):
            worths.append(worth)
            sexes.append(sex)
            marks.append(mark)
    cases: dict[bytes, tuple[float, Array]] = {}
    expected = 0.0
    for case in born:
        probability = np.zeros(len(worths))
        for found, chance in case.outcomes:
            probability[place[found]] += chance
            expected += case.weight * chance * common[found]
        weight, _ = cases.get(probability.tobytes(), (0.0, probability))
        cases[probability.tobytes()] = (weight + case.weight, probability)
    outcomes = _canonical(
        prices, odds.group, np.array(worths).T.copy(), np.array(sexes), np.array(marks), veiled
    )
    return Reduced(
        group=odds.group,
        outcomes=outcomes,
        weights=np.array([[weight for weight, _ in cases.values()]]),
        odds=np.stack([probability for _, probability in cases.values()])[None],
        place=place,
        common=expected,
        code=2 * id(outcomes),
    )


def _canonical(
    prices: PriceList,
    group: str,
    worth: Array,
    sex: NDArray[np.intp],
    marks: NDArray[np.intp],
    veils: Iterable[Veil],
) -> Outcomes:
    """Return outcomes of this worth, in the open and then under each veil, once."""
    key = content_key(group, worth, sex, marks)
    if key not in prices._alike:
        plain, *under = np.split(worth, worth.shape[0] // len(prices.entries))
        open_ = np.isfinite(plain).any(axis=1)
        reach = sum(1 << index for index in np.flatnonzero(open_).tolist())
        hidden = dict(zip(veils, under, strict=True))
        masks = int(np.bitwise_or.reduce(marks))
        prices._alike[key] = Outcomes(plain, sex, reach, marks, masks, hidden)
    return prices._alike[key]


def content_key(group: str, worth: Array, sex: NDArray[np.intp], marks: NDArray[np.intp]) -> bytes:
    """Return bytes that are equal just for outcomes that say the same of the same group."""
    return repr((group, worth.shape)).encode() + worth.tobytes() + sex.tobytes() + marks.tobytes()


def _veiled(prices: PriceList, group: str, support: Sequence[Diplotype]) -> dict[Veil, list[Array]]:
    """Return what each diplotype that young may have adds under each veil, shape (entries,)."""
    pairs = [diplotype_pairs(group, found, prices.catalogue) for found in support]
    return {
        veil: [
            _worth_of(prices, group, found, own, possible_under(veil, pairs))
            - known_worth(prices, group, found)[2]
            for found, own in zip(support, pairs, strict=True)
        ]
        for veil in veils_of(group, prices.catalogue)
    }


def _groups_needed(entry: Entry, catalogue: Catalogue) -> frozenset[str]:
    """Return the linkage groups that an entry asks something of."""
    if entry.wish is None:
        return frozenset({entry.harmed} if entry.harmed else ())
    loci = {need.locus for need in entry.wish.needs}
    return frozenset(group.id for group in catalogue.groups.values() if loci & set(group.loci))


def _worth(prices: PriceList, group: str, found: Diplotype) -> tuple[Array, int, float]:
    """Return what a diplotype adds under each entry beyond the base entry, its sex, and the base.

    The first has shape (entries,). A price list kept whole counts the base with the entries.
    """
    pairs = diplotype_pairs(group, found, prices.catalogue)
    worth = _worth_of(prices, group, found, pairs, {})
    sex = MALE if group == SEX_GROUP and Y in (found[0][0], found[1][0]) else FEMALE
    if prices.whole:
        return worth, sex, 0.0
    return worth - worth[0], sex, float(worth[0])


def _worth_of(
    prices: PriceList,
    group: str,
    found: Diplotype,
    pairs: Mapping[str, AllelePair],
    hidden: Mapping[str, frozenset[AllelePair]],
) -> Array:
    """Return what a diplotype adds under each entry, shape (entries,).

    ``hidden`` holds what young may have at each locus that nobody can see.
    """
    extras = _extras(prices, pairs, hidden)
    sex = MALE if group == SEX_GROUP and Y in (found[0][0], found[1][0]) else FEMALE
    worth = np.zeros(len(prices.entries))
    harmed = group in prices.harmed and is_harmed(group, found, prices.catalogue)
    for index, entry in enumerate(prices.entries):
        wish = entry.wish
        if entry.harmed:
            worth[index] = 0.0 if harmed or entry.harmed != group else UNMET
            continue
        if harmed or (
            wish
            and not all(
                need.told(pairs[need.locus], hidden.get(need.locus))
                for need in wish.needs
                if need.locus in pairs
            )
        ):
            worth[index] = UNMET
            continue
        named = wish.genes if wish else frozenset()
        worth[index] = sum(money for gene, money in extras if gene not in named)
        if group == SEX_GROUP:
            worth[index] += entry.value[sex]
    return worth


def _by_gene(extras: Mapping[str, float], catalogue: Catalogue) -> dict[str, float]:
    """Key extras by canonical gene name, whatever spelling the keeper used."""
    return {catalogue.names.get(fold(gene), gene): money for gene, money in extras.items()}


def _extras(
    prices: PriceList,
    pairs: Mapping[str, AllelePair],
    hidden: Mapping[str, frozenset[AllelePair]],
) -> list[tuple[str, float]]:
    """Return (gene, money) of each visual and each het that has an extra price."""
    found: list[tuple[str, float]] = []
    for locus, pair in pairs.items():
        shown = told_genes(pair, hidden.get(locus), prices.catalogue, locus)
        found += [(g, prices.visual_extra[g]) for g in shown.visuals if g in prices.visual_extra]
        found += [(g, prices.het_extra[g]) for g in shown.hets if g in prices.het_extra]
    return found
