"""Published series of crosses, as far as snakes can follow them.

Servin, Martin, Mezard & Hospital 2004, Genetics 168:513-523, as printed by Canzar & El-Kebir 2011,
WABI, LNCS 6833:26-38, whose pepper example stands here too. Both select one young a cross and end
with a selfing; a snake does not self, so that the last step needs a male and a female of the
genotype (figures recomputed in exact arithmetic apart from the tool). Numbers of young asked for
each cross, n = ln(1 - g) / ln(1 - p), come from odds that the crosses here give.
"""

from __future__ import annotations

import math

import pytest

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.genotypes import Haplotype, diplotype
from brumal.genetics.wishes import wish_of
from brumal.records.animals import Sex
from brumal.records.faults import is_error
from brumal.routes.genes import Genes, TargetGenes, target_genes
from brumal.routes.selection import best_of_clutch

R20 = (1 - math.exp(-0.4)) / 2
"""Haldane's recombination fraction at 20 centimorgans: 0.16483998."""


def linked(fractions: tuple[float, ...]) -> TargetGenes:
    """Return the genes of a target homozygous at loci on one chromosome, in this order."""
    names = [f"Line {letter}" for letter in "ABCDEFGH"[: len(fractions) + 1]]
    genes = "".join(f"  - {{name: {name}, inheritance: recessive}}\n" for name in names)
    loci = ", ".join(name.lower() for name in names)
    shares = ", ".join(f"{fraction!r}" for fraction in fractions)
    linkage = f"  - {{group: chromosome, loci: [{loci}], recombination: [{shares}]}}\n"
    catalogue, faults = load_catalogue(f"genes:\n{genes}linkage:\n{linkage}", "genes.yaml")
    assert not [fault for fault in faults if is_error(fault)]
    wish, problems = wish_of(", ".join(names), catalogue)
    assert wish is not None, problems
    return target_genes(wish, catalogue)


def strand(genes: TargetGenes, carried: str) -> Haplotype:
    """Return a haplotype from ones and zeros."""
    loci = genes.groups[1].loci
    alleles = [genes.catalogue.loci[locus][0] for locus in loci]
    return tuple(a if bit == "1" else "+" for a, bit in zip(alleles, carried, strict=True))


def animal(genes: TargetGenes, sex: Sex, one: str, other: str) -> Genes:
    sexes = genes.founder({}, sex)[0]
    return (sexes, diplotype(strand(genes, one), strand(genes, other)))


def odds(genes: TargetGenes, parents: tuple[str, str], wanted: tuple[str, str]) -> float:
    """Return the share of the wanted genotype, of either sex, among the young of two parents."""
    kinds = [
        genes.kind(animal(genes, sex, *parent.split("/")))
        for sex, parent in zip((Sex.FEMALE, Sex.MALE), parents, strict=True)
    ]
    brood = genes.brood(*kinds)
    target = diplotype(strand(genes, wanted[0]), strand(genes, wanted[1]))
    if genes.is_target((genes.genes(kinds[0])[0], target)):
        return brood.target
    return sum(
        alike.share * chance
        for alike in brood.others
        for kind, chance in alike.kinds
        if genes.genes(kind)[1] == target
    )


def young_for(wished: float, share: float) -> int:
    return 1 if share == 1 else math.ceil(math.log(1 - wished) / math.log(1 - share))


def pair_for(wished: float, share: float) -> int:
    """Return the young needed for a male and a female of a genotype with this share."""

    def of(count: int) -> float:
        exactly = (*([0.0] * count), 1.0)
        table = best_of_clutch(exactly, ((share / 2,), (share / 2,)), 1 - share, (1, 1))
        return sum(chance for (hers, his), chance in table if hers and his)

    low, high = 1, 1 << 14
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if of(middle) >= wished else (middle + 1, high)
    return low


def test_the_series_of_four_loci_twenty_centimorgans_apart() -> None:
    genes = linked((R20, R20, R20))
    crosses = [
        (("1000/1000", "0100/0100"), ("1000", "0100")),
        (("1000/0100", "0010/0010"), ("1100", "0010")),
        (("1100/0010", "0001/0001"), ("1110", "0001")),
        (("1110/0001", "0000/0000"), ("1111", "0000")),
        (("1111/0000", "1111/0000"), ("1111", "1111")),
    ]
    shares = [odds(genes, parents, wanted) for parents, wanted in crosses]
    assert shares == pytest.approx([1, 0.0824200, 0.0688340, 0.0574873, 0.0848317], abs=2e-7)
    young = [young_for(0.999, share) for share in shares]
    assert young == [1, 81, 97, 117, 78]
    assert sum(young) == 374
    joint = math.prod(1 - (1 - share) ** count for share, count in zip(shares, young, strict=True))
    assert joint == pytest.approx(0.99610, abs=5e-6)
    # Without selfing the last but one cross must bring a male and a female.
    assert pair_for(0.999, shares[3]) == 261


@pytest.mark.parametrize(
    ("loci", "total", "pair"),
    [(4, 374, 261), (5, 551, 313), (6, 770, 376), (7, 1046, 451), (8, 1394, 540)],
)
def test_the_series_of_four_to_eight_loci(loci: int, total: int, pair: int) -> None:
    genes = linked((R20,) * (loci - 1))

    def ones(first: int, count: int) -> str:
        return "".join("1" if first <= place < first + count else "0" for place in range(loci))

    crosses = []
    for joined in range(1, loci):
        own = (ones(0, joined - 1), ones(joined - 1, 1)) if joined > 1 else (ones(0, 1),) * 2
        new = ones(joined, 1)
        crosses.append(((f"{own[0]}/{own[1]}", f"{new}/{new}"), (ones(0, joined), new)))
    almost, blank = f"{ones(0, loci - 1)}/{ones(loci - 1, 1)}", ones(0, 0)
    crosses.append(((almost, f"{blank}/{blank}"), (ones(0, loci), blank)))
    last = f"{ones(0, loci)}/{blank}"
    crosses.append(((last, last), (ones(0, loci), ones(0, loci))))
    shares = [odds(genes, parents, wanted) for parents, wanted in crosses]
    young = [young_for(0.999, share) for share in shares]
    assert (sum(young), len(crosses)) == (total, loci + 1)
    # Without selfing the last but one cross must bring a male and a female.
    assert pair_for(0.999, shares[-2]) == pair


def test_pepper() -> None:
    # Loci 1-3 unlinked, 3 and 4 at r = .01: here all on one group with fractions one half.
    genes = linked((0.5, 0.5, 0.01))
    pure, mixed = "1110/1110", "1110/0001"
    shares = {
        "double het": odds(genes, (pure, "0001/0001"), ("1110", "0001")),
        "at once": odds(genes, (mixed, pure), ("1111", "1110")),
        "first half": odds(genes, (mixed, pure), ("1101", "1110")),
        "second half": odds(genes, ("1101/1110", pure), ("1111", "1110")),
        "fixed": odds(genes, ("1111/1110", "1111/1110"), ("1111", "1111")),
    }
    assert list(shares.values()) == pytest.approx([1, 0.00125, 0.12375, 0.005, 0.25])
    young = {name: young_for(0.95, share) for name, share in shares.items()}
    three = young["double het"] + young["at once"] + young["fixed"]
    four = young["double het"] + young["first half"] + young["second half"] + young["fixed"]
    assert (three, four) == (2408, 633)
    assert list(young.values()) == [1, 2396, 23, 598, 11]
    # Without selfing the cross before the last must bring a male and a female.
    assert pair_for(0.95, shares["second half"]) == 1469
