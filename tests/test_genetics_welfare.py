"""Welfare notes: which genotypes are told, how likely they are, what is left out of plans."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Catalogue, Harm
from brumal.genetics.crosses.cross import cross
from brumal.genetics.genotypes import (
    SEX_GROUP,
    WILD,
    Belief,
    Case,
    Diplotype,
    Genotype,
    GroupOdds,
    Offspring,
    diplotype,
)
from brumal.genetics.welfare import (
    WelfareRisk,
    accept_problems,
    animal_welfare,
    bears_on_welfare,
    watched_genes,
    welfare_risks,
)
from brumal.records.faults import is_error

CATALOGUE, _ = load_catalogue()
LINKED, LINKED_FAULTS = load_catalogue(
    """
genes:
  - {name: Alpha, inheritance: recessive}
  - {name: Beta, inheritance: recessive}
linkage:
  - {group: pair, loci: [alpha, beta], recombination: [0.1]}
  - {group: sex, loci: [sex, banana], recombination: [0.04]}
welfare:
  - {harm: lethal, carries: {Alpha: 2, Beta: 2}, text: Invented for this test.}
  - {harm: fertility, sex: female, carries: {Banana: 1}, text: Invented for this test.}
"""
)
FEMALE: Diplotype = (("X",), ("X",))
MALE: Diplotype = (("X",), ("Y",))


def one(found: Diplotype) -> Belief:
    return ((found, 1.0),)


def carrier(allele: str, copies: int = 1) -> Belief:
    return one(diplotype((allele if copies == 2 else WILD,), (allele,)))


def female(**groups: Belief) -> Genotype:
    sexes = one((("X", WILD), ("X", WILD)))
    return Genotype({SEX_GROUP: sexes, **{key.replace("_", " "): b for key, b in groups.items()}})


def male(**groups: Belief) -> Genotype:
    sexes = one((("X", WILD), ("Y", WILD)))
    return Genotype({SEX_GROUP: sexes, **{key.replace("_", " "): b for key, b in groups.items()}})


def told(
    risks: tuple[WelfareRisk, ...],
) -> dict[str, tuple[Harm, float, bool]]:
    return {
        risk.genotype: (risk.note.harm, pytest.approx(risk.probability), risk.excluded)
        for risk in risks
    }


SPIDER = carrier("Spider")


def test_spider_to_spider() -> None:
    """Aa x Aa gives 1/4 AA, 1/2 Aa (textbook); lethality of AA is claimed, not established."""
    risks = welfare_risks(cross(female(spider=SPIDER), male(spider=SPIDER), CATALOGUE), CATALOGUE)
    assert told(risks) == {
        "Super Spider": (Harm.LETHAL, 1 / 4, True),
        "Spider": (Harm.NEUROLOGICAL, 3 / 4, True),
    }
    lethal = next(risk.note for risk in risks if risk.note.harm is Harm.LETHAL)
    assert "lethality claimed, not established" in lethal.text.casefold()


def test_spider_to_champagne() -> None:
    """Two dominants from two parents: 1/4 of the young carry both (textbook)."""
    young = cross(female(spider=SPIDER), male(champagne=carrier("Champagne")), CATALOGUE)
    assert told(welfare_risks(young, CATALOGUE)) == {
        "Champagne Spider": (Harm.LETHAL, 1 / 4, True),
        "Spider": (Harm.NEUROLOGICAL, 1 / 2, True),
        "Champagne": (Harm.NEUROLOGICAL, 1 / 2, True),
    }


def test_an_acceptance_lifts_the_genotype_it_names_and_no_other() -> None:
    young = cross(female(spider=SPIDER), male(champagne=carrier("Champagne")), CATALOGUE)

    def excluded(*accepted: str) -> set[str]:
        risks = welfare_risks(young, CATALOGUE, frozenset(accepted))
        return {risk.genotype for risk in risks if risk.excluded}

    assert excluded() == {"Spider", "Champagne", "Champagne Spider"}
    assert excluded("spider") == {"Champagne", "Champagne Spider"}
    assert excluded("Spider", "Champ") == {"Champagne Spider"}
    assert excluded("Spider", "Champ", "Spider Champagne") == set()
    # A name that is not read lifts nothing.
    assert excluded("Spidr", "Super Spider") == {"Spider", "Champagne", "Champagne Spider"}


def test_cautions_are_told_and_not_excluded() -> None:
    """Shape, eyes and fertility (common practice, no source) do not bar a pair."""
    lesser, butter = carrier("Lesser"), carrier("Butter")
    dam = female(**{"blue-eyed leucistic": lesser, "caramel albino": carrier("Caramel Albino")})
    sire = male(**{"blue-eyed leucistic": butter, "caramel albino": carrier("Caramel Albino")})
    risks = welfare_risks(cross(dam, sire, CATALOGUE), CATALOGUE)
    assert {
        (r.genotype, r.note.harm): (pytest.approx(r.probability), r.excluded) for r in risks
    } == {
        ("Butter Lesser", Harm.EYES): (1 / 4, False),
        ("Caramel Albino", Harm.SHAPE): (1 / 4, False),
        ("Caramel Albino", Harm.FERTILITY): (1 / 8, False),  # a quarter of the daughters
    }


def test_a_note_on_one_sex() -> None:
    """Half of a Desert's young are Desert, half of those are females (common practice)."""
    young = cross(female(), male(desert=carrier("Desert")), CATALOGUE)
    assert told(welfare_risks(young, CATALOGUE)) == {"Desert": (Harm.LAYING, 1 / 4, False)}
    assert animal_welfare(male(desert=carrier("Desert")), CATALOGUE) == ()
    (risk,) = animal_welfare(female(desert=carrier("Desert")), CATALOGUE)
    assert risk.probability == 1.0


def test_a_note_on_one_sex_at_a_sex_linked_locus() -> None:
    """The allele on a sire's Y reaches daughters by recombination alone: r of them (r = 0.04)."""
    sire = Genotype({SEX_GROUP: one(diplotype(("X", WILD), ("Y", "Banana")))})
    assert not [fault for fault in LINKED_FAULTS if is_error(fault)]
    assert told(welfare_risks(cross(female(), sire, LINKED), LINKED)) == {
        "Banana": (Harm.FERTILITY, 0.5 * 0.04, False)
    }


@pytest.mark.parametrize(
    ("haplotypes", "double"),
    [
        (((WILD, "Beta"), ("Alpha", WILD)), 0.0025),  # repulsion
        (((WILD, WILD), ("Alpha", "Beta")), 0.2025),  # coupling
    ],
)
def test_linked_genes_of_a_note_are_taken_jointly(
    haplotypes: tuple[tuple[str, str], tuple[str, str]], double: float
) -> None:
    """F2 double recessives at r = 0.1: 0.0025 in repulsion, 0.2025 in coupling (textbook)."""
    parent = one(diplotype(*haplotypes))
    young = cross(female(pair=parent), male(pair=parent), LINKED)
    assert told(welfare_risks(young, LINKED)) == {"Alpha Beta": (Harm.LETHAL, double, True)}


def test_uncertain_parents_weigh_in() -> None:
    """A 2/3 carrier of Caramel Albino on a visual: 1/3 of the young are visual (textbook)."""
    wild, het = diplotype((WILD,), (WILD,)), diplotype((WILD,), ("Caramel Albino",))
    dam = female(caramel_albino=((wild, 1 / 3), (het, 2 / 3)))
    sire = male(caramel_albino=carrier("Caramel Albino", 2))
    risks = welfare_risks(cross(dam, sire, CATALOGUE), CATALOGUE)
    assert [risk.probability for risk in risks] == pytest.approx([1 / 3, 1 / 6])


def test_an_affected_animal_is_told() -> None:
    """All Spider snakes of Starck et al. 2022 showed the wobble."""
    (risk,) = animal_welfare(female(spider=SPIDER), CATALOGUE)
    assert (risk.genotype, risk.probability, risk.excluded) == ("Spider", 1.0, True)
    assert "Starck" in risk.note.source
    assert "Rose & Williams 2014" in risk.note.source
    assert animal_welfare(female(clown=carrier("Clown", 2)), CATALOGUE) == ()


WATCHED = ("spider", "champagne", "hidden gene woma", "woma", "sable", "cinnamon", "desert")


@st.composite
def _odds(draw: st.DrawFn, locus: str) -> GroupOdds:
    alleles = [WILD, *CATALOGUE.loci[locus]]
    pairs = [diplotype((a,), (b,)) for a, b in itertools.combinations_with_replacement(alleles, 2)]
    cases = []
    weights = draw(st.lists(st.integers(1, 5), min_size=1, max_size=3))
    for weight in weights:
        shares = draw(st.lists(st.integers(0, 4), min_size=len(pairs), max_size=len(pairs)))
        total = sum(shares)
        outcomes = [(p, s / total) for p, s in zip(pairs, shares, strict=True) if s]
        cases.append(Case(weight / sum(weights), tuple(outcomes or [(pairs[0], 1.0)])))
    return GroupOdds(locus, tuple(cases))


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_probabilities_against_plain_enumeration(data: st.DataObject) -> None:
    """Every young of every combination of cases, counted one by one."""
    loci = data.draw(st.sets(st.sampled_from(WATCHED), max_size=3))
    groups = [data.draw(_odds(locus)) for locus in sorted(loci)]
    sexes = GroupOdds(
        SEX_GROUP,
        (Case(1.0, (((("X", WILD), ("X", WILD)), 0.5), ((("X", WILD), ("Y", WILD)), 0.5))),),
    )
    counted: dict[int, float] = {}
    for combination in itertools.product(
        *(
            [
                (case.weight * chance, found)
                for case in odds.cases
                for found, chance in case.outcomes
            ]
            for odds in (*groups, sexes)
        )
    ):
        chance = 1.0
        copies: dict[str, int] = {}
        for share, (first, second) in combination:
            chance *= share
            for allele in (*first, *second):
                copies[allele] = copies.get(allele, 0) + 1
        for index, note in enumerate(CATALOGUE.welfare):
            right_sex = note.sex is None or (note.sex == "male") == ("Y" in copies)
            if right_sex and all(copies.get(a, 0) >= n for a, n in note.carries.items()):
                counted[index] = counted.get(index, 0.0) + chance
    risks = welfare_risks(Offspring((*groups, sexes)), CATALOGUE)
    notes = list(CATALOGUE.welfare)
    found = {notes.index(risk.note): risk.probability for risk in risks}
    assert found == pytest.approx(counted)


def test_notes_that_exclude() -> None:
    """Lethal and neurological notes exclude, the others caution; every note names its source."""
    for note in CATALOGUE.welfare:
        assert note.excluded == (note.harm in (Harm.LETHAL, Harm.NEUROLOGICAL))
        assert note.source
        if note.harm is Harm.LETHAL:
            assert "lethality claimed, not established" in note.text.casefold()
    assert {note.harm for note in CATALOGUE.welfare} == set(Harm)


def test_acceptances_that_name_no_note_are_told() -> None:
    assert accept_problems(["Spider", "Powerball", "HGW", "Spider Woma"], CATALOGUE) == ()
    sable, typo, pastel = accept_problems(["Sable", "Spidr", "Pastel"], CATALOGUE)
    assert sable.found == "'Sable', on which there is no welfare note"
    assert sable.repair == "Notes that name it: 'Super Sable', 'Sable Spider'."
    assert typo.repair == "Did you mean 'Spider' or 'Spied' or 'Spinner'?"
    assert pastel.expected == "the genotype of a welfare note, such as 'Spider'"


def _many(catalogue: Catalogue) -> Offspring:
    return cross(female(clown=carrier("Clown", 2)), male(ghost=carrier("Ghost")), catalogue)


def test_young_without_a_risk() -> None:
    assert welfare_risks(_many(CATALOGUE), CATALOGUE) == ()
    assert Fraction(0) == sum(risk.probability for risk in welfare_risks(_many(LINKED), LINKED))


@pytest.mark.parametrize("catalogue", [CATALOGUE, LINKED], ids=["shipped", "linked"])
def test_parents_without_a_notes_genes_have_no_young_under_it(catalogue: Catalogue) -> None:
    """Every pair of carriers of one or two watched genes: a risk is told only where genes meet."""
    genes = sorted({gene for note in catalogue.welfare for gene in note.carries})
    carriers = [(), *((gene,) for gene in genes), *itertools.combinations(genes[:6], 2)]
    parents = [carrying(names, catalogue) for names in carriers]
    for (his, him), (hers, her) in itertools.product(zip(carriers, parents, strict=True), repeat=2):
        if him is None or her is None:
            continue
        together = watched_genes(her, catalogue) | watched_genes(him, catalogue)
        assert together == {*his, *hers}
        young = cross(as_sex(her, FEMALE), as_sex(him, MALE), catalogue)
        if not bears_on_welfare(together, catalogue):
            assert welfare_risks(young, catalogue) == ()


def carrying(names: tuple[str, ...], catalogue: Catalogue) -> Genotype | None:
    """Return an animal with one copy of each gene, or ``None`` where two share a locus."""
    loci = [catalogue.alleles[name].locus for name in names]
    if len(set(loci)) < len(loci):
        return None
    groups = {}
    for group in catalogue.groups.values():
        strand = tuple(
            next((n for n in names if catalogue.alleles[n].locus == locus), None)
            or ("X" if locus == "sex" else WILD)
            for locus in group.loci
        )
        bare = tuple("X" if locus == "sex" else WILD for locus in group.loci)
        if strand != bare:
            groups[group.id] = one(diplotype(strand, bare))
    return Genotype(groups)


def as_sex(animal: Genotype, sexes: Diplotype) -> Genotype:
    """Return the animal as a female or a male: its second strand bears the sire's chromosome."""
    group = animal.groups.get(SEX_GROUP)
    if group is None:
        return animal
    first, second = group[0][0]
    strand = max(first, second, key=lambda each: each != (each[0], *[WILD] * (len(each) - 1)))
    other = (sexes[1][0][0], *[WILD] * (len(strand) - 1))
    return Genotype({**animal.groups, SEX_GROUP: one(diplotype(strand, other))})
