"""What a wanted entry asks of a hatchling, locus by locus."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Catalogue, Inheritance
from brumal.genetics.claims import MorphProblem, sorted_pair
from brumal.genetics.genotypes import WILD, AllelePair, Claim, ClaimKind
from brumal.genetics.notation.parse import parse_morph
from brumal.genetics.notation.words import carried_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What a wish asks of one locus: the allele pairs that satisfy it.

    ``unseen`` says that a het is asked for: what nobody can see, and is sold by its chance.
    """

    locus: str
    pairs: frozenset[AllelePair]
    unseen: bool = False

    def satisfied(self, pair: AllelePair) -> bool:
        """Say whether an allele pair at this locus (sorted) is one the wish asks for."""
        return pair in self.pairs

    def told(self, pair: AllelePair, possible: frozenset[AllelePair] | None) -> bool:
        """Say whether a young can be sold as having what is asked for.

        ``possible`` are the pairs that young may have where another look hides the locus: then it
        is sold if it is certain by the parents, and a het by its chance. ``None``: it can be seen.
        """
        if possible is None:
            return pair in self.pairs
        return possible <= self.pairs or (self.unseen and pair in self.pairs)


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
    an entry that names two alleles of a locus needs both; a look of unknown make-up is met by
    each pair that it may be. Returns ``None`` with every problem.
    """
    morph, problems = parse_morph(text, catalogue)
    if morph is None:
        return None, problems
    unfit = tuple(
        problem for claim in morph.claims for problem in _unfit_for_a_wish(claim, catalogue)
    )
    if unfit:
        return None, unfit
    needs = tuple(
        Need(
            locus=claim.locus,
            pairs=frozenset(_satisfying(claim, catalogue)),
            unseen=claim.kind is ClaimKind.HET,
        )
        for claim in morph.claims
    )
    genes = frozenset(
        name
        for claim in morph.claims
        for pair in (claim.pairs if claim.kind is ClaimKind.ANY_OF else claim.pairs[:1])
        for name in pair
        if name != WILD
    )
    return Wish(text=text, needs=needs, genes=genes), ()


def _unfit_for_a_wish(claim: Claim, catalogue: Catalogue) -> Iterable[MorphProblem]:
    gene = claim.pairs[0][1]
    if claim.kind is ClaimKind.POSSIBLE_HET:
        yield MorphProblem(
            found=f"a possible {carried_words(gene, catalogue)}",
            expected="what the hatchling must carry",
            repair=f"Ask for {carried_words(gene, catalogue)!r}; a possible one is counted by its "
            "probability.",
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
    if claim.kind in (ClaimKind.PINNED, ClaimKind.ANY_OF) or (
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
