"""Meiosis against published map values and an enumeration of every crossover pattern."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.genetics.catalogue.genes import LinkageGroup
from brumal.genetics.crosses.meiosis import (
    gametes,
    is_wild,
    sex_of,
    wild_pair,
)
from brumal.genetics.genotypes import Diplotype, diplotype
from brumal.records.animals import Sex


def test_three_loci_without_interference() -> None:
    # r13 = r12 + r23 - 2 r12 r23: .1 and .2 give .26 (Haldane 1919, from memory).
    odds = dict(gametes((("A", "B", "C"), ("a", "b", "c")), (0.1, 0.2)))
    crossed = sum(p for h, p in odds.items() if (h[0] == "A") != (h[2] == "C"))
    assert crossed == pytest.approx(0.26, abs=1e-15)


def test_banana_on_the_y_goes_to_sons() -> None:
    # Split (1-r) : r between sons and daughters (common practice, no source).
    odds = dict(gametes((("X", "+"), ("Y", "Banana")), (0.05,)))
    assert odds == pytest.approx(
        {("Y", "Banana"): 0.475, ("X", "+"): 0.475, ("X", "Banana"): 0.025, ("Y", "+"): 0.025}
    )


def every_crossover(
    pair: Diplotype, recombination: tuple[float, ...]
) -> dict[tuple[str, ...], float]:
    """Enumerate the starting strand and each subset of intervals that cross over."""
    odds: dict[tuple[str, ...], float] = {}
    for start in (0, 1):
        for crossings in itertools.product((False, True), repeat=len(recombination)):
            chance, strand, copied = 0.5, start, [pair[start][0]]
            for locus, (crosses, fraction) in enumerate(
                zip(crossings, recombination, strict=True), start=1
            ):
                chance *= fraction if crosses else 1 - fraction
                strand = 1 - strand if crosses else strand
                copied.append(pair[strand][locus])
            if chance:
                odds[tuple(copied)] = odds.get(tuple(copied), 0.0) + chance
    return odds


@given(st.data())
def test_gametes_against_every_crossover_pattern(data: st.DataObject) -> None:
    loci = data.draw(st.integers(1, 5))
    allele = st.sampled_from(["+", "m", "l"])
    strand = st.tuples(*[allele] * loci)
    pair = diplotype(data.draw(strand), data.draw(strand))
    recombination = data.draw(st.tuples(*[st.sampled_from([0, 0.01, 0.1, 0.26, 0.5])] * (loci - 1)))
    odds = gametes(pair, recombination)
    assert dict(odds) == pytest.approx(every_crossover(pair, recombination), abs=1e-14)
    assert list(odds) == sorted(odds)


def test_wrong_number_of_fractions() -> None:
    with pytest.raises(ValueError, match="does not fit 3 loci"):
        gametes((("+", "m"), ("+", "+")), (0.1, 0.2))


def test_wild_pairs() -> None:
    sexes = LinkageGroup(id="sex", loci=("sex", "banana"), recombination=(0.1,))
    assert wild_pair(sexes, Sex.FEMALE) == (("X", "+"), ("X", "+"))
    assert wild_pair(sexes, Sex.MALE) == (("X", "+"), ("Y", "+"))
    assert is_wild(wild_pair(sexes, Sex.MALE))
    assert not is_wild((("X", "+"), ("Y", "Banana")))
    assert sex_of((("X", "Banana"), ("Y", "+"))) is Sex.MALE
    assert sex_of((("X", "+"), ("X", "+"))) is Sex.FEMALE
