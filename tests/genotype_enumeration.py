"""Evidence by plain enumeration: every genotype of every animal, one after the other.

Shares no code with the inference that it checks. Founders hold each mutant allele on each strand
with a vanishing frequency on top of what their record says; terms are kept as (order, value), and
the lowest order is what remains.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from brumal.genetics.genotypes import Claim, ClaimKind, Diplotype, Haplotype, Morph

Term = tuple[int, float]


@dataclass(frozen=True)
class Locus:
    """A locus of the group: mutant alleles and whether one copy of each shows."""

    name: str
    shows_in_one_copy: Mapping[str, bool]


@dataclass(frozen=True)
class Group:
    loci: tuple[Locus, ...]
    recombination: tuple[float, ...]
    with_sex: bool = False


@dataclass(frozen=True)
class Member:
    """An animal: its parents (places of earlier members), its sex and whether it has a record."""

    dam: int | None
    sire: int | None
    sex: str | None
    recorded: bool = True


@dataclass(frozen=True)
class Seen:
    """Young of a clutch: (dam, sire, look as a morph, how many)."""

    dam: int
    sire: int
    morph: Morph
    count: int


def enumerate_all(
    group: Group, members: Sequence[Member], morphs: Mapping[int, Morph], clutches: Sequence[Seen]
) -> dict[tuple[Diplotype, ...], float] | None:
    """Return the chance of every joint genotype, or ``None`` when none fits."""
    terms: dict[tuple[Diplotype, ...], Term] = {}
    for genotypes, order, value in _assign(group, members, morphs, clutches, ()):
        terms[genotypes] = (order, value)
    if not terms:
        return None
    lowest = min(order for order, _ in terms.values())
    kept = {genotypes: value for genotypes, (order, value) in terms.items() if order == lowest}
    total = sum(kept.values())
    return {genotypes: value / total for genotypes, value in kept.items()}


def _assign(
    group: Group,
    members: Sequence[Member],
    morphs: Mapping[int, Morph],
    clutches: Sequence[Seen],
    sofar: tuple[Diplotype, ...],
) -> Iterator[tuple[tuple[Diplotype, ...], int, float]]:
    place = len(sofar)
    if place == len(members):
        yield sofar, 0, 1.0
        return
    member = members[place]
    options = (
        _founder(group, member, morphs.get(place, Morph()))
        if member.dam is None
        else {
            pair: (0, chance)
            for pair, chance in _young(group, sofar[member.dam], sofar[member.sire]).items()
            if _fits(group, pair, morphs.get(place, Morph())) and _of_sex(group, pair, member.sex)
        }
    )
    for pair, (order, chance) in options.items():
        chosen = (*sofar, pair)
        for seen in clutches:
            if max(seen.dam, seen.sire) == place:
                born = _young(group, chosen[seen.dam], chosen[seen.sire])
                look = sum(p for each, p in born.items() if _fits(group, each, seen.morph))
                chance *= look**seen.count
        if chance > 0:
            for genotypes, more, value in _assign(group, members, morphs, clutches, chosen):
                yield genotypes, order + more, chance * value


def _strands(group: Group, sex_allele: str | None) -> list[Haplotype]:
    alleles = [("+", *locus.shows_in_one_copy) for locus in group.loci]
    strands = itertools.product(*alleles)
    return [(sex_allele, *strand) if sex_allele else tuple(strand) for strand in strands]


def _founder(group: Group, member: Member, morph: Morph) -> dict[Diplotype, Term]:
    """Two strands drawn apart from each other; the record says what is not vanishing."""
    sexes = [("X", "X"), ("X", "Y")] if group.with_sex else [(None, None)]
    if group.with_sex and member.sex:
        sexes = [("X", "X") if member.sex == "female" else ("X", "Y")]
    found: dict[Diplotype, list[Term]] = {}
    for first_sex, second_sex in sexes:
        for one, two in itertools.product(_strands(group, first_sex), _strands(group, second_sex)):
            pair = (one, two) if one <= two else (two, one)
            term = _record(group, member, morph, one, two)
            if term is not None:
                found.setdefault(pair, []).append((term[0], term[1] / len(sexes)))
    merged = {}
    for pair, terms in found.items():
        lowest = min(order for order, _ in terms)
        merged[pair] = (lowest, sum(value for order, value in terms if order == lowest))
    return merged


def _record(
    group: Group, member: Member, morph: Morph, one: Haplotype, two: Haplotype
) -> Term | None:
    order, value = 0, 1.0
    claims = {claim.locus: claim for claim in morph.claims}
    shift = 1 if group.with_sex else 0
    for place, locus in enumerate(group.loci):
        carried = tuple(sorted((one[place + shift], two[place + shift])))
        claim = claims.get(locus.name)
        term = _of_locus(locus, member, claim, carried)
        if term is None:
            return None
        order, value = order + term[0], value * term[1]
        if claim is not None and claim.carried_on:
            # One of the two sides on which a male may carry it.
            value *= 2 if _on_its_side((one, two), place, claim.carried_on) else 0
    return (order, value) if value > 0 else None


def _of_locus(
    locus: Locus, member: Member, claim: Claim | None, carried: tuple[str, ...]
) -> Term | None:
    """Return order and chance of a founder's two strands at one locus, each strand on its own."""
    mutants = sum(allele != "+" for allele in carried)
    ways = 1.0 if carried[0] == carried[1] else 0.5
    hidden = _shown(locus, carried) == ("+", "+")
    if claim is None:
        if member.recorded and not hidden:
            return None
        return mutants * (1000 if member.recorded else 1), 1.0
    if claim.kind is not ClaimKind.POSSIBLE_HET:
        return (0, ways) if carried == claim.pairs[0] else None
    if carried == claim.pairs[0]:
        return 0, claim.chance * ways
    if carried == ("+", "+"):
        return 0, 1 - claim.chance
    return (mutants * 1000, 1.0) if hidden else None


def _young(group: Group, dam: Diplotype, sire: Diplotype) -> dict[Diplotype, float]:
    born: dict[Diplotype, float] = {}
    for egg, p in _gametes(group, dam):
        for sperm, q in _gametes(group, sire):
            pair = (egg, sperm) if egg <= sperm else (sperm, egg)
            born[pair] = born.get(pair, 0.0) + p * q
    return born


def _gametes(group: Group, pair: Diplotype) -> Iterator[tuple[Haplotype, float]]:
    for path in itertools.product((0, 1), repeat=len(pair[0])):
        chance = 0.5
        for left, right, fraction in zip(path, path[1:], group.recombination, strict=False):
            chance *= fraction if left != right else 1 - fraction
        if chance > 0:
            yield tuple(pair[strand][place] for place, strand in enumerate(path)), chance


def _fits(group: Group, pair: Diplotype, morph: Morph) -> bool:
    claims = {claim.locus: claim for claim in morph.claims}
    shift = 1 if group.with_sex else 0
    for place, locus in enumerate(group.loci):
        carried = tuple(sorted((pair[0][place + shift], pair[1][place + shift])))
        claim = claims.get(locus.name)
        if claim is None or claim.kind is ClaimKind.POSSIBLE_HET:
            if _shown(locus, carried) != ("+", "+"):
                return False
        elif carried not in claim.pairs or not _on_its_side(pair, place, claim.carried_on):
            return False
    return True


def _on_its_side(pair: Diplotype, place: int, side: str) -> bool:
    return not side or any(s[0] == side and s[place + 1] != "+" for s in pair)


def _shown(locus: Locus, carried: tuple[str, ...]) -> tuple[str, ...]:
    if "+" in carried and not any(locus.shows_in_one_copy.get(a, False) for a in carried):
        return ("+", "+")
    return carried


def _of_sex(group: Group, pair: Diplotype, sex: str | None) -> bool:
    if not group.with_sex or sex is None:
        return True
    return sex == ("male" if "Y" in (pair[0][0], pair[1][0]) else "female")
