"""Hatchlings of one pair, drawn: what each is, what it sells for, and under which wish.

The linkage groups of a pair are joined into blocks of a few thousand joint outcomes, so that a
hatchling takes one random number a block. What the parents are in the season of a hatchling picks
the odds it is drawn from; nothing is averaged.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.price_lines import MALE
from brumal.forecast.sale import draw_sales
from brumal.forecast.value import PriceList, Reduced, price_list, reduced
from brumal.genetics.crosses.cross import young_of
from brumal.genetics.crosses.meiosis import sex_of
from brumal.genetics.genotypes import SEX_GROUP, SEX_LOCUS, AllelePair, Diplotype
from brumal.genetics.lethal import living
from brumal.genetics.looks import NORMAL, pair_at, shown_pair
from brumal.genetics.masks import Scene, Veil, scene_of_marks
from brumal.genetics.notation.naming import look_name
from brumal.pipeline import Prepared
from brumal.planner.pairs.candidate import Luck
from brumal.planner.risk.clutch_draws import ClutchDraws
from brumal.planner.risk.parent_draws import Floats, ParentDraws, Places
from brumal.planner.wishes.terms import Counted
from brumal.records.animals import Sex
from brumal.records.settings import Costs

MOST_CELLS = 4096
"""Joint outcomes of the groups in a block, times what the parents may be."""
MOST_TABLED = 1 << 20

Shown = tuple[tuple[str, AllelePair], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Hatchlings:
    """The young of one pair in all seasons.

    ``season`` and ``kind`` hold for each hatchling the number of its season and the place of what
    it is, ``brings`` how many times its value comes in (0: it finds no buyer). The other fields go
    by kind: ``entry`` is the price it sells under (0: the base price), ``male`` its sex, ``value``
    its price in full, ``look`` its look (none: not asked for), and ``fits``, shape (entries,
    kinds), says whether it satisfies an entry.
    """

    season: Places
    kind: Places
    brings: Floats
    entry: Places
    male: NDArray[np.bool_]
    value: Floats
    look: tuple[str, ...]
    fits: NDArray[np.bool_]

    def count(self, kinds: NDArray[np.bool_], seasons: int) -> Places:
        """Return how many hatchlings of the marked kinds each season has."""
        if not kinds.any():
            return np.zeros(seasons, dtype=np.intp)
        # Indexing with the same arrays would take half as long again.
        return np.bincount(self.season.compress(kinds.take(self.kind)), minlength=seasons)

    def counted(self, counted: Counted, seasons: int) -> Places:
        """Return how many hatchlings a wish counts in each season."""
        kinds = np.isin(self.entry, counted.entries)
        if len(counted.sexes) == 1:
            kinds &= self.male == (MALE in counted.sexes)
        return self.count(kinds, seasons)


@dataclass(frozen=True, slots=True, eq=False)
class _Block:
    """Some linkage groups joined.

    ``odds`` has shape (what the parents may be, outcomes), ``worth`` (entries, outcomes); ``male``,
    ``shown`` and ``marks`` (the masks made, as bits) go by outcome, ``state`` is what the parents
    are in each season. ``parts`` are the groups, each with its outcomes.
    """

    odds: Floats
    worth: Floats
    male: NDArray[np.bool_]
    shown: tuple[Shown, ...]
    marks: Places
    state: Places
    parts: tuple[_Part, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """One linkage group: what each outcome is worth in the open and under each veil."""

    group: str
    worth: Floats
    under: Mapping[Veil, Floats]


def whole_prices(prepared: Prepared) -> PriceList:
    """Return the keeper's prices, nothing taken out of them."""
    return price_list(
        prepared.values,
        prepared.sold,
        prepared.catalogue,
        whole=True,
        harmed=prepared.harmed_groups,
    )


def takings(costs: Costs, terms: Sequence[Counted], clutch: ClutchDraws, young: Hatchlings) -> Luck:
    """Return what a drawn pair brings in each season: full prices less costs, counted young."""
    seasons = clutch.hatched.size
    money = np.zeros(seasons)
    money += np.bincount(young.season, young.value[young.kind] * young.brings, minlength=seasons)
    money -= costs.pairing + costs.egg * clutch.eggs + costs.hatchling * clutch.hatched
    counts = {}
    for number, counted in enumerate(terms):
        count = young.counted(counted, seasons)
        if count.any():
            counts[number] = count.astype(np.int16)
    return Luck(money, counts)


def draw_young(
    prepared: Prepared,
    prices: PriceList,
    parents: ParentDraws,
    pair: tuple[str, str],
    counts: Places,
    rng: np.random.Generator,
    looks: bool = True,
) -> Hatchlings:
    """Draw the hatchlings of a pair; ``counts`` is how many hatch in each season.

    ``prices`` must be kept whole (see :class:`brumal.forecast.value.PriceList`). Without ``looks``
    nothing is drawn that prices do not see.
    """
    season = np.repeat(np.arange(counts.size), counts)
    seen = None if looks else {*prices.groups, SEX_GROUP}
    blocks = _blocks(prepared, prices, parents, pair, seen)
    shape = tuple(block.odds.shape[1] for block in blocks)
    drawn = tuple(_draw(block, block.state[season], rng) for block in blocks)
    met, which = _distinct(np.ravel_multi_index(drawn, shape), math.prod(shape))
    outcomes = np.unravel_index(met, shape)
    scenes = _scenes(prepared, blocks, outcomes)
    named = _looks(prepared, blocks, outcomes, scenes) if looks else ()
    worth = _worth(prepared, blocks, outcomes, scenes)
    brings = draw_sales(season.size, prepared.records.settings.sale, rng)
    return _told(blocks, outcomes, worth, (season, which, brings), prices, named)


def _distinct(joint: Places, size: int) -> tuple[Places, Places]:
    """Return the distinct numbers below ``size``, and the place of each in them."""
    if size > MOST_TABLED:
        met, which = np.unique(joint, return_inverse=True)
        return met, which.reshape(-1)
    met = np.flatnonzero(np.bincount(joint, minlength=size))
    place = np.zeros(size, dtype=np.intp)
    place[met] = np.arange(met.size)
    return met, place[joint]


def _told(
    blocks: Sequence[_Block],
    outcomes: Sequence[Places],
    worth: Floats,
    drawn: tuple[Places, Places, Floats],
    prices: PriceList,
    looks: tuple[str, ...],
) -> Hatchlings:
    """Say what each kind is; ``outcomes`` holds a row for each block, kinds going down it.

    ``drawn`` are the season and kind of each hatchling, and how many times its price it brings.
    """
    season, kind, brings = drawn
    male = np.zeros(outcomes[0].size, dtype=bool)
    for block, at in zip(blocks, outcomes, strict=True):
        male |= block.male[at]
    best = np.array(prices.order)[np.argmax(worth[list(prices.order)], axis=0)]
    entries = np.array([line.entry for line in prices.entries], dtype=np.intp)
    return Hatchlings(
        season=season,
        kind=kind,
        brings=brings,
        entry=entries[best],
        male=male,
        value=worth[best, np.arange(best.size)],
        look=looks,
        fits=np.isfinite(worth),
    )


def _scenes(
    prepared: Prepared, blocks: Sequence[_Block], outcomes: Sequence[Places]
) -> list[tuple[Scene, NDArray[np.bool_]]]:
    """Return the scenes in which something is hidden, each with the kinds that are in it."""
    marks = np.zeros(outcomes[0].size, dtype=np.intp)
    for block, at in zip(blocks, outcomes, strict=True):
        marks |= block.marks[at]
    found = [
        (scene_of_marks(pattern, prepared.catalogue), marks == pattern)
        for pattern in np.unique(marks).tolist()
    ]
    return [(scene, kinds) for scene, kinds in found if scene.hidden]


def _worth(
    prepared: Prepared,
    blocks: Sequence[_Block],
    outcomes: Sequence[Places],
    scenes: Sequence[tuple[Scene, NDArray[np.bool_]]],
) -> Floats:
    """Return what each kind is worth under each entry, shape (entries, kinds)."""
    worth = np.zeros((blocks[0].worth.shape[0], outcomes[0].size))
    for block, at in zip(blocks, outcomes, strict=True):
        worth += block.worth[:, at]
    for scene, kinds in scenes:
        hidden = np.zeros((worth.shape[0], int(kinds.sum())))
        for block, at in zip(blocks, outcomes, strict=True):
            sizes = tuple(part.worth.shape[1] for part in block.parts)
            own = np.unravel_index(at[kinds], sizes)
            for part, places in zip(block.parts, own, strict=True):
                veil = scene.veil(prepared.catalogue.groups[part.group].loci)
                hidden += (part.under[veil] if veil else part.worth)[:, places]
        worth[:, kinds] = hidden
    return worth


def _looks(
    prepared: Prepared,
    blocks: Sequence[_Block],
    outcomes: Sequence[Places],
    scenes: Sequence[tuple[Scene, NDArray[np.bool_]]],
) -> tuple[str, ...]:
    """Return the name of each kind's look."""
    shown = [
        [block.shown[n] for n in at.tolist()] for block, at in zip(blocks, outcomes, strict=True)
    ]
    looks = [tuple(itertools.chain(*parts)) for parts in zip(*shown, strict=True)]
    for scene, kinds in scenes:
        for kind in np.flatnonzero(kinds).tolist():
            looks[kind] = tuple(each for each in looks[kind] if each[0] not in scene.hidden)
    trade = prepared.records.settings.notation.combination_names
    return tuple([look_name(look, prepared.catalogue, trade) for look in looks])


def _draw(block: _Block, state: Places, rng: np.random.Generator) -> Places:
    """Return the outcome of each hatchling whose parents are in the given state."""
    states, outcomes = block.odds.shape
    reached = np.cumsum(block.odds, axis=1)
    reached /= reached[:, -1:]
    flat = (reached + np.arange(states)[:, None]).reshape(-1)
    places = _passed(flat, rng.random(state.size) + state, states, outcomes)
    found: Places = np.minimum(places - state * outcomes, outcomes - 1)
    return found


def _passed(steps: Floats, luck: Floats, whole: int, each: int) -> Places:
    """Return how many of the ascending ``steps`` each number from 0 to ``whole`` has reached.

    There are about ``each`` steps between whole numbers. Most numbers fall between two marks of a
    ruler with no step between them, so that one look at the ruler settles them (after Chen & Asau
    1974, from memory); a ruler of halves, quarters ... keeps that exact.
    """
    fine = 1 << (8 * each).bit_length()
    ruler = np.searchsorted(steps, np.arange(whole * fine + 2) / fine, side="right")
    mark = (luck * fine).astype(np.intp)
    found: Places = ruler.take(mark)
    unsure = np.flatnonzero(ruler.take(mark + 1) != found)
    found[unsure] = np.searchsorted(steps, luck[unsure], side="right")
    return found


def _blocks(
    prepared: Prepared,
    prices: PriceList,
    parents: ParentDraws,
    pair: tuple[str, str],
    seen: Collection[str] | None,
) -> list[_Block]:
    """Return the pair's linkage groups joined while the tables stay small, the sex group first.

    Of the groups only those ``seen`` are drawn (``None``: all).
    """
    groups = prepared.cross(*pair).groups
    present = {odds.group for odds in groups}
    beyond = [bits for group, bits in prices.needing.items() if group not in present]
    barred = [entry for entry in range(len(prices.entries)) if any(b >> entry & 1 for b in beyond)]
    blocks: list[_Block] = []
    drawn = [odds for odds in groups if seen is None or odds.group in seen]
    for odds in sorted(drawn, key=lambda odds: (odds.group != SEX_GROUP, odds.group)):
        table = reduced(prices, odds)
        block = _one_group(prepared, parents, pair, table, barred)
        if blocks and blocks[-1].odds.size * block.odds.size <= MOST_CELLS:
            blocks[-1] = _joined(blocks[-1], block)
        else:
            blocks.append(block)
    return blocks


def _one_group(
    prepared: Prepared,
    parents: ParentDraws,
    pair: tuple[str, str],
    table: Reduced,
    barred: Sequence[int],
) -> _Block:
    """Return the odds of one group's outcomes for every pair of diplotypes the parents may have.

    ``barred`` are entries that no young of the pair can satisfy.
    """
    group = table.group
    linkage = prepared.catalogue.groups[group]
    dams, sires = (parents.states[animal, group] for animal in pair)
    outcomes = list(table.place)
    places = list(table.place.values())
    at = {found: n for n, found in enumerate(outcomes)}
    odds = np.zeros((len(dams) * len(sires), len(outcomes)))
    for row, (mother, father) in enumerate((m, f) for m in dams for f in sires):
        young = young_of(mother, father, linkage.recombination)
        for found, chance in living(group, young, prepared.catalogue):
            # A combination that kinship rules out may have young of its own; it is never drawn.
            if found in at:
                odds[row, at[found]] += chance
    odds[odds.sum(axis=1) == 0, 0] = 1.0
    dam, sire = (parents.drawn.get((animal, group)) for animal in pair)
    state = (0 if dam is None else dam) * len(sires) + (0 if sire is None else sire)
    part = _Part(
        group,
        _shut(table.outcomes.worth[:, places], barred),
        {veil: _shut(each[:, places], barred) for veil, each in table.outcomes.under.items()},
    )
    return _Block(
        odds=odds,
        worth=part.worth,
        male=np.array([group == SEX_GROUP and sex_of(found) is Sex.MALE for found in outcomes]),
        shown=tuple(_shown(prepared, group, found) for found in outcomes),
        marks=table.outcomes.marks[places],
        state=np.broadcast_to(state, (parents.seasons,)),
        parts=(part,),
    )


def _shut(worth: Floats, barred: Sequence[int]) -> Floats:
    worth[barred] = -np.inf
    return worth


def _shown(prepared: Prepared, group: str, found: Diplotype) -> Shown:
    """Return the locus and allele pair of all that a diplotype shows."""
    looks = (
        (locus, shown_pair(pair_at(found, at), prepared.catalogue))
        for at, locus in enumerate(prepared.catalogue.groups[group].loci)
        if locus != SEX_LOCUS
    )
    return tuple((locus, look) for locus, look in looks if look != NORMAL)


def _joined(one: _Block, two: _Block) -> _Block:
    """Return two blocks as one: every combination of their states and of their outcomes."""
    entries = one.worth.shape[0]
    return _Block(
        odds=np.kron(one.odds, two.odds),
        worth=(one.worth[:, :, None] + two.worth[:, None, :]).reshape(entries, -1),
        male=np.repeat(one.male, two.male.size) | np.tile(two.male, one.male.size),
        shown=tuple(a + b for a, b in itertools.product(one.shown, two.shown)),
        marks=(one.marks[:, None] | two.marks).reshape(-1),
        state=one.state * two.odds.shape[0] + two.state,
        parts=(*one.parts, *two.parts),
    )
