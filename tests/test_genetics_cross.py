"""Crosses against textbook expectations and an enumeration of whole gametes over all loci."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.catalogue.genes import Catalogue, LinkageGroup
from brumal.genetics.crosses.cross import cross, group_odds_of_joint, marginal
from brumal.genetics.crosses.meiosis import is_wild
from brumal.genetics.genotypes import Belief, Diplotype, Genotype, GroupOdds, Offspring, diplotype
from genes_for_tests import (
    FEMALE,
    INCOMPLETE,
    MALE,
    RECESSIVE,
    SHOP,
    catalogue_of,
    certain,
    female,
    het,
    male,
    pair,
    sex_linked,
    visual,
)

PLAIN = catalogue_of(
    {
        "Clown": ("clown", RECESSIVE),
        "Albino": ("albino", RECESSIVE),
        "Lavender": ("lavender", RECESSIVE),
        "m": ("bel", INCOMPLETE),
        "l": ("bel", INCOMPLETE),
    }
)


def linked(fraction: float) -> Catalogue:
    return catalogue_of(
        {"a": ("A", RECESSIVE), "b": ("B", RECESSIVE)},
        linked=(LinkageGroup(id="ab", loci=("A", "B"), recombination=(fraction,)),),
    )


def at(offspring: Offspring, group: str) -> dict[Diplotype, float]:
    return dict(marginal(odds_at(offspring, group)))


def odds_at(offspring: Offspring, group: str) -> GroupOdds:
    return next(odds for odds in offspring.groups if odds.group == group)


def test_monohybrid() -> None:
    # Aa x Aa: 1/4, 1/2, 1/4 (any textbook, e.g. Griffiths et al., from memory).
    young = cross(female(clown=het("Clown")), male(clown=het("Clown")), PLAIN)
    assert at(young, "clown") == {
        pair("+", "+"): 0.25,
        pair("+", "Clown"): 0.5,
        pair("Clown", "Clown"): 0.25,
    }


def test_wild_young_are_left_out_but_the_sexes_never() -> None:
    young = cross(female(), male(), PLAIN)
    assert [odds.group for odds in young.groups] == ["sex"]
    assert at(young, "sex") == {FEMALE: 0.5, MALE: 0.5}
    again = cross(female(clown=visual("Clown")), male(), PLAIN)
    assert odds_at(again, "sex") is odds_at(young, "sex")


def test_pairs_of_equal_genotypes_share_their_odds() -> None:
    one = cross(female(clown=het("Clown", 2 / 3)), male(clown=visual("Clown")), PLAIN)
    other = cross(female(clown=het("Clown", 2 / 3)), male(clown=visual("Clown")), PLAIN)
    assert odds_at(one, "clown") is odds_at(other, "clown")


def test_complex() -> None:
    # +/m x +/l: 1/4 each of ++, +m, +l, ml; m/l x ++: no wild type at all (textbook, recomputed).
    young = cross(female(bel=het("m")), male(bel=het("l")), PLAIN)
    assert at(young, "bel") == {
        pair("+", "+"): 0.25,
        pair("+", "m"): 0.25,
        pair("+", "l"): 0.25,
        pair("l", "m"): 0.25,
    }
    young = cross(female(bel=certain(pair("l", "m"))), male(), PLAIN)
    assert at(young, "bel") == {pair("+", "m"): 0.5, pair("+", "l"): 0.5}


def test_albino_by_lavender_nine_to_seven() -> None:
    # Three albino looks at three loci: F1 all normal double carriers, F2 9:7 (recomputed).
    first = cross(female(albino=visual("Albino")), male(lavender=visual("Lavender")), PLAIN)
    assert at(first, "albino") == {pair("+", "Albino"): 1.0}
    assert at(first, "lavender") == {pair("+", "Lavender"): 1.0}
    doubles = {"albino": het("Albino"), "lavender": het("Lavender")}
    second = cross(female(**doubles), male(**doubles), PLAIN)
    pigmented = 1.0
    for group, allele in (("albino", "Albino"), ("lavender", "Lavender")):
        pigmented *= 1 - at(second, group)[pair(allele, allele)]
    assert pigmented == 9 / 16


def test_possible_hets() -> None:
    # Two 2/3 carriers: 1/9 visual; 2/3 carrier on a visual: 1/3 (Young; Bridge 1997, from memory).
    both = cross(female(clown=het("Clown", 2 / 3)), male(clown=het("Clown", 2 / 3)), PLAIN)
    assert at(both, "clown")[pair("Clown", "Clown")] == pytest.approx(1 / 9, abs=1e-15)
    odds = odds_at(
        cross(female(clown=het("Clown", 2 / 3)), male(clown=visual("Clown")), PLAIN), "clown"
    )
    assert [case.weight for case in odds.cases] == pytest.approx([2 / 3, 1 / 3], abs=1e-15)
    assert dict(marginal(odds))[pair("Clown", "Clown")] == pytest.approx(1 / 3, abs=1e-15)


def test_linked_test_cross() -> None:
    # AB/ab on ab/ab at r = .1: .45 .05 .05 .45 (recomputed).
    parent = {"ab": certain(diplotype(("+", "+"), ("a", "b")))}
    tester = {"ab": certain(diplotype(("a", "b"), ("a", "b")))}
    young = at(cross(female(**parent), male(**tester), linked(0.1)), "ab")
    assert young == pytest.approx(
        {
            diplotype(("+", "+"), ("a", "b")): 0.45,
            diplotype(("+", "b"), ("a", "b")): 0.05,
            diplotype(("a", "+"), ("a", "b")): 0.05,
            diplotype(("a", "b"), ("a", "b")): 0.45,
        }
    )


def test_which_grand_sire_passed_banana_shows_in_the_sexes() -> None:
    # A male's phase decides: on the Y most Bananas are sons, on the X most are daughters.
    genes = catalogue_of(
        {"Banana": ("banana", INCOMPLETE)}, linked=(sex_linked("banana", recombination=(0.05,)),)
    )
    dam = Genotype({"sex": certain((("X", "+"), ("X", "+")))})
    son, daughter = (("X", "+"), ("Y", "Banana")), (("X", "+"), ("X", "Banana"))
    on_y = Genotype({"sex": certain((("X", "+"), ("Y", "Banana")))})
    assert at(cross(dam, on_y, genes), "sex")[son] == pytest.approx(0.475)
    assert at(cross(dam, on_y, genes), "sex")[daughter] == pytest.approx(0.025)
    on_x = Genotype({"sex": certain((("X", "Banana"), ("Y", "+")))})
    assert at(cross(dam, on_x, genes), "sex")[son] == pytest.approx(0.025)
    assert at(cross(dam, on_x, genes), "sex")[daughter] == pytest.approx(0.475)


def test_parents_of_open_sex_take_their_role_and_wrong_sexes_are_refused() -> None:
    either = Genotype({"sex": ((FEMALE, 0.5), (MALE, 0.5))})
    assert at(cross(either, either, PLAIN), "sex") == {FEMALE: 0.5, MALE: 0.5}
    with pytest.raises(ValueError, match="dam is certainly male"):
        cross(male(), male(), PLAIN)
    with pytest.raises(ValueError, match="sire is certainly female"):
        cross(female(), female(), PLAIN)


def test_joint_parents() -> None:
    # Both parents het or neither (one hidden cause): 1/2 of the clutches hold 1/4 visuals each.
    wild, carrier = pair("+", "+"), pair("+", "Clown")
    odds = group_odds_of_joint("clown", (((wild, wild), 0.5), ((carrier, carrier), 0.5)), ())
    assert odds is not None
    assert dict(marginal(odds))[pair("Clown", "Clown")] == 0.125
    assert len(odds.cases) == 2


# --- the whole cross at once, by an independent enumeration over every locus together -------------


def strands(parent: tuple[Diplotype, ...], fractions: tuple[tuple[float, ...], ...]) -> Iterator:
    """Yield each whole gamete over all groups, one crossover pattern at a time."""
    choices = []
    for (first, second), between in zip(parent, fractions, strict=True):
        patterns = []
        for strands_taken in itertools.product((0, 1), repeat=len(first)):
            chance = 0.5
            for left, right, fraction in zip(
                strands_taken, strands_taken[1:], between, strict=False
            ):
                chance *= fraction if left != right else 1 - fraction
            copied = tuple((first, second)[s][i] for i, s in enumerate(strands_taken))
            patterns.append((copied, chance))
        choices.append(patterns)
    for together in itertools.product(*choices):
        chance = 1.0
        for _, p in together:
            chance *= p
        yield tuple(copied for copied, _ in together), chance


def enumerated(
    dam: tuple[Belief, ...], sire: tuple[Belief, ...], fractions: tuple[tuple[float, ...], ...]
) -> dict[tuple[Diplotype, ...], float]:
    total: dict[tuple[Diplotype, ...], float] = {}
    for mother in itertools.product(*dam):
        for father in itertools.product(*sire):
            weight = 1.0
            for _, p in (*mother, *father):
                weight *= p
            eggs = list(strands(tuple(d for d, _ in mother), fractions))
            sperm = list(strands(tuple(d for d, _ in father), fractions))
            for egg, p in eggs:
                for other, q in sperm:
                    young = tuple(tuple(sorted(two)) for two in zip(egg, other, strict=True))
                    total[young] = total.get(young, 0.0) + weight * p * q  # type: ignore[index, arg-type]
    return total


@st.composite
def beliefs(draw: st.DrawFn, loci: int) -> Belief:
    strand = st.tuples(*[st.sampled_from(["+", "m", "l"])] * loci)
    pairs = draw(
        st.lists(st.builds(diplotype, strand, strand), min_size=1, max_size=2, unique=True)
    )
    share = draw(st.sampled_from([0.5, 2 / 3, 0.1]))
    return ((pairs[0], 1.0),) if len(pairs) == 1 else ((pairs[0], share), (pairs[1], 1 - share))


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_any_cross_against_full_enumeration(data: st.DataObject) -> None:
    sizes = data.draw(st.lists(st.integers(1, 2), min_size=1, max_size=3))
    groups, fractions = [], []
    for index, loci in enumerate(sizes):
        between = tuple(data.draw(st.sampled_from([0.0, 0.1, 0.37, 0.5])) for _ in range(loci - 1))
        names = tuple(f"g{index}l{place}" for place in range(loci))
        groups.append(LinkageGroup(id=f"g{index}", loci=names, recombination=between))
        fractions.append(between)
    genes = catalogue_of({}, linked=groups)
    dam = tuple(data.draw(beliefs(loci)) for loci in sizes)
    sire = tuple(data.draw(beliefs(loci)) for loci in sizes)
    ids = [group.id for group in groups]
    young = cross(
        female(**dict(zip(ids, dam, strict=True))), male(**dict(zip(ids, sire, strict=True))), genes
    )
    expected = enumerated(dam, sire, tuple(fractions))
    tables = {odds.group: odds for odds in young.groups if odds.group != "sex"}
    left_out = [group for group in ids if group not in tables]
    found: dict[tuple[Diplotype, ...], float] = {}
    full = [
        marginal(tables[g.id]) if g.id in tables else ((((("+",) * len(g.loci),) * 2), 1.0),)
        for g in groups
    ]
    for together in itertools.product(*full):
        chance = 1.0
        for _, p in together:
            chance *= p
        found[tuple(d for d, _ in together)] = chance  # type: ignore[index]
    seen = {key: p for key, p in expected.items() if p > 0}
    assert {key: p for key, p in found.items() if p > 0} == pytest.approx(seen, abs=1e-12)
    for group in left_out:
        place = ids.index(group)
        assert all(is_wild(key[place]) for key in seen)
    for odds in tables.values():
        assert sum(case.weight for case in odds.cases) == pytest.approx(1, abs=1e-12)


def test_shop_catalogue_holds_every_locus_in_one_group() -> None:
    placed = [locus for group in SHOP.groups.values() for locus in group.loci]
    assert sorted(placed) == sorted({*SHOP.loci, "sex"})
