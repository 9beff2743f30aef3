"""The price list as lines: what each asks for, what it pays, and in which order young take them.

The first lines are the base price and the wanted entries in their order, so that a line's number is
the number of its wish. Where one price falls into several (extras that differ by sex, possible
hets by label), the further lines stand behind, each bearing the number of its wish, and the first
one is not sold under: it only says whether a young is what the wish asks for.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.het_labels import Hidden, Labels, is_hidden, label_shares
from brumal.genetics.catalogue.genes import Catalogue, fold
from brumal.genetics.claims import sorted_pair
from brumal.genetics.genotypes import WILD, AllelePair, Diplotype
from brumal.genetics.notation.naming import diplotype_pairs, told_genes
from brumal.genetics.wishes import Need, Wish
from brumal.records.settings import BySex, Extra, Values

Array = NDArray[np.float64]
FEMALE, MALE = 0, 1
UNMET = -np.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the price list.

    ``value`` is (female, male), minus infinity for a sex that is not sold so; ``visual`` and
    ``het`` are extras by gene. ``entry`` is the wish whose young it counts (0: none). ``levels``
    maps a locus to the label that is asked for there; what is not in it is asked for as it is.
    ``harmed`` is the linkage group of a line that young harmed there take, and no others: they are
    worth nothing, whatever else they show.
    """

    wish: Wish | None
    value: tuple[float, float]
    entry: int = 0
    visual: Mapping[str, float]
    het: Mapping[str, float]
    levels: Mapping[str, int] | None = None
    harmed: str = ""

    @property
    def genes(self) -> frozenset[str]:
        """Return the genes that the line names, for which there is no extra."""
        return self.wish.genes if self.wish else frozenset()

    @property
    def needs(self) -> tuple[Need, ...]:
        """Return what the line asks for, locus by locus."""
        return self.wish.needs if self.wish else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """All lines; ``order`` has those sold under, as a young worth the same under several asks."""

    lines: tuple[Line, ...]
    order: tuple[int, ...]
    labels: Labels | None

    def sold_as(self, entries: Sequence[int]) -> tuple[int, ...]:
        """Return the lines under which young of these wishes are sold."""
        return tuple([n for n in sorted(self.order) if self.lines[n].entry in entries])


def lines_of(
    values: Values,
    wishes: Sequence[Wish],
    catalogue: Catalogue,
    harmed: Collection[str] = (),
) -> Lines:
    """Return the lines of a price list; ``wishes`` are those of wanted entries, then combinations.

    Young that may be het are sold under a line of their own, counted by no wish: what is not sure
    fills no need. So are young harmed at one of the linkage groups ``harmed``, at nothing.
    """
    labels = _labels(values, wishes, catalogue)
    wanted = [wanted.value for wanted in values.wanted]
    prices = [base_by_sex(values), *map(by_sex, (*wanted, *values.combinations.values()))]
    asked: list[Wish | None] = [None, *wishes]
    sexes = _by_sex_extras(values.extra, catalogue)
    lines: list[Line] = []
    behind: list[tuple[int, Line]] = []
    ranked: list[tuple[int, int, int]] = []
    for number, (wish, value) in enumerate(zip(asked, prices, strict=True)):
        entry = number if number <= len(wanted) else 0
        whole = Line(wish=wish, value=value, entry=entry, visual=sexes[0][1], het=sexes[0][2])
        lines.append(whole)
        own = [
            line
            for sold, visual, het in sexes
            for line in _by_label(
                replace(whole, value=_only(value, sold), visual=visual, het=het), labels, catalogue
            )
        ]
        if own == [whole]:
            ranked.append((_rank(values, number), number, number))
        else:
            behind += [(number, line) for line in own]
    for number, line in behind:
        ranked.append((_rank(values, number), number, len(lines)))
        lines.append(line)
    order = [place for *_, place in sorted(ranked)]
    for group in sorted(harmed):
        order.append(len(lines))
        lines.append(Line(wish=None, value=(0.0, 0.0), visual={}, het={}, harmed=group))
    return Lines(lines=tuple(lines), order=tuple(order), labels=labels)


def _rank(values: Values, number: int) -> int:
    """Put entries with holdbacks first and those that fill up last, the base price before them."""
    if number == 0:
        return 2
    if number > len(values.wanted):
        return 1
    wanted = values.wanted[number - 1]
    return 0 if wanted.keep else 1 if wanted.need is None else 3


def by_sex(value: float | BySex) -> tuple[float, float]:
    """Return a value as (female, male); a sex the keeper leaves out cannot be sold so."""
    if isinstance(value, BySex):
        return (
            UNMET if value.female is None else value.female,
            UNMET if value.male is None else value.male,
        )
    return (value, value)


def base_by_sex(values: Values) -> tuple[float, float]:
    """Return the base price as (female, male); a sex left out brings nothing."""
    female, male = by_sex(values.base)
    return max(female, 0.0), max(male, 0.0)


def _only(value: tuple[float, float], sexes: Sequence[int]) -> tuple[float, float]:
    female, male = (value[sex] if sex in sexes else UNMET for sex in (FEMALE, MALE))
    return female, male


_SexExtras = tuple[tuple[int, ...], Mapping[str, float], Mapping[str, float]]


def _by_sex_extras(extra: Extra, catalogue: Catalogue) -> list[_SexExtras]:
    """Return the extras of both sexes, or of each where some differ: (sexes, visual, het)."""
    found = [
        (
            sex,
            _by_gene(extra.visual, catalogue, sex),
            _by_gene(extra.het, catalogue, sex),
        )
        for sex in (FEMALE, MALE)
    ]
    (_, *hers), (_, *his) = found
    if hers == his:
        return [((FEMALE, MALE), found[0][1], found[0][2])]
    return [((sex,), visual, het) for sex, visual, het in found]


def _by_gene(
    extras: Mapping[str, float | BySex], catalogue: Catalogue, sex: int
) -> dict[str, float]:
    """Key extras by canonical gene name, whatever spelling the keeper used."""
    return {
        catalogue.names.get(fold(gene), gene): max(by_sex(money)[sex], 0.0)
        for gene, money in extras.items()
    }


def _labels(values: Values, wishes: Sequence[Wish], catalogue: Catalogue) -> Labels | None:
    """Return the labels of possible hets with all that is sold unseen; ``None``: there are none."""
    shares = label_shares(values.possible_hets)
    if shares is None:
        return None
    genes = [catalogue.names.get(fold(gene), gene) for gene in values.extra.het]
    hets = [het_of(gene, catalogue) for gene in genes]
    hidden = [het for het in hets if any(is_hidden(pair, catalogue) for pair in het.pairs)]
    hidden += [thing for wish in wishes for thing in _hidden_needs(wish, catalogue)]
    found: dict[str, dict[Hidden, None]] = {group: {} for group in catalogue.groups}
    for group in catalogue.groups.values():
        found[group.id] |= {thing: None for thing in hidden if thing.locus in group.loci}
    return Labels(
        least=tuple(shares),
        shares=(0.0, *shares.values()),
        hidden={group: tuple(things) for group, things in found.items() if things},
    )


def het_of(gene: str, catalogue: Catalogue) -> Hidden:
    """Return what a het for a gene carries."""
    locus = catalogue.alleles[gene].locus
    return Hidden(locus=locus, pairs=frozenset({sorted_pair(WILD, gene)}), gene=gene)


def _hidden_needs(wish: Wish, catalogue: Catalogue) -> list[Hidden]:
    return [
        Hidden(locus=need.locus, pairs=need.pairs)
        for need in wish.needs
        if any(is_hidden(pair, catalogue) for pair in need.pairs)
    ]


def _by_label(line: Line, labels: Labels | None, catalogue: Catalogue) -> list[Line]:
    """Split a line that asks for hets by the labels of what is sold: the surest first."""
    hidden = _hidden_needs(line.wish, catalogue) if line.wish and labels else []
    if not hidden or labels is None:
        return [line]
    levels = [level for level in range(labels.sure, 0, -1) if labels.shares[level] > 0]
    found = []
    for asked in itertools.product(levels, repeat=len(hidden)):
        share = float(np.prod([labels.shares[level] for level in asked]))
        female, male = (price * share for price in line.value)
        sure = all(level == labels.sure for level in asked)
        found.append(
            replace(
                line,
                value=(female, male),
                entry=line.entry if sure else 0,
                levels=dict(zip([thing.locus for thing in hidden], asked, strict=True)),
            )
        )
    return found


@dataclass(frozen=True, slots=True)
class Sight:
    """How a young is seen at a linkage group.

    ``levels`` are the labels of what it may carry unseen, none where it is sold by what it is;
    ``hidden`` holds what young may have at each locus that nobody can see.
    """

    levels: tuple[int, ...]
    hidden: Mapping[str, frozenset[AllelePair]]


def line_worths(
    lines: Sequence[Line],
    labels: Labels | None,
    catalogue: Catalogue,
    carried: tuple[str, Diplotype, bool],
    sight: Sight,
) -> Array:
    """Return the extras that a diplotype of a group adds under each line, shape (lines,).

    Minus infinity where it breaks the line. ``carried`` are the group, the diplotype, and whether
    a young that has it is harmed.
    """
    group, found, harmed = carried
    pairs = diplotype_pairs(group, found, catalogue)
    looks = [
        told_genes(pair, sight.hidden.get(locus), catalogue, locus) for locus, pair in pairs.items()
    ]
    visuals = [gene for look in looks for gene in look.visuals]
    told: dict[Hidden, int] = {}
    if labels is None:
        hets = [(gene, 1.0) for look in looks for gene in look.hets]
    else:
        told = dict(zip(labels.hidden.get(group, ()), sight.levels, strict=True))
        hets = [
            (gene, labels.shares[told.get(het_of(gene, catalogue), 0)])
            for gene in lines[0].het
            if catalogue.alleles[gene].locus in pairs
        ]
    worth = np.zeros(len(lines))
    for index, line in enumerate(lines):
        if line.harmed:
            worth[index] = 0.0 if harmed or line.harmed != group else UNMET
            continue
        if harmed or not _is_open(line, pairs, told, sight):
            worth[index] = UNMET
            continue
        named = line.genes
        worth[index] = sum(line.visual.get(gene, 0.0) for gene in visuals if gene not in named)
        worth[index] += sum(line.het.get(g, 0.0) * share for g, share in hets if g not in named)
    return worth


def _is_open(
    line: Line, pairs: Mapping[str, AllelePair], told: Mapping[Hidden, int], sight: Sight
) -> bool:
    """Say whether a young of these allele pairs, labelled so, may be sold under a line."""
    for need in line.needs:
        if need.locus not in pairs:
            continue
        if line.levels and need.locus in line.levels:
            if told[Hidden(locus=need.locus, pairs=need.pairs)] < line.levels[need.locus]:
                return False
        elif not need.told(pairs[need.locus], sight.hidden.get(need.locus)):
            return False
    return True
