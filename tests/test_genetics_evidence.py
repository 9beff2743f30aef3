"""Evidence against published carrier tables and a sum over every genotype of every animal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from brumal.genetics.evidence import ClutchYoung, Inferred, infer
from brumal.genetics.genotypes import ClaimKind, Diplotype, Morph
from brumal.genetics.meiosis import wild_pair
from brumal.records.animals import Animal, Sex
from brumal.records.faults import Severity
from genes_for_tests import SHOP, claim, morph, pair
from genotype_enumeration import Group, Locus, Member, Seen, enumerate_all

HET, POSSIBLE, PINNED = ClaimKind.HET, ClaimKind.POSSIBLE_HET, ClaimKind.PINNED
CLOWN = morph(claim(SHOP, "Clown"))
HET_CLOWN = morph(claim(SHOP, "Clown", HET))
NORMAL = morph()


def possible(chance: float, allele: str = "Clown") -> Morph:
    return morph(claim(SHOP, allele, POSSIBLE, chance=chance))


def dam(name: str, mother: str | None = None, father: str | None = None) -> Animal:
    return Animal(id=name, sex=Sex.FEMALE, dam=mother, sire=father)


def sire(name: str, mother: str | None = None, father: str | None = None) -> Animal:
    return Animal(id=name, sex=Sex.MALE, dam=mother, sire=father)


def chances(found: Inferred, name: str, group: str = "clown") -> dict[Diplotype, float]:
    genotype = found.genotypes[name]
    return dict(genotype.groups.get(group, ((pair("+", "+"), 1.0),)))


def het_chance(found: Inferred, name: str, allele: str = "Clown", group: str = "clown") -> float:
    return sum(p for d, p in chances(found, name, group).items() if (allele,) in d)


# --- the published carrier tables -----------------------------------------------------------------

# Young; Bridge 1997 (both from memory): P = p q^n / (p q^n + 1 - p), q = 1/2 for a visual mate,
# 3/4 for a carrier mate; the fractions as tabled.
VISUAL_MATE_TWO_THIRDS = {0: (2, 3), 1: (1, 2), 2: (1, 3), 3: (1, 5), 4: (1, 9), 5: (1, 17),
                          6: (1, 33), 8: (1, 129), 10: (1, 513)}  # fmt: skip
VISUAL_MATE_HALF = {0: (1, 2), 1: (1, 3), 2: (1, 5), 3: (1, 9), 4: (1, 17), 5: (1, 33),
                    6: (1, 65), 8: (1, 257), 10: (1, 1025)}  # fmt: skip
CARRIER_MATE_TWO_THIRDS = {0: (2, 3), 1: (3, 5), 2: (9, 17), 3: (27, 59), 4: (81, 209),
                           5: (243, 755), 6: (729, 2777), 8: (6561, 39329),
                           10: (59049, 583337)}  # fmt: skip
TABLES = [
    (mate, prior, n, Fraction(*value))
    for mate, prior, table in (
        (CLOWN, 2 / 3, VISUAL_MATE_TWO_THIRDS),
        (CLOWN, 1 / 2, VISUAL_MATE_HALF),
        (HET_CLOWN, 2 / 3, CARRIER_MATE_TWO_THIRDS),
    )
    for n, value in table.items()
]


@pytest.mark.parametrize(("mate", "prior", "normals", "expected"), TABLES)
def test_carrier_after_normals(mate: Morph, prior: float, normals: int, expected: Fraction) -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=((normals, NORMAL),) if normals else ())
    found = infer([dam("D"), sire("S")], {"D": possible(prior), "S": mate}, [clutch], SHOP)
    assert het_chance(found, "D") == pytest.approx(float(expected), abs=1e-12)


@pytest.mark.parametrize(("mate", "prior", "normals", "expected"), TABLES[:18])
def test_carrier_by_pedigree_and_animals(
    mate: Morph, prior: float, normals: int, expected: Fraction
) -> None:
    # The same figures where the prior comes from parents and the normals are animals.
    other = HET_CLOWN if prior > 0.6 else NORMAL
    animals = [dam("GD"), sire("GS"), dam("D", "GD", "GS"), sire("S")]
    animals += [dam(f"Y{i}", "D", "S") for i in range(normals)]
    found = infer(animals, {"GD": HET_CLOWN, "GS": other, "S": mate}, [], SHOP)
    assert het_chance(found, "D") == pytest.approx(float(expected), abs=1e-12)


def test_visual_young_prove_a_possible_het() -> None:
    clutch = ClutchYoung(dam="D", sire="S", young=((5, NORMAL), (1, CLOWN)))
    found = infer([dam("D"), sire("S")], {"D": possible(0.5), "S": CLOWN}, [clutch], SHOP)
    assert chances(found, "D") == {pair("+", "Clown"): 1.0}
    assert [finding.severity for finding in found.findings] == [Severity.NOTICE]
    assert found.findings[0].repair == "Write 'het Clown'."


# --- against enumeration, on looped pedigrees -----------------------------------------------------

RECESSIVES = Group((Locus("albino", {"Albino": False, "Candy": False}),), ())
COMPLEX = Group((Locus("bel", {"Lesser": True, "Mojave": True}),), ())
LINKED = Group((Locus("alpha", {"Alpha": False}), Locus("beta", {"Beta": False})), (0.1,))
SEXES = Group((Locus("banana", {"Banana": True}),), (0.05,), with_sex=True)
NAMES = {"albino": RECESSIVES, "bel": COMPLEX, "alpha-beta": LINKED, "sex": SEXES}


@dataclass(frozen=True)
class Case:
    """A drawn collection, both as the tool reads it and as the enumeration does."""

    group: str
    animals: list[Animal]
    morphs: dict[str, Morph]
    clutches: list[ClutchYoung]
    members: list[Member]
    seen: list[Seen]

    def names(self) -> list[str]:
        return [f"A{place}" for place in range(len(self.members))]

    def enumerated(self) -> dict[tuple[Diplotype, ...], float] | None:
        told = {p: self.morphs[n] for p, n in enumerate(self.names()) if n in self.morphs}
        return enumerate_all(NAMES[self.group], self.members, told, self.seen)


def said(draw: st.DrawFn, name: str, *, founder: bool) -> Morph:
    """Draw what a keeper might say at the loci of a group."""
    claims = []
    for locus in NAMES[name].loci:
        allele = draw(st.sampled_from(sorted(locus.shows_in_one_copy)))
        kinds = ["nothing", "nothing", "visual", "pinned"]
        if not locus.shows_in_one_copy[allele]:
            kinds += ["het", "possible"] if founder else ["het"]
        kind = draw(st.sampled_from(kinds))
        if kind == "visual":
            side = draw(st.sampled_from(["", "", "X", "Y"])) if name == "sex" and founder else ""
            claims.append(claim(SHOP, allele, carried_on=side))
        elif kind == "pinned":
            found = tuple(
                sorted(draw(st.tuples(*[st.sampled_from(["+", *locus.shows_in_one_copy])] * 2)))
            )
            claims.append(claim(SHOP, allele, PINNED, pairs=(found,)))  # type: ignore[arg-type]
        elif kind == "het":
            claims.append(claim(SHOP, allele, HET))
        elif kind == "possible":
            chance = draw(st.sampled_from([0.5, 2 / 3, 0.1]))
            claims.append(claim(SHOP, allele, POSSIBLE, chance=chance))
    return morph(*claims)


@st.composite
def cases(draw: st.DrawFn, names: tuple[str, ...] = tuple(NAMES)) -> Case:
    name = draw(st.sampled_from(names))
    founders = draw(st.integers(2, 3))
    young = draw(st.integers(1, 3))
    members: list[Member] = []
    animals: list[Animal] = []
    morphs: dict[str, Morph] = {}
    for place in range(founders + young):
        sex = ("female", "male")[place] if place < 2 else draw(st.sampled_from(["female", "male"]))
        dams = [p for p, m in enumerate(members) if m.sex == "female"]
        sires = [p for p, m in enumerate(members) if m.sex == "male"]
        parents = (
            (draw(st.sampled_from(dams)), draw(st.sampled_from(sires)))
            if place >= founders
            else (None, None)
        )
        recorded = place >= founders or draw(st.integers(0, 4)) > 0
        members.append(Member(*parents, sex, recorded))
        if recorded:
            ids = [None if parent is None else f"A{parent}" for parent in parents]
            own = Animal(id=f"A{place}", sex=Sex(sex), dam=ids[0], sire=ids[1])
            animals.append(own)
            morphs[own.id] = said(draw, name, founder=place < founders)
    clutches, seen = [], []
    for _ in range(draw(st.integers(0, 1))):
        dam_at = draw(st.sampled_from([p for p, m in enumerate(members) if m.sex == "female"]))
        sire_at = draw(st.sampled_from([p for p, m in enumerate(members) if m.sex == "male"]))
        looks = []
        for _ in range(draw(st.integers(1, 2))):
            look = said(draw, name, founder=False)
            shown = Morph(tuple(c for c in look.claims if c.kind is ClaimKind.VISUAL))
            count = draw(st.integers(1, 4))
            looks.append((count, shown))
            seen.append(Seen(dam_at, sire_at, shown, count))
        # A hatch year of its own keeps these young apart from the animals.
        clutches.append(
            ClutchYoung(dam=f"A{dam_at}", sire=f"A{sire_at}", young=tuple(looks), hatched_year=1999)
        )
    animals = [replace(animal, hatched=date(2020, 7, 1)) for animal in animals]
    return Case(name, animals, morphs, clutches, members, seen)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cases())
def test_any_pedigree_against_enumeration(case: Case) -> None:
    expected = case.enumerated()
    found = infer(case.animals, case.morphs, case.clutches, SHOP)
    errors = [finding for finding in found.findings if finding.severity is Severity.ERROR]
    assert bool(errors) == (expected is None)
    if expected is None:
        return
    animals = found.collection.animals
    for place, name in enumerate(case.names()):
        if name not in found.genotypes:
            continue
        marginal: dict[Diplotype, float] = {}
        for genotypes, chance in expected.items():
            marginal[genotypes[place]] = marginal.get(genotypes[place], 0.0) + chance
        sex = animals[name].sex
        assert sex is not None
        wild = ((wild_pair(SHOP.groups[case.group], sex), 1.0),)
        belief = dict(found.genotypes[name].groups.get(case.group, wild))
        assert belief == pytest.approx(marginal, abs=1e-12)
