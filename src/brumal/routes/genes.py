"""The genes that decide a target: what animals carry there, what their young are, how they look.

Only the linkage groups of the target's loci matter, and the sex. A *kind* is a number for one
genotype there, a *look* a number for what a keeper sees of it; both are numbered as they come up.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

from brumal.genetics.catalogue.genes import Catalogue, LinkageGroup
from brumal.genetics.crosses.cross import parent_belief, young_of
from brumal.genetics.crosses.meiosis import gametes, sex_of
from brumal.genetics.genotypes import (
    SEX_GROUP,
    SEX_LOCUS,
    WILD,
    AllelePair,
    Belief,
    Diplotype,
    Genotype,
    Haplotype,
    diplotype,
)
from brumal.genetics.looks import NORMAL, pair_at, shown_pair
from brumal.genetics.wishes import Wish
from brumal.records.animals import Sex

Kind = int
Look = int
Genes = tuple[Diplotype, ...]
"""One diplotype for each linkage group of a target, the sex group first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookShare:
    """Young that look alike and are not the target: their share of all young of a cross.

    ``kinds`` holds what they may be, (kind, chance), the chances summing to one.
    """

    look: Look
    share: float
    kinds: tuple[tuple[Kind, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Brood:
    """The young of two animals of known genotype: the share of targets, and the others by look."""

    target: float
    others: tuple[LookShare, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LookSeen:
    """What a look is: its sex, what shows, and the genotype where that is known (tested young)."""

    sex: Sex
    shown: tuple[tuple[str, AllelePair], ...]
    genes: Genes | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One linkage group of a genotype: whether the target asks for it, what shows, its number."""

    fits: bool
    shown: tuple[tuple[str, AllelePair], ...]
    number: int


@dataclass(frozen=True, kw_only=True, eq=False)
class TargetGenes:
    """A target and the linkage groups that decide it.

    ``sex`` asks for a target of one sex. With ``tested`` the keeper knows the genotype of each
    young at once; without, only its look. Build it with ``target_genes``.
    """

    wish: Wish
    catalogue: Catalogue
    groups: tuple[LinkageGroup, ...]
    sex: Sex | None = None
    tested: bool = False
    _kinds: dict[Genes, Kind] = field(default_factory=dict, repr=False)
    _genes: list[Genes] = field(default_factory=list, repr=False)
    _looks: dict[object, Look] = field(default_factory=dict, repr=False)
    _parts: dict[tuple[int, Diplotype], _Part] = field(default_factory=dict, repr=False)
    _numbers: dict[object, int] = field(default_factory=dict, repr=False)
    _seen: list[LookSeen] = field(default_factory=list, repr=False)
    _broods: dict[tuple[Kind, Kind], Brood] = field(default_factory=dict, repr=False)
    _copies: dict[Kind, int] = field(default_factory=dict, repr=False)

    def kind(self, genes: Genes) -> Kind:
        """Return the number of a genotype."""
        if genes not in self._kinds:
            self._kinds[genes] = len(self._genes)
            self._genes.append(genes)
        return self._kinds[genes]

    def genes(self, kind: Kind) -> Genes:
        """Return the genotype of a number."""
        return self._genes[kind]

    def seen(self, look: Look) -> LookSeen:
        """Return what a look is."""
        return self._seen[look]

    def pairs(self, genes: Genes) -> dict[str, AllelePair]:
        """Return the allele pairs of a genotype by locus, the sexes left out."""
        return {
            locus: pair_at(pair, place)
            for group, pair in zip(self.groups, genes, strict=True)
            for place, locus in enumerate(group.loci)
            if locus != SEX_LOCUS
        }

    def is_target(self, genes: Genes) -> bool:
        """Say whether a genotype is the target."""
        if self.sex is not None and sex_of(genes[0]) is not self.sex:
            return False
        return self.wish.satisfied(self.pairs(genes))

    def copies(self, kind: Kind) -> int:
        """Return how many copies of the target's genes a genotype carries, two of each at most."""
        if kind not in self._copies:
            self._copies[kind] = sum(
                allele in self.wish.genes
                for pair in self.pairs(self._genes[kind]).values()
                for allele in pair
            )
        return self._copies[kind]

    def brood(self, dam: Kind, sire: Kind) -> Brood:
        """Return the young of a dam and a sire of known genotype, exactly."""
        if (dam, sire) not in self._broods:
            self._broods[dam, sire] = self._brood(dam, sire)
        return self._broods[dam, sire]

    def _brood(self, dam: Kind, sire: Kind) -> Brood:
        tables = [
            young_of(mother, father, group.recombination)
            for group, mother, father in zip(
                self.groups, self._genes[dam], self._genes[sire], strict=True
            )
        ]
        target = 0.0
        by_look: dict[Look, dict[Kind, float]] = {}
        told = [
            [(pair, share, self._part(at, pair)) for pair, share in table]
            for at, table in enumerate(tables)
        ]
        for parts in itertools.product(*told):
            chance = 1.0
            for _, share, _part in parts:
                chance *= share
            genes = tuple(pair for pair, _, _ in parts)
            if all(part.fits for _, _, part in parts):
                target += chance
                continue
            look = self._look_of(genes, tuple(part for _, _, part in parts))
            kinds = by_look.setdefault(look, {})
            kind = self.kind(genes)
            kinds[kind] = kinds.get(kind, 0.0) + chance
        others = []
        for look, kinds in sorted(by_look.items()):
            share = sum(kinds.values())
            alike = tuple((kind, chance / share) for kind, chance in sorted(kinds.items()))
            others.append(LookShare(look=look, share=share, kinds=alike))
        return Brood(target=min(target, 1.0), others=tuple(others))

    def look(self, genes: Genes) -> Look:
        """Return the number of what is seen of a genotype."""
        parts = tuple(self._part(at, pair) for at, pair in enumerate(genes))
        return self._look_of(genes, parts)

    def _look_of(self, genes: Genes, parts: tuple[_Part, ...]) -> Look:
        key: object = genes if self.tested else tuple(part.number for part in parts)
        if key not in self._looks:
            self._looks[key] = len(self._seen)
            shown = sorted(each for part in parts for each in part.shown)
            self._seen.append(
                LookSeen(
                    sex=sex_of(genes[0]),
                    shown=tuple(shown),
                    genes=genes if self.tested else None,
                )
            )
        return self._looks[key]

    def _part(self, at: int, pair: Diplotype) -> _Part:
        """Return what a diplotype of one group shows, and whether it is what the target asks."""
        if (at, pair) not in self._parts:
            group = self.groups[at]
            carried = {
                locus: pair_at(pair, place)
                for place, locus in enumerate(group.loci)
                if locus != SEX_LOCUS
            }
            fits = all(
                need.satisfied(carried[need.locus])
                for need in self.wish.needs
                if need.locus in carried
            )
            if at == 0 and self.sex is not None:
                fits = fits and sex_of(pair) is self.sex
            visible = {locus: shown_pair(each, self.catalogue) for locus, each in carried.items()}
            shown = tuple((locus, each) for locus, each in visible.items() if each != NORMAL)
            key = (at, sex_of(pair) if at == 0 else None, shown)
            number = self._numbers.setdefault(key, len(self._numbers))
            self._parts[at, pair] = _Part(fits=fits, shown=shown, number=number)
        return self._parts[at, pair]

    def gametes(self, kind: Kind) -> dict[tuple[Haplotype, ...], float]:
        """Return the chance of each gamete of a genotype: one haplotype for each group."""
        tables = [
            gametes(pair, group.recombination)
            for group, pair in zip(self.groups, self._genes[kind], strict=True)
        ]
        odds: dict[tuple[Haplotype, ...], float] = {}
        for parts in itertools.product(*tables):
            chance = 1.0
            for _, share in parts:
                chance *= share
            made = tuple(haplotype for haplotype, _ in parts)
            odds[made] = odds.get(made, 0.0) + chance
        return odds

    def joined(self, egg: tuple[Haplotype, ...], sperm: tuple[Haplotype, ...]) -> Genes:
        """Return the genotype of two gametes together."""
        return tuple(diplotype(one, two) for one, two in zip(egg, sperm, strict=True))

    def beliefs(self, genotype: Genotype, sex: Sex) -> tuple[Belief, ...]:
        """Return what is believed of an animal at each group of the target."""
        return tuple(
            self.reduced(at, parent_belief(genotype.groups.get(group.id), whole, sex))
            for at, group in enumerate(self.groups)
            for whole in [self.catalogue.groups[group.id]]
        )

    def reduced(self, at: int, belief: Belief) -> Belief:
        """Keep of a belief at the ``at``-th group what the target's loci there are."""
        length = len(self.groups[at].loci)
        odds: dict[Diplotype, float] = {}
        for (one, two), chance in belief:
            pair = diplotype(one[:length], two[:length])
            odds[pair] = odds.get(pair, 0.0) + chance
        return tuple(sorted(odds.items()))

    def founder(self, pairs: Mapping[str, AllelePair], sex: Sex) -> Genes:
        """Return the genotype with these allele pairs and wild type elsewhere.

        Alleles of one linkage group stand in coupling, a male's sex-linked allele on his X.
        """
        made = []
        for group in self.groups:
            strands: list[list[str]] = [[], []]
            for locus in group.loci:
                one, two = pairs.get(locus, (WILD, WILD))
                if locus == SEX_LOCUS:
                    one, two = ("X", "X") if sex is Sex.FEMALE else ("Y", "X")
                strands[0].append(one)
                strands[1].append(two)
            made.append(diplotype(tuple(strands[0]), tuple(strands[1])))
        return tuple(made)


def target_genes(
    wish: Wish, catalogue: Catalogue, sex: Sex | None = None, tested: bool = False
) -> TargetGenes:
    """Return the linkage groups that decide a wish; the sex group is always the first."""
    asked = {need.locus for need in wish.needs}
    groups = [_sex_group(catalogue.groups[SEX_GROUP], asked)]
    for name, group in sorted(catalogue.groups.items()):
        if name != SEX_GROUP and asked.intersection(group.loci):
            groups.append(group)
    return TargetGenes(wish=wish, catalogue=catalogue, groups=tuple(groups), sex=sex, tested=tested)


def _sex_group(group: LinkageGroup, asked: set[str]) -> LinkageGroup:
    """Leave the sex-linked loci out where the target asks for none of them."""
    if asked.intersection(group.loci):
        return group
    return LinkageGroup(id=group.id, loci=(SEX_LOCUS,), source=group.source)
