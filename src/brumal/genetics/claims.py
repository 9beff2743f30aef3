"""From what a keeper names to what is claimed of each locus.

Each word of a morph is a *mention* of one allele in one form. The mentions of one locus together
make one claim, or a contradiction that is told in full.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from brumal.genetics.catalogue.genes import Allele, Catalogue, Inheritance
from brumal.genetics.catalogue.vocabulary import is_sex_linked
from brumal.genetics.genotypes import WILD, AllelePair, Claim, ClaimKind


@dataclass(frozen=True, slots=True, kw_only=True)
class MorphProblem:
    """What is wrong in trade notation: what was found, what was expected, how to mend it."""

    found: str
    expected: str
    repair: str = ""


class Form(StrEnum):
    """How a mention names its allele."""

    PLAIN = "plain"
    SUPER = "super"
    HET = "het"
    POSSIBLE = "possible"
    PINNED = "pinned"
    ANY_OF = "any of"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mention:
    """One gene as named: ``words`` as the keeper reads them back, ``pair`` where pinned.

    A look of unknown make-up has the ``pairs`` that it may be.
    """

    locus: str
    allele: str
    form: Form
    words: str
    chance: float = 1.0
    pair: AllelePair = (WILD, WILD)
    pairs: tuple[AllelePair, ...] = ()
    carried_on: str = ""


def sorted_pair(first: str, second: str) -> AllelePair:
    """Return two alleles in the one order that pairs have."""
    return (first, second) if first <= second else (second, first)


def visual_claim(allele: Allele) -> Claim:
    """Return what the bare name of a gene claims: the animal shows it."""
    one, two = (WILD, allele.name), (allele.name, allele.name)
    pairs: dict[Inheritance, tuple[AllelePair, ...]] = {
        Inheritance.RECESSIVE: (two,),
        Inheritance.INCOMPLETE_DOMINANT: (one,),
        Inheritance.DOMINANT: (one, two),
    }
    return Claim(locus=allele.locus, kind=ClaimKind.VISUAL, pairs=pairs[allele.inheritance])


def pair_claim(locus: str, pair: AllelePair, catalogue: Catalogue, carried_on: str = "") -> Claim:
    """Return the claim that exactly this allele pair stands at a locus.

    A pair that trade words can say gets their kind, so that one genotype has one claim; only what
    they cannot say (one or two copies of a dominant, certainly wild type) is pinned.
    """
    kind = ClaimKind.VISUAL
    if pair[1] == WILD:
        kind = ClaimKind.PINNED
    elif pair[0] in (WILD, pair[1]):
        inheritance = catalogue.alleles[pair[1]].inheritance
        if inheritance is Inheritance.DOMINANT:
            kind = ClaimKind.PINNED
        elif inheritance is Inheritance.RECESSIVE and pair[0] == WILD:
            kind = ClaimKind.HET
    return Claim(locus=locus, kind=kind, pairs=(pair,), carried_on=carried_on)


def claims_of(
    mentions: Iterable[Mention], catalogue: Catalogue
) -> tuple[tuple[Claim, ...], list[MorphProblem]]:
    """Join mentions into at most one claim a locus, sorted by locus, and tell contradictions."""
    by_locus: dict[str, list[Mention]] = {}
    for mention in mentions:
        by_locus.setdefault(mention.locus, []).append(mention)
    claims: list[Claim] = []
    problems: list[MorphProblem] = []
    for locus, named in sorted(by_locus.items()):
        made = _locus_claim(locus, named, catalogue)
        if isinstance(made, Claim):
            claims.append(made)
        else:
            problems.append(made)
    return tuple(claims), problems


def _locus_claim(locus: str, named: list[Mention], catalogue: Catalogue) -> Claim | MorphProblem:
    looks = [mention for mention in named if mention.form is Form.ANY_OF]
    if looks:
        return _look_claim(locus, looks, [m for m in named if m not in looks], catalogue)
    if len({mention.allele for mention in named}) < len(named):
        return _named_twice(named, catalogue)
    made = _single(named[0], catalogue) if len(named) == 1 else _compound(locus, named, catalogue)
    if isinstance(made, Claim) and made.carried_on:
        return _checked_carrier(made, named[0].words, catalogue)
    return made


def _look_claim(
    locus: str, looks: list[Mention], others: list[Mention], catalogue: Catalogue
) -> Claim | MorphProblem:
    """Join a look of unknown make-up with what else is named: ``BEL (Lesser Mojave)`` is known."""
    if len(looks) > 1:
        return _named_twice(looks, catalogue)
    (look,) = looks
    if not others:
        return Claim(locus=locus, kind=ClaimKind.ANY_OF, pairs=look.pairs)
    made = _locus_claim(locus, others, catalogue)
    if isinstance(made, MorphProblem) or set(made.pairs) <= set(look.pairs):
        return made
    words = _listed([look.words, *(mention.words for mention in others)])
    return MorphProblem(
        found=f"{words}, of one locus ({locus})",
        expected=f"the two genes that make the {look.words}, or its name alone",
        repair="Leave the genes out where only one is known: parents and young tell the rest.",
    )


def _single(mention: Mention, catalogue: Catalogue) -> Claim:
    if mention.form is Form.PINNED:
        return pair_claim(mention.locus, mention.pair, catalogue, mention.carried_on)
    allele = catalogue.alleles[mention.allele]
    if mention.form is Form.SUPER:
        pair = (allele.name, allele.name)
        return pair_claim(mention.locus, pair, catalogue, mention.carried_on)
    one: AllelePair = (WILD, allele.name)
    if mention.form is Form.PLAIN:
        claim = visual_claim(allele)
        if not mention.carried_on:
            return claim
        # A dominant on one named chromosome is one copy.
        exact = one if one in claim.pairs else claim.pairs[0]
        return pair_claim(mention.locus, exact, catalogue, mention.carried_on)
    possible = mention.form is Form.POSSIBLE
    return Claim(
        locus=mention.locus,
        kind=ClaimKind.POSSIBLE_HET if possible else ClaimKind.HET,
        pairs=(one,),
        chance=mention.chance,
        carried_on=mention.carried_on,
    )


def _compound(locus: str, named: list[Mention], catalogue: Catalogue) -> Claim | MorphProblem:
    words = _listed([mention.words for mention in named])
    if any(mention.form is Form.POSSIBLE for mention in named):
        return MorphProblem(
            found=f"{words}, alleles of one locus ({locus})",
            expected="a possible het alone at its locus",
            repair="Write the likelier one and record the parents: their genes give the rest.",
        )
    if len(named) > 2 or any(mention.form in (Form.SUPER, Form.PINNED) for mention in named):
        return MorphProblem(
            found=f"{words}: more than two alleles of one locus ({locus})",
            expected="at most two alleles at a locus, one from each parent",
            repair="Leave out what the animal does not carry.",
        )
    recessive = [
        catalogue.alleles[mention.allele].inheritance is Inheritance.RECESSIVE for mention in named
    ]
    hidden = [mention.form is Form.HET for mention in named]
    if any(hidden) and all(recessive):
        first, second = sorted(mention.allele for mention in named)
        return MorphProblem(
            found=f"{words}, alleles of one locus ({locus})",
            expected="one het alone, or one copy of each, which shows",
            repair=f"Write {first + ' ' + second!r} for one copy of each.",
        )
    if any(mention.carried_on for mention in named):
        return _one_copy_only(words)
    pair = sorted_pair(named[0].allele, named[1].allele)
    return Claim(locus=locus, kind=ClaimKind.VISUAL, pairs=(pair,))


def _checked_carrier(claim: Claim, words: str, catalogue: Catalogue) -> Claim | MorphProblem:
    if not is_sex_linked(claim.locus, catalogue):
        return MorphProblem(
            found=f"{words!r} on {claim.carried_on}",
            expected="a sex chromosome for a sex-linked gene only",
            repair=f"Leave out 'on {claim.carried_on}'.",
        )
    if claim.pairs[0][0] != WILD or claim.pairs[0][1] == WILD:
        return _one_copy_only(repr(words))
    return claim


def _one_copy_only(words: str) -> MorphProblem:
    return MorphProblem(
        found=f"{words} with a sex chromosome named",
        expected="'on X' or 'on Y' after a gene with one copy",
        repair="Leave out the chromosome: two copies lie on both.",
    )


def _named_twice(named: list[Mention], catalogue: Catalogue) -> MorphProblem:
    alleles = [mention.allele for mention in named]
    repeated = next(mention for mention in named if alleles.count(mention.allele) > 1)
    words = [mention.words for mention in named if mention.allele == repeated.allele]
    allele = catalogue.alleles.get(repeated.allele)
    repair = f"Leave out {words[1]!r}." if words[0] == words[1] else "Write the one that is true."
    if allele and allele.inheritance is not Inheritance.RECESSIVE:
        repair = f"Write {allele.super_name!r} for two copies, {allele.name!r} for one."
    return MorphProblem(
        found=f"{words[0]!r} twice" if words[0] == words[1] else _listed(words),
        expected="each gene once",
        repair=repair,
    )


def _listed(words: Sequence[str]) -> str:
    quoted = [repr(word) for word in words]
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}"
