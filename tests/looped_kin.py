"""Looped pedigrees of possible hets, and what enumeration says of them."""

from __future__ import annotations

from hypothesis import strategies as st

from brumal.genetics.evidence.infer import ClutchYoung, Inferred, infer
from brumal.genetics.genotypes import ClaimKind, Diplotype
from brumal.records.animals import Animal, Sex
from genes_for_tests import SHOP, claim, morph
from genotype_enumeration import Group, Locus, Member, Seen, enumerate_all

POSSIBLE = ClaimKind.POSSIBLE_HET
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
