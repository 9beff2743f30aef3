"""What a wanted entry asks of a hatchling, locus by locus."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Catalogue, Inheritance
from brumal.genetics.claims import MorphProblem, sorted_pair
from brumal.genetics.genotypes import WILD, AllelePair, Claim, ClaimKind
from brumal.genetics.notation.parse import parse_morph


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What a wish asks of one locus: the allele pairs that satisfy it."""

    locus: str
    pairs: frozenset[AllelePair]

    def satisfied(self, pair: AllelePair) -> bool:
        """Say whether an allele pair at this locus (sorted) is one the wish asks for."""
        return pair in self.pairs


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A wanted entry understood: its needs, sorted by locus, and the genes that it names."""

    text: str
    needs: tuple[Need, ...]
    genes: frozenset[str]

    def satisfied(self, pairs: Mapping[str, AllelePair]) -> bool:
        """Say whether a genotype satisfies the wish; a locus left out is wild type."""
        return all(need.satisfied(pairs.get(need.locus, (WILD, WILD))) for need in self.needs)


def wish_of(text: str, catalogue: Catalogue) -> tuple[Wish | None, tuple[MorphProblem, ...]]:
    """Read what a wanted entry asks for.

    A super satisfies an entry that asks for one copy, a visual recessive one that asks for the het,
    and a compound heterozygote each of its two alleles; a super needs two copies of its allele and
    an entry that names two alleles of a locus needs both. Returns ``None`` with every problem.
    """
    morph, problems = parse_morph(text, catalogue)
    if morph is None:
        return None, problems
    unfit = tuple(problem for claim in morph.claims for problem in _unfit_for_a_wish(claim))
    if unfit:
        return None, unfit
    needs = tuple(
        Need(locus=claim.locus, pairs=frozenset(_satisfying(claim, catalogue)))
        for claim in morph.claims
    )
    genes = frozenset(name for claim in morph.claims for name in claim.pairs[0] if name != WILD)
    return Wish(text=text, needs=needs, genes=genes), ()


def _unfit_for_a_wish(claim: Claim) -> Iterable[MorphProblem]:
    gene = claim.pairs[0][1]
    if claim.kind is ClaimKind.POSSIBLE_HET:
        yield MorphProblem(
            found=f"a possible het for {gene}",
            expected="what the hatchling must carry",
            repair=f"Ask for 'het {gene}'; a possible het is counted by its probability.",
        )
    if claim.carried_on:
        yield MorphProblem(
            found=f"{gene} on {claim.carried_on}",
            expected="a morph without a sex chromosome",
            repair=f"Ask for {gene!r}, and give its value by sex.",
        )


def _satisfying(claim: Claim, catalogue: Catalogue) -> Iterable[AllelePair]:
    """Yield every allele pair of the locus that satisfies a claim."""
    first, second = claim.pairs[0]
    if claim.kind is ClaimKind.PINNED or (
        first == second and catalogue.alleles[second].inheritance is not Inheritance.RECESSIVE
    ):
        yield from claim.pairs
        return
    wanted = {name for name in (first, second) if name != WILD}
    # A visual recessive shows with any other mutant allele of its locus, but not beside wild type.
    others = catalogue.loci[claim.locus]
    if first == WILD:
        others = (WILD, *others)
    for one, other in itertools.product(wanted, others):
        pair = sorted_pair(one, other)
        if wanted <= set(pair):
            yield pair
