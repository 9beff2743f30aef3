"""Joint chances of kin and their crosses against a sum over every genotype of every animal."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings

from brumal.genetics.crosses.clutch_odds import chance_of_one
from brumal.genetics.crosses.cross import cross, marginal
from brumal.genetics.crosses.pair_odds import cross_pair, joint_belief, joint_cases
from brumal.genetics.evidence.infer import Inferred, infer
from brumal.genetics.genotypes import ClaimKind, Diplotype
from brumal.records.animals import Animal, Sex
from genes_for_tests import SHOP, claim, morph, pair
from looped_kin import NAMES, Joint, kin, summed

POSSIBLE = ClaimKind.POSSIBLE_HET


@settings(max_examples=25, deadline=None)
@given(kin())
def test_joints_against_enumeration(drawn: tuple[str, Inferred, Joint]) -> None:
    name, found, expected = drawn
    count = len(next(iter(expected)))
    wild = ((("+",) * len(NAMES[name].loci),) * 2, 1.0)
    beliefs = [found.genotypes[f"A{p}"].groups.get(name, (wild,)) for p in range(count)]
    for place, belief in enumerate(beliefs):
        marginals = {key[0]: p for key, p in summed(expected, (place,)).items()}
        assert dict(belief) == pytest.approx(marginals, abs=1e-12)
    for first, second in itertools.permutations(range(count), 2):
        joint = joint_belief(found, f"A{first}", f"A{second}", name)
        table = (
            dict(joint)
            if joint is not None
            else {
                (a, b): p * q
                for (a, p), (b, q) in itertools.product(beliefs[first], beliefs[second])
            }
        )
        assert table == pytest.approx(summed(expected, (first, second)), abs=1e-11)


@settings(max_examples=20, deadline=None)
@given(kin())
def test_all_animals_together_against_enumeration(drawn: tuple[str, Inferred, Joint]) -> None:
    name, found, expected = drawn
    count = len(next(iter(expected)))
    blocks = joint_cases(found, [f"A{p}" for p in range(count)], name, 100_000)
    held = sorted(int(i[1:]) for block in blocks for i in block.ids)
    table: Joint = {}
    for together in itertools.product(*(block.cases or () for block in blocks)):
        at = {i: d for block, (_, case) in zip(blocks, together, strict=True)
              for i, d in zip(block.ids, case, strict=True)}  # fmt: skip
        table[tuple(at[f"A{p}"] for p in held)] = math.prod(weight for weight, _ in together)
    assert table == pytest.approx(summed(expected, tuple(held)), abs=1e-12)


@settings(max_examples=20, deadline=None)
@given(kin())
def test_crosses_of_kin_against_enumeration(drawn: tuple[str, Inferred, Joint]) -> None:
    name, found, expected = drawn
    animals = found.collection.animals
    dams = [i for i, a in animals.items() if a.sex is Sex.FEMALE]
    sires = [i for i, a in animals.items() if a.sex is Sex.MALE]
    mutant = (("Clown",) if name == "clown" else ("Alpha", "Beta"),) * 2
    for dam, sire in itertools.product(dams, sires):
        young = cross_pair(found, dam, sire)
        expected_one = 0.0
        for (d, s), weight in summed(expected, (int(dam[1:]), int(sire[1:]))).items():
            recombination = NAMES[name].recombination
            p = strand_chance(d, mutant[0], recombination) * strand_chance(
                s, mutant[0], recombination
            )
            expected_one += weight * (1 - (1 - p) ** 6)
        chance = chance_of_one(young, {name: lambda found: found == mutant}, 6, SHOP)
        assert chance == pytest.approx(expected_one, abs=1e-11)


def strand_chance(
    parent: Diplotype, wanted: tuple[str, ...], recombination: tuple[float, ...]
) -> float:
    """Sum over the strands that a gamete may copy."""
    total = 0.0
    for path in itertools.product((0, 1), repeat=len(wanted)):
        chance = 0.5
        for left, right, r in zip(path, path[1:], recombination, strict=False):
            chance *= r if left != right else 1 - r
        if tuple(parent[strand][place] for place, strand in enumerate(path)) == wanted:
            total += chance
    return total


def litter() -> Inferred:
    animals = [
        Animal(id="D", sex=Sex.FEMALE),
        Animal(id="S", sex=Sex.MALE),
        Animal(id="SIS", sex=Sex.FEMALE, dam="D", sire="S"),
        Animal(id="BRO", sex=Sex.MALE, dam="D", sire="S"),
        Animal(id="OTHER", sex=Sex.FEMALE),
    ]
    half = morph(claim(SHOP, "Clown", POSSIBLE, chance=0.5))
    return infer(animals, {"D": half, "OTHER": half}, [], SHOP)


def test_sibs_of_a_possible_het_dam_share_her() -> None:
    # Both are het only if she is: P = 1/2 x 1/4 = 1/8, not 1/16 (recomputed by hand).
    found = litter()
    joint = dict(joint_belief(found, "SIS", "BRO", "clown") or ())
    assert joint[pair("+", "Clown"), pair("+", "Clown")] == pytest.approx(1 / 8, abs=1e-15)
    visual = pair("Clown", "Clown")
    exact = {odds.group: odds for odds in cross_pair(found, "SIS", "BRO").groups}["clown"]
    assert dict(marginal(exact))[visual] == pytest.approx(1 / 32, abs=1e-15)
    naive = cross(found.genotypes["SIS"], found.genotypes["BRO"], SHOP)
    apart = {odds.group: odds for odds in naive.groups}["clown"]
    assert dict(marginal(apart))[visual] == pytest.approx(1 / 64, abs=1e-15)


def test_strangers_keep_shared_odds() -> None:
    found = litter()
    assert joint_belief(found, "OTHER", "BRO", "clown") is None
    assert joint_belief(found, "SIS", "BRO", "pied") is None
    young = cross_pair(found, "OTHER", "BRO")
    apart = cross(found.genotypes["OTHER"], found.genotypes["BRO"], SHOP)
    assert all(a is b for a, b in zip(young.groups, apart.groups, strict=True))


def test_too_many_states_are_said_openly() -> None:
    blocks = joint_cases(litter(), ["D", "SIS", "BRO", "OTHER", "S"], "clown", 7)
    assert [(block.ids, block.states, block.cases is None) for block in blocks] == [
        (("D", "BRO", "SIS"), 8, True),
        (("OTHER",), 2, False),
    ]
    assert joint_cases(litter(), ["D"], "pied", 7) == ()
