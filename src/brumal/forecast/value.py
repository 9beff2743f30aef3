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

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.het_labels import Labels, Levels, Told, told_of
from brumal.forecast.price_lines import FEMALE, MALE, Line, Sight, line_worths, lines_of
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import (
    SEX_GROUP,
    Belief,
    Diplotype,
    GroupOdds,
    Y,
)
from brumal.genetics.lethal import is_harmed, living_cases
from brumal.genetics.masks import Veil, marks_of, possible_under, veils_of
from brumal.genetics.notation.naming import diplotype_pairs
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
    def harmed(self) -> frozenset[str]:
        """Return the linkage groups at which young may be harmed."""
        return frozenset(line.harmed for line in self.entries if line.harmed)

    @property
    def groups(self) -> frozenset[str]:
        """Return the linkage groups that an entry or an extra can see; sex is always one."""
        genes: set[str] = set()
        for line in self.entries:
            genes |= {*line.genes, *line.visual, *line.het}
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
    """Join the prices of ``season.yaml`` with its wishes: wanted entries, then combinations.

    ``tracked`` and ``fitting`` name wanted entries by their number, the base price being 0. Young
    harmed at one of the linkage groups ``harmed`` are worth nothing. That hangs on no single
    group's worth, so such a price list is kept whole.
    """
    lines = lines_of(values, wishes, catalogue, harmed)
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
        whole=whole or bool(harmed),
        order=lines.order,
    )


def told_labels(
    prices: PriceList, group: str, young: Sequence[Sequence[Belief | None]], chances: Array
) -> Iterator[tuple[NDArray[np.intp], Told]]:
    """Yield parents, as rows of ``chances``, whose young are sold by the same labels, with these.

    See :func:`brumal.forecast.het_labels.told_of`; all rows at once where none are sold so.
    """
    if prices.labels is None or group not in prices.labels.hidden:
        yield np.arange(len(chances)), {}
    else:
        yield from told_of(prices.labels, group, young, chances, prices.catalogue)


def reduced(prices: PriceList, odds: GroupOdds) -> Reduced:
    """Return the odds of one linkage group as prices see them; equal objects give equal ones."""
    seen = prices._groups.get(id(odds))
    if seen is None:
        seen = (odds, reduce_odds(prices, odds, _labelled(prices, odds)))
        prices._groups[id(odds)] = seen
    return seen[1]


def known_worth(
    prices: PriceList, group: str, found: Diplotype, told: Told
) -> tuple[Array, int, float]:
    """Return what a diplotype of young labelled so adds (see ``_worth``), worked out once."""
    levels = told.get(found, ())
    known = prices._worths.get((group, found, levels))
    if known is None:
        known = prices._worths[group, found, levels] = _worth(prices, group, found, levels)
    return known


def _labelled(prices: PriceList, odds: GroupOdds) -> Told:
    """Return the labels of the young of one pair."""
    born = living_cases(odds, prices.catalogue)
    weights = np.array([[[case.weight for case in born]]])
    ((_, told),) = told_labels(prices, odds.group, [[case.outcomes for case in born]], weights)
    return told


def reduce_odds(prices: PriceList, odds: GroupOdds, told: Told) -> Reduced:
    """Return the odds of one linkage group as prices see them, worked out anew."""
    columns: dict[bytes, int] = {}
    worths: list[Array] = []
    sexes: list[int] = []
    marks: list[int] = []
    place: dict[Diplotype, int] = {}
    common: dict[Diplotype, float] = {}
    born = living_cases(odds, prices.catalogue)
    support = tuple(dict.fromkeys(d for case in born for d, _ in case.outcomes))
    veiled = _veiled(prices, odds.group, support, told)
    for number, found in enumerate(support):
        worth, sex, common[found] = known_worth(prices, odds.group, found, told)
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
        told=told,
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
        open_ = np.isfinite([plain, *under]).any(axis=(0, 2))
        reach = sum(1 << index for index in np.flatnonzero(open_).tolist())
        hidden = dict(zip(veils, under, strict=True))
        masks = int(np.bitwise_or.reduce(marks))
        prices._alike[key] = Outcomes(plain, sex, reach, marks, masks, hidden)
    return prices._alike[key]


def content_key(group: str, worth: Array, sex: NDArray[np.intp], marks: NDArray[np.intp]) -> bytes:
    """Return bytes that are equal just for outcomes that say the same of the same group."""
    return repr((group, worth.shape)).encode() + worth.tobytes() + sex.tobytes() + marks.tobytes()


def _veiled(
    prices: PriceList, group: str, support: Sequence[Diplotype], told: Told
) -> dict[Veil, list[Array]]:
    """Return what each diplotype that young may have adds under each veil, shape (entries,)."""
    pairs = [diplotype_pairs(group, found, prices.catalogue) for found in support]
    return {
        veil: [
            _worth_of(
                prices,
                group,
                found,
                Sight(_levels_at(told, found, place), possible_under(veil, pairs)),
            )
            - known_worth(prices, group, found, told)[2]
            for found in support
        ]
        for place, veil in enumerate(veils_of(group, prices.catalogue), start=1)
    }


def _levels_at(told: Told, found: Diplotype, place: int) -> tuple[int, ...]:
    """Return the labels of a young in the open (0) or under a veil, by its place."""
    levels = told.get(found)
    return levels[place] if levels else ()


def _groups_needed(line: Line, catalogue: Catalogue) -> frozenset[str]:
    """Return the linkage groups that a line asks something of."""
    if line.harmed:
        return frozenset({line.harmed})
    loci = {need.locus for need in line.needs}
    return frozenset(group.id for group in catalogue.groups.values() if loci & set(group.loci))


def _worth(
    prices: PriceList, group: str, found: Diplotype, levels: Levels
) -> tuple[Array, int, float]:
    """Return what a diplotype adds under each entry beyond the base entry, its sex, and the base.

    The first has shape (entries,). A price list kept whole counts the base with the entries.
    """
    worth = _worth_of(prices, group, found, Sight(levels[0] if levels else (), {}))
    if prices.whole:
        return worth, _sex(group, found), 0.0
    return worth - worth[0], _sex(group, found), float(worth[0])


def _worth_of(prices: PriceList, group: str, found: Diplotype, sight: Sight) -> Array:
    """Return what a diplotype adds under each entry, seen so, shape (entries,)."""
    harmed = group in prices.harmed and is_harmed(group, found, prices.catalogue)
    worth = line_worths(
        prices.entries, prices.labels, prices.catalogue, (group, found, harmed), sight
    )
    if group == SEX_GROUP:
        worth += [line.value[_sex(group, found)] for line in prices.entries]
    return worth


def _sex(group: str, found: Diplotype) -> int:
    return MALE if group == SEX_GROUP and Y in (found[0][0], found[1][0]) else FEMALE
