"""Joint chances of kin and their crosses against a sum over every genotype of every animal."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.clutch_odds import chance_of_one
from brumal.genetics.cross import cross, marginal
from brumal.genetics.evidence import ClutchYoung, Inferred, infer
from brumal.genetics.genotypes import ClaimKind, Diplotype
from brumal.genetics.pair_odds import cross_pair, joint_belief, joint_cases
from brumal.records.animals import Animal, Sex
from genes_for_tests import SHOP, claim, morph, pair
from genotype_enumeration import Group, Locus, Member, Seen, enumerate_all

HET, POSSIBLE = ClaimKind.HET, ClaimKind.POSSIBLE_HET
NAMES = {
    "clown": Group((Locus("clown", {"Clown": False}),), ()),
    "alpha-beta": Group((Locus("alpha", {"Alpha": False}), Locus("beta", {"Beta": False})), (0.1,)),
}
Joint = dict[tuple[Diplotype, ...], float]


@st.composite
def kin(draw: st.DrawFn) -> tuple[str, Inferred, Joint]:
    """Draw a looped pedigree of possible hets and what enumeration says of it."""
    name = draw(st.sampled_from(sorted(NAMES)))
    alleles = {"clown": ["Clown"], "alpha-beta": ["Alpha", "Beta"]}[name]
    founders, young = draw(st.integers(2, 3)), draw(st.integers(2, 4 if name == "clown" else 2))
    members, animals, morphs, told = [], [], {}, {}
    for place in range(founders + young):
        sex = ("female", "male")[place] if place < 2 else draw(st.sampled_from(["female", "male"]))
        parents = [
            draw(st.sampled_from([p for p, m in enumerate(members) if m.sex == of]))
            if place >= founders
            else None
            for of in ("female", "male")
        ]
        members.append(Member(*parents, sex))
        ids = [None if parent is None else f"A{parent}" for parent in parents]
        animals.append(Animal(id=f"A{place}", sex=Sex(sex), dam=ids[0], sire=ids[1]))
        if place < founders:
            chance = draw(st.sampled_from([0.5, 2 / 3, 0.9]))
            said = morph(*(claim(SHOP, allele, POSSIBLE, chance=chance) for allele in alleles))
            morphs[f"A{place}"] = told[place] = said
    clutches, seen = [], []
    if draw(st.booleans()):
        dam, sire = (
            draw(st.sampled_from([p for p, m in enumerate(members) if m.sex == of]))
            for of in ("female", "male")
        )
        count = draw(st.integers(1, 5))
        clutch = ClutchYoung(dam=f"A{dam}", sire=f"A{sire}", young=((count, morph()),))
        has_young = any((m.dam, m.sire) == (dam, sire) for m in members)
        if not has_young:
            clutches.append(clutch)
            seen.append(Seen(dam, sire, morph(), count))
    found = infer(animals, morphs, clutches, SHOP)
    expected = enumerate_all(NAMES[name], members, told, seen)
    assert expected is not None
    return name, found, expected


def summed(joint: Joint, places: tuple[int, ...]) -> Joint:
    table: Joint = {}
    for genotypes, chance in joint.items():
        key = tuple(genotypes[place] for place in places)
        table[key] = table.get(key, 0.0) + chance
    return table


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
