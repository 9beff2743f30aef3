"""The diplotypes in play at one linkage group, numbered, and what parents can pass on.

Sets of diplotypes are bit masks, so that narrowing a pedigree of thousands of animals down to what
each may be costs a look-up for each family.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Catalogue, LinkageGroup
from brumal.genetics.crosses.cross import young_of
from brumal.genetics.crosses.meiosis import sex_of
from brumal.genetics.genotypes import (
    SEX_GROUP,
    SEX_LOCUS,
    WILD,
    AllelePair,
    Claim,
    ClaimKind,
    Diplotype,
    Haplotype,
    X,
    Y,
    diplotype,
)
from brumal.genetics.looks import NORMAL, pair_at, shown_pair
from brumal.genetics.masks import Veil
from brumal.records.animals import Sex

UNRECORDED_COST = 1
RECORDED_COST = 1000
"""Orders of vanishing of a hidden allele: no record is doubted if an unrecorded founder will do."""

Claims = tuple[Claim, ...]


@dataclass(frozen=True, slots=True)
class Brought:
    """An allele that an animal may have though its pedigree cannot give it: the keeper's word."""

    place: int
    allele: str
    chance: float


@dataclass(frozen=True, slots=True)
class Prior:
    """What a founder may be: (number of the diplotype, order of vanishing, chance) and the mask."""

    entries: tuple[tuple[int, int, float], ...]

    mask: int
    hides: bool
    """Whether the founder could hold more than its record says (an order above zero)."""


class GroupSpace:
    """All diplotypes over the alleles ``in_play`` (locus -> mutant alleles) of one group.

    ``pairs`` is sorted, so the numbers are in the order of beliefs. Masks have bit ``i`` set where
    diplotype ``i`` is possible.
    """

    def __init__(
        self, group: LinkageGroup, in_play: Mapping[str, Iterable[str]], catalogue: Catalogue
    ) -> None:
        self.group = group
        self._catalogue = catalogue
        self._alleles = [
            (X, Y) if locus == SEX_LOCUS else (WILD, *sorted(in_play.get(locus, ())))
            for locus in group.loci
        ]
        strands: list[Haplotype] = sorted(itertools.product(*self._alleles))
        pairs = (diplotype(*two) for two in itertools.combinations_with_replacement(strands, 2))
        self.pairs: tuple[Diplotype, ...] = tuple(
            sorted(pair for pair in pairs if _lives(pair, group))
        )
        self.number = {pair: number for number, pair in enumerate(self.pairs)}
        self._loci = [(i, locus) for i, locus in enumerate(group.loci) if locus != SEX_LOCUS]
        self._young: dict[tuple[int, int, tuple[Brought, ...]], tuple[tuple[int, float], ...]] = {}
        self._reach: dict[tuple[int, int, tuple[Brought, ...]], int] = {}
        self._families: dict[tuple[int, int, int, tuple[Brought, ...]], tuple[int, int, int]] = {}
        self._members: dict[int, tuple[int, ...]] = {}
        self._diplotypes: dict[int, tuple[Diplotype, ...]] = {}
        self._seen: dict[tuple[Claims, Sex | None, Veil], int] = {}
        self._priors: dict[tuple[Claims, Sex | None, Veil, bool, bool], Prior] = {}
        self._anything: dict[Sex | None, Prior] = {}

    def mask(self, pairs: Iterable[Diplotype]) -> int:
        """Return the mask of these diplotypes."""
        found = 0
        for pair in pairs:
            found |= 1 << self.number[pair]
        return found

    def members(self, mask: int) -> tuple[int, ...]:
        """Return the numbers of the diplotypes in a mask, ascending."""
        known = self._members.get(mask)
        if known is None:
            known = tuple(i for i in range(mask.bit_length()) if mask >> i & 1)
            self._members[mask] = known
        return known

    def diplotypes(self, mask: int) -> tuple[Diplotype, ...]:
        """Return the diplotypes in a mask, in order."""
        known = self._diplotypes.get(mask)
        if known is None:
            known = tuple([self.pairs[member] for member in self.members(mask)])
            self._diplotypes[mask] = known
        return known

    def young(
        self, dam: int, sire: int, brought: tuple[Brought, ...] = ()
    ) -> tuple[tuple[int, float], ...]:
        """Return the numbers and chances of the young of two diplotypes given by number."""
        key = (dam, sire, brought)
        known = self._young.get(key)
        if known is None:
            odds: dict[int, float] = {}
            born = young_of(self.pairs[dam], self.pairs[sire], self.group.recombination)
            for pair, chance in born:
                for final, share in _with_brought(pair, brought):
                    number = self.number[final]
                    odds[number] = odds.get(number, 0.0) + chance * share
            known = self._young[key] = tuple(sorted(odds.items()))
        return known

    def reach(self, dams: int, sires: int, brought: tuple[Brought, ...] = ()) -> int:
        """Return the mask of the young that any of the ``dams`` and any of the ``sires`` give."""
        key = (dams, sires, brought)
        known = self._reach.get(key)
        if known is None:
            known = 0
            for dam, sire in itertools.product(self.members(dams), self.members(sires)):
                for number, _ in self.young(dam, sire, brought):
                    known |= 1 << number
            self._reach[key] = known
        return known

    def fitting_family(
        self, young: int, dams: int, sires: int, brought: tuple[Brought, ...]
    ) -> tuple[int, int, int]:
        """Return the masks of young, dams and sires that fit together in one family."""
        key = (young, dams, sires, brought)
        known = self._families.get(key)
        if known is None:
            fit_young, fit_dams, fit_sires = 0, 0, 0
            for dam, sire in itertools.product(self.members(dams), self.members(sires)):
                if born := self.reach(1 << dam, 1 << sire, brought) & young:
                    fit_young |= born
                    fit_dams |= 1 << dam
                    fit_sires |= 1 << sire
            known = self._families[key] = (fit_young, fit_dams, fit_sires)
        return known

    def fitting_parents(self, dams: int, sires: int, looks: tuple[int, ...]) -> tuple[int, int]:
        """Return the masks of dams and sires that can have young of every one of the looks."""
        fit_dams, fit_sires = 0, 0
        for dam, sire in itertools.product(self.members(dams), self.members(sires)):
            born = self.reach(1 << dam, 1 << sire)
            if all(born & look for look in looks):
                fit_dams |= 1 << dam
                fit_sires |= 1 << sire
        return fit_dams, fit_sires

    def seen(self, claims: Claims, sex: Sex | None, veil: Veil = ()) -> int:
        """Return the mask of what fits an animal's look and claims at this group.

        A visual, het or pinned claim fixes the pairs; a possible het, and no claim at all, say only
        that the locus looks normal. At a locus under the ``veil`` of another look they say nothing
        but that none of its own eye-catching looks is there.
        """
        key = (claims, sex, veil)
        known = self._seen.get(key)
        if known is None:
            by_locus = {claim.locus: claim for claim in claims}
            barred = dict(veil)
            fits = [
                (place, self._fitting(by_locus.get(locus), place, barred.get(locus)))
                for place, locus in self._loci
            ]
            known = self._seen[key] = self.mask(
                pair
                for pair in self.pairs
                if self._fits_sex(pair, sex)
                and all(pair_at(pair, place) in fitting for place, fitting in fits)
                and self._fits_sides(pair, claims)
            )
        return known

    def prior(
        self, claims: Claims, sex: Sex | None, veil: Veil = (), *, recorded: bool, hidden: bool
    ) -> Prior:
        """Return the prior of a founder with these claims.

        At order zero stands the record: wild type where nothing is claimed, the likeliest pair of a
        claim, a possible het by its chance, the pairs of a look of unknown make-up as likely as
        they are where its alleles are equally common. With ``hidden`` comes what the record does
        not say: it vanishes with the number of hidden alleles, its chances stand in Hardy-Weinberg
        proportion. The phases of two linked loci are equally likely. Under the ``veil`` of a look
        that hides a locus even what would show there may be carried.
        """
        key = (claims, sex, veil, recorded, hidden)
        known = self._priors.get(key)
        if known is None:
            entries = self._entries(claims, sex, dict(veil), recorded=recorded)
            if not hidden:
                entries = [entry for entry in entries if not entry[1]]
            known = self._priors[key] = _prior_of(entries)
        return known

    def _entries(
        self,
        claims: Claims,
        sex: Sex | None,
        barred: Mapping[str, frozenset[AllelePair]],
        *,
        recorded: bool,
    ) -> list[tuple[int, int, float]]:
        by_locus = {claim.locus: claim for claim in claims}
        weights = [
            self._weights(by_locus.get(locus), place, barred.get(locus), recorded=recorded)
            for place, locus in self._loci
        ]
        sexes = _sexes(sex) if self.group.id == SEX_GROUP else (Sex.FEMALE,)
        phases: dict[tuple[Sex, tuple[AllelePair, ...]], list[int]] = {}
        for number, pair in enumerate(self.pairs):
            if self._fits_sides(pair, claims):
                carried = tuple(pair_at(pair, place) for place, _ in self._loci)
                phases.setdefault((self._sex(pair), carried), []).append(number)
        entries = []
        for (sex_of_pair, carried), numbers in phases.items():
            if sex_of_pair not in sexes:
                continue
            order, chance = 0, 1 / len(sexes) / len(numbers)
            for weight, alleles in zip(weights, carried, strict=True):
                more, share = weight.get(alleles, (0, 0.0))
                order, chance = order + more, chance * share
            if chance > 0:
                entries += [(number, order, chance) for number in numbers]
        return sorted(entries)

    def anything(self, sex: Sex | None) -> Prior:
        """Return a prior that rules nothing out but the other sex."""
        known = self._anything.get(sex)
        if known is None:
            fitting = (i for i, pair in enumerate(self.pairs) if self._fits_sex(pair, sex))
            known = self._anything[sex] = _prior_of([(number, 0, 1.0) for number in fitting])
        return known

    def has_allele(self, mask: int, place: int, allele: str) -> bool:
        """Say whether any diplotype of a mask carries the allele at the locus of this place."""
        return any(allele in pair_at(self.pairs[number], place) for number in self.members(mask))

    def _fitting(
        self, claim: Claim | None, place: int, barred: frozenset[AllelePair] | None
    ) -> tuple[AllelePair, ...]:
        """Return the pairs of a locus that a claim, or having none, allows.

        ``barred`` is given where the locus is hidden: the pairs that would be seen all the same.
        """
        if claim is not None and claim.kind is not ClaimKind.POSSIBLE_HET:
            return claim.pairs
        unseen = self._unseen(place, barred)
        return unseen if claim is None else (*unseen, *claim.pairs)

    def _unseen(self, place: int, barred: frozenset[AllelePair] | None) -> tuple[AllelePair, ...]:
        """Return the pairs of a locus that do not show."""
        if barred is not None:
            return tuple(pair for pair in self._pairs_at(place) if pair not in barred)
        return tuple(
            pair for pair in self._pairs_at(place) if shown_pair(pair, self._catalogue) == NORMAL
        )

    def _weights(
        self,
        claim: Claim | None,
        place: int,
        barred: frozenset[AllelePair] | None,
        *,
        recorded: bool,
    ) -> dict[AllelePair, tuple[int, float]]:
        """Return the order of vanishing and the chance of each pair of a founder's locus."""
        if claim is not None and claim.kind is ClaimKind.ANY_OF:
            total = sum(_ways(pair) for pair in claim.pairs)
            return {pair: (0, _ways(pair) / total) for pair in claim.pairs}
        if claim is not None and claim.kind is not ClaimKind.POSSIBLE_HET:
            first = claim.pairs[0]
            return {
                pair: (max(_mutants(pair) - _mutants(first), int(pair != first)), _ways(pair))
                for pair in claim.pairs
            }
        cost = RECORDED_COST if recorded else UNRECORDED_COST
        unseen = self._unseen(place, barred) if recorded else self._pairs_at(place)
        weights = {pair: (cost * _mutants(pair), _ways(pair)) for pair in unseen}
        if claim is not None:
            weights[NORMAL] = (0, 1 - claim.chance)
            weights[claim.pairs[0]] = (0, claim.chance)
        return weights

    def _pairs_at(self, place: int) -> tuple[AllelePair, ...]:
        return tuple(itertools.combinations_with_replacement(self._alleles[place], 2))

    def _sex(self, pair: Diplotype) -> Sex:
        return sex_of(pair) if self.group.id == SEX_GROUP else Sex.FEMALE

    def _fits_sex(self, pair: Diplotype, sex: Sex | None) -> bool:
        return self.group.id != SEX_GROUP or sex is None or sex_of(pair) is sex

    def _fits_sides(self, pair: Diplotype, claims: Claims) -> bool:
        """Say whether alleles lie on the sex chromosomes that the keeper names."""
        return all(
            any(
                strand[0] == claim.carried_on and strand[self.group.loci.index(claim.locus)] != WILD
                for strand in pair
            )
            for claim in claims
            if claim.carried_on
        )


def _prior_of(entries: list[tuple[int, int, float]]) -> Prior:
    mask = 0
    for number, _, _ in entries:
        mask |= 1 << number
    return Prior(tuple(entries), mask, any(order for _, order, _ in entries))


def _with_brought(
    pair: Diplotype, brought: tuple[Brought, ...]
) -> Iterator[tuple[Diplotype, float]]:
    """Yield what a young becomes with alleles of the keeper's word laid on its wild strands."""
    if not brought:
        yield pair, 1.0
        return
    first, rest = brought[0], brought[1:]
    bare = [strand for strand in (0, 1) if pair[strand][first.place] == WILD]
    if not bare or first.chance < 1:
        for final, share in _with_brought(pair, rest):
            yield final, share * (1 - first.chance if bare else 1.0)
    for strand in bare:
        changed = list(pair)
        laid = list(pair[strand])
        laid[first.place] = first.allele
        changed[strand] = tuple(laid)
        for final, share in _with_brought(diplotype(*changed), rest):
            yield final, share * first.chance / len(bare)


def _lives(pair: Diplotype, group: LinkageGroup) -> bool:
    return group.id != SEX_GROUP or (pair[0][0], pair[1][0]) != (Y, Y)


def _sexes(sex: Sex | None) -> tuple[Sex, ...]:
    return (Sex.FEMALE, Sex.MALE) if sex is None else (sex,)


def _mutants(pair: AllelePair) -> int:
    return sum(allele != WILD for allele in pair)


def _ways(pair: AllelePair) -> float:
    """Return in how many ways two gametes make the pair: two for a het, one else."""
    return 1.0 if pair[0] == pair[1] else 2.0
