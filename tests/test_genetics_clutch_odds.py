"""Clutch odds against published tables, counting of whole clutches and simulated meioses."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from brumal.genetics.catalogue.genes import Catalogue, LinkageGroup
from brumal.genetics.crosses.clutch_odds import (
    HiddenPair,
    chance_of_one,
    count_distribution,
    success_chances,
    visual_classes,
)
from brumal.genetics.crosses.cross import cross
from brumal.genetics.genotypes import Belief, Diplotype, Genotype, diplotype
from brumal.genetics.looks import shown_pair
from genes_for_tests import (
    DOMINANT,
    INCOMPLETE,
    MALE,
    RECESSIVE,
    catalogue_of,
    certain,
    female,
    het,
    male,
    pair,
    sex_linked,
    visual,
)

GENES = catalogue_of(
    {
        "Clown": ("clown", RECESSIVE),
        "Pied": ("pied", RECESSIVE),
        "Pastel": ("pastel", INCOMPLETE),
        "Pinstripe": ("pinstripe", DOMINANT),
        "Candy": ("albino", RECESSIVE),
        "Albino": ("albino", RECESSIVE),
    }
)


def is_clown(found: Diplotype) -> bool:
    return found == pair("Clown", "Clown")


def test_two_thirds_carrier_on_a_visual() -> None:
    # P(at least one visual of six) = 2/3 (1 - 1/64) = 21/32, not .91221 (Young; Bridge 1997,
    # from memory; recomputed).
    young = cross(female(clown=visual("Clown")), male(clown=het("Clown", 2 / 3)), GENES)
    found = chance_of_one(young, {"clown": is_clown}, 6, GENES)
    assert found == pytest.approx(21 / 32, abs=1e-15)
    assert found == pytest.approx(
        1 - count_distribution(young, {"clown": is_clown}, 6, GENES)[0], abs=1e-15
    )


# P(at least one) for known genotypes: 1 - (3/4)^n and 1 - (1/2)^n (recomputed).
@pytest.mark.parametrize(
    ("eggs", "quarter", "half"),
    [
        (4, 0.683594, 0.9375),
        (6, 0.822021, 0.984375),
        (8, 0.899887, 0.996094),
        (10, 0.943686, 0.999023),
        (11, 0.957765, 0.999512),
    ],
)
def test_at_least_one_as_tabled(eggs: int, quarter: float, half: float) -> None:
    hets = cross(female(clown=het("Clown")), male(clown=het("Clown")), GENES)
    assert chance_of_one(hets, {"clown": is_clown}, eggs, GENES) == pytest.approx(quarter, abs=6e-7)
    tested = cross(female(clown=visual("Clown")), male(clown=het("Clown")), GENES)
    assert chance_of_one(tested, {"clown": is_clown}, eggs, GENES) == pytest.approx(half, abs=6e-7)


def test_groups_left_out_are_wild() -> None:
    young = cross(female(), male(), GENES)
    assert chance_of_one(young, {"clown": is_clown}, 6, GENES) == 0.0
    assert chance_of_one(young, {"clown": lambda found: not is_clown(found)}, 6, GENES) == 1.0
    assert count_distribution(young, {}, 3, GENES).tolist() == [0, 0, 0, 1]
    assert chance_of_one(young, {}, 0, GENES) == 0.0


def counted(cases: list[tuple[Fraction, Fraction]], counts: list[Fraction]) -> list[Fraction]:
    """Count by brute force: every pattern of hits and misses, in exact fractions."""
    total = [Fraction(0)] * len(counts)
    for weight, chance in cases:
        for number, share in enumerate(counts):
            for pattern in itertools.product((0, 1), repeat=number):
                p = Fraction(1)
                for hit in pattern:
                    p *= chance if hit else 1 - chance
                total[sum(pattern)] += weight * share * p
    return total


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_counts_against_every_pattern(data: st.DataObject) -> None:
    carriers = [
        data.draw(st.sampled_from([Fraction(1, 2), Fraction(2, 3), Fraction(1)])) for _ in range(3)
    ]
    weights = data.draw(st.lists(st.integers(0, 4), min_size=1, max_size=6).filter(any))
    counts = [Fraction(w, sum(weights)) for w in weights]
    young = cross(
        female(clown=het("Clown", float(carriers[0])), pied=het("Pied", float(carriers[1]))),
        male(clown=het("Clown", float(carriers[2])), pied=visual("Pied")),
        GENES,
    )
    predicates = {"clown": is_clown, "pied": lambda found: found == pair("Pied", "Pied")}
    cases = []
    for flags in itertools.product((True, False), repeat=3):
        weight = Fraction(1)
        for carrier, flag in zip(carriers, flags, strict=True):
            weight *= carrier if flag else 1 - carrier
        clown = Fraction(1, 4) if flags[0] and flags[2] else Fraction(0)
        cases.append((weight, clown * (Fraction(1, 2) if flags[1] else 0)))
    expected = [float(p) for p in counted(cases, counts)]
    pmf = np.array([float(p) for p in counts])
    found = count_distribution(young, predicates, pmf, GENES)
    assert found == pytest.approx(expected, abs=1e-12)
    assert chance_of_one(young, predicates, pmf, GENES) == pytest.approx(1 - expected[0], abs=1e-12)
    mixed = success_chances(young, predicates, GENES)
    assert sum(weight for _, weight in mixed) == pytest.approx(1, abs=1e-12)


def test_looks_of_two_double_hets() -> None:
    both = {"clown": het("Clown"), "pied": het("Pied")}
    looks = visual_classes(cross(female(**both), male(**both), GENES), GENES)
    # 9:3:3:1 (any textbook), each normal-looking locus a 2/3 possible het.
    assert [look.chance for look in looks] == [9 / 16, 3 / 16, 3 / 16, 1 / 16]
    assert looks[0].shown == ()
    assert [(hidden.locus, hidden.pair) for hidden in looks[0].hidden] == [
        ("clown", ("+", "Clown")),
        ("pied", ("+", "Pied")),
    ]
    assert [hidden.chance for hidden in looks[0].hidden] == pytest.approx([2 / 3] * 2, abs=1e-15)
    assert looks[3].shown == (("clown", ("Clown", "Clown")), ("pied", ("Pied", "Pied")))
    assert looks[3].hidden == ()


def test_fifty_percent_hets_and_certain_hets() -> None:
    looks = visual_classes(cross(female(clown=het("Clown")), male(), GENES), GENES)
    assert looks[0].hidden == (HiddenPair(locus="clown", pair=("+", "Clown"), chance=0.5),)
    looks = visual_classes(cross(female(clown=visual("Clown")), male(), GENES), GENES)
    assert looks[0].hidden == (HiddenPair(locus="clown", pair=("+", "Clown"), chance=1.0),)


def test_supers_dominants_and_recessive_complexes() -> None:
    assert shown_pair(("Pastel", "Pastel"), GENES) == ("Pastel", "Pastel")
    assert shown_pair(("Pinstripe", "Pinstripe"), GENES) == ("+", "Pinstripe")
    assert shown_pair(("Albino", "Candy"), GENES) == ("Albino", "Candy")
    assert shown_pair(("+", "Candy"), GENES) == ("+", "+")
    looks = visual_classes(
        cross(female(pinstripe=het("Pinstripe")), male(pinstripe=het("Pinstripe")), GENES), GENES
    )
    assert looks[0].shown == (("pinstripe", ("+", "Pinstripe")),)
    assert looks[0].chance == 0.75
    assert looks[0].hidden[0].pair == ("Pinstripe", "Pinstripe")
    assert looks[0].hidden[0].chance == pytest.approx(1 / 3, abs=1e-15)


def test_share_of_females_among_bananas() -> None:
    genes = catalogue_of(
        {"Banana": ("banana", INCOMPLETE)}, linked=(sex_linked("banana", recombination=(0.05,)),)
    )
    dam = Genotype({"sex": certain((("X", "+"), ("X", "+")))})
    sire = Genotype({"sex": certain((("X", "+"), ("Y", "Banana")))})
    looks = {look.shown: look for look in visual_classes(cross(dam, sire, genes), genes)}
    assert looks[("banana", ("+", "Banana")),].female == pytest.approx(0.05)
    assert looks[()].female == pytest.approx(0.95)


# --- whole clutches by simulated meioses ---------------------------------------------------------

LINKED: Catalogue = catalogue_of(
    {"a": ("A", RECESSIVE), "b": ("B", RECESSIVE), "Clown": ("clown", RECESSIVE)},
    linked=(LinkageGroup(id="ab", loci=("A", "B"), recombination=(0.2,)),),
)


def simulated_counts(clutches: int, eggs: int, rng: np.random.Generator) -> np.ndarray:
    """Draw parents, then gametes strand by strand; count a/a b/b Clown young in each clutch."""
    repulsion = (("+", "b"), ("a", "+"))
    coupling = (("+", "+"), ("a", "b"))
    counts = np.zeros(eggs + 1, int)
    for _ in range(clutches):
        dam = coupling if rng.random() < 0.6 else repulsion
        carrier = rng.random() < 2 / 3
        hits = 0
        for _ in range(eggs):
            strand = rng.integers(2)
            after = strand if rng.random() >= 0.2 else 1 - strand
            double = (dam[strand][0], dam[after][1]) == ("a", "b")
            clown = carrier and rng.random() < 0.5
            hits += double and clown
        counts[hits] += 1
    return counts


def test_counts_against_simulated_clutches() -> None:
    dam_ab: Belief = (
        (diplotype(("+", "+"), ("a", "b")), 0.6),
        (diplotype(("+", "b"), ("a", "+")), 0.4),
    )
    tester = certain(diplotype(("a", "b"), ("a", "b")))
    young = cross(
        female(ab=dam_ab, clown=het("Clown", 2 / 3)), male(ab=tester, clown=visual("Clown")), LINKED
    )
    predicates = {"ab": lambda found: found == (("a", "b"), ("a", "b")), "clown": is_clown}
    expected = count_distribution(young, predicates, 6, LINKED)
    observed = simulated_counts(8000, 6, np.random.default_rng(20260101))
    # Pool the rare tail so that each cell expects five or more.
    cut = int(np.searchsorted(-8000 * expected, -5))
    observed = np.append(observed[:cut], observed[cut:].sum())
    pooled = np.append(expected[:cut], expected[cut:].sum()) * 8000
    assert stats.chisquare(observed, pooled).pvalue > 0.01
    # The same clutches refuse the naive figure that takes siblings for independent.
    naive = stats.binom(6, 1 / 3 * (0.6 * 0.4 + 0.4 * 0.1)).pmf(np.arange(7))
    naive = np.append(naive[:cut], naive[cut:].sum()) * 8000
    assert stats.chisquare(observed, naive * observed.sum() / naive.sum()).pvalue < 1e-6


def test_mendels_own_counts() -> None:
    # Mendel 1866 (from memory): dihybrid F2 315, 101, 108, 32; chi-square 0.47002 on 3 df.
    both = {"clown": het("Clown"), "pied": het("Pied")}
    looks = visual_classes(cross(female(**both), male(**both), GENES), GENES)
    expected = [556 * look.chance for look in looks]
    assert stats.chisquare([315, 101, 108, 32], expected).statistic == pytest.approx(
        0.47002, abs=5e-6
    )


def test_sexes_are_even() -> None:
    young = cross(female(), male(), GENES)
    assert chance_of_one(young, {"sex": lambda found: found == MALE}, 1, GENES) == 0.5
