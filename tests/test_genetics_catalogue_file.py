"""The shipped catalogue and the keeper's own genes over it."""

from __future__ import annotations

import pytest

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Allele, Catalogue, Inheritance, fold
from brumal.genetics.notation.parse import format_morph, parse_morph
from brumal.records.faults import Severity

CATALOGUE, FAULTS = load_catalogue()


def written(text: str, catalogue: Catalogue = CATALOGUE) -> str:
    morph, problems = parse_morph(text, catalogue)
    assert morph is not None, problems
    return format_morph(morph, catalogue)


def test_the_shipped_catalogue_has_no_fault_and_is_read_once() -> None:
    assert FAULTS == ()
    assert load_catalogue()[0] is CATALOGUE


def test_how_much_the_shipped_catalogue_holds() -> None:
    assert len(CATALOGUE.alleles) >= 60
    assert len(CATALOGUE.combinations) >= 120
    sources = [entry.source for entry in CATALOGUE.alleles.values()]
    sources += [entry.source for entry in CATALOGUE.combinations.values()]
    sources += [note.source for note in CATALOGUE.welfare]
    for source in sources:
        marks = ("common practice, no source", "[source read]", "[source from memory]")
        assert any(mark in source for mark in marks), source


LINES = ("VPI", "TSK", "MJ", "Black")


def test_allelic_series_are_one_locus_and_look_alikes_are_not() -> None:
    """TYR, OCA2, TYRP1 are three genes (Brown et al. 2022, abstract read); series as the trade has.

    Axanthic lines do not prove out with each other (common practice, no source).
    """
    locus = {name: allele.locus for name, allele in CATALOGUE.alleles.items()}
    assert locus["Albino"] == locus["Candy"] == locus["Toffee"]
    assert len({locus[name] for name in ("Albino", "Lavender Albino", "Ultramel")}) == 3
    assert len({locus[f"{line} Axanthic"] for line in LINES}) == 4
    bel = ("Mojave", "Lesser", "Butter", "Phantom", "Mystic", "Mocha", "Bamboo", "Special")
    assert {locus[name] for name in bel} == {"blue-eyed leucistic"}
    belly = ("Yellow Belly", "Asphalt", "Gravel", "Specter", "Spark")
    assert {locus[name] for name in belly} == {"yellow belly"}
    assert locus["Cinnamon"] == locus["Black Pastel"] == locus["Huffman"]
    assert locus["Orange Belly"] == "yellow belly"
    assert locus["Daddy"] == "blue-eyed leucistic"
    assert locus["Cryptic"] == locus["Clown"]


@pytest.mark.parametrize(
    ("gene", "paper", "inheritance", "alleles", "apart"),
    [
        ("Albino", "Brown et al. 2022", "recessive", ("Candy", "Toffee"), ("Lavender Albino",)),
        ("Lavender Albino", "Brown et al. 2022", "recessive", (), ("Albino", "Ultramel")),
        ("Ultramel", "Brown et al. 2022", "recessive", (), ("Albino", "Lavender Albino")),
        ("Piebald", "Garcia-Elfring et al. 2023", "recessive", (), ("Clown",)),
        ("Clown", "Garcia-Elfring et al. 2024", "recessive", ("Cryptic",), ("Piebald",)),
        (
            "Yellow Belly",
            "G3 13(7)",
            "incomplete dominant",
            ("Asphalt", "Gravel", "Specter", "Spark"),
            ("Mojave",),
        ),
        ("Banana", "Gamble et al. 2017", "incomplete dominant", (), ()),
    ],
)
def test_published_inheritance_beside_its_entry(
    gene: str, paper: str, inheritance: str, alleles: tuple[str, ...], apart: tuple[str, ...]
) -> None:
    """Each gene paper and what it says: which names are one locus, which are loci of their own.

    Brown et al. 2022: TYR, OCA2, TYRP1; Garcia-Elfring et al. 2023: tfec; 2024: MC1R; Dao et al.
    2023: one endothelin receptor gene, frameshifts almost white; Gamble et al. 2017: sex-linked.
    """
    allele = CATALOGUE.alleles[gene]
    assert paper in allele.source
    assert allele.inheritance == inheritance
    assert set(alleles) <= set(CATALOGUE.loci[allele.locus])
    assert all(CATALOGUE.alleles[other].locus != allele.locus for other in apart)


def test_papers_on_looks_and_lines_stand_beside_their_entries() -> None:
    """Dao et al. 2023: almost white skin; Garcia-Elfring, Roffey et al. 2024: gch2 in one line."""
    (ivory,) = (mask for mask in CATALOGUE.masks if mask.locus == "yellow belly")
    assert ivory.pairs == {("Yellow Belly", "Yellow Belly")}
    assert "almost fully white [source read]" in ivory.source
    for line in LINES:
        assert "gch2" in CATALOGUE.alleles[f"{line} Axanthic"].note


@pytest.mark.parametrize(
    "names",
    [
        "Cryptic, Crypton, Axanthic (VPI), Axanthic (TSK), Axanthic (MJ), Axanthic (Black)",
        "Confusion, Wookie, Microscale, Huffman, Daddy, Platinum, White Diamond, Spectre",
        "White Smoke, Orange Belly, Static, Arroyo, Ajax, Lace, Twister, Bald, Monarch",
        "Whitewash, Black Lace, Metal Flake, Black Magic, Savannah, Super Russo, Sugar, Calico",
    ],
)
def test_names_that_keepers_use_are_read(names: str) -> None:
    for name in names.split(", "):
        assert written(name)


def test_where_keepers_disagree_the_entry_says_so() -> None:
    for gene in ("Candy", "Toffee", "Calico", "Sugar", "Black Head"):
        assert "disagree" in CATALOGUE.alleles[gene].note
    assert any(
        note.excluded and note.carries == {"Black Head": 1, "Spider": 1}
        for note in CATALOGUE.welfare
    )


def test_banana_lies_on_the_sex_chromosomes() -> None:
    """Gamble et al. 2017 infer a sex-linked colour mutation; no value of r is published."""
    group = CATALOGUE.groups["sex"]
    assert group.loci == ("sex", "banana")
    assert 0 < group.recombination[0] < 0.5
    assert "no measured value is published" in group.source
    assert CATALOGUE.names[fold("Coral Glow")] == "Banana"


def test_every_locus_stands_in_one_group_and_every_allele_at_one_locus() -> None:
    grouped = [locus for group in CATALOGUE.groups.values() for locus in group.loci]
    assert sorted(grouped) == sorted([*CATALOGUE.loci, "sex"])
    alleles = [name for names in CATALOGUE.loci.values() for name in names]
    assert sorted(alleles) == list(CATALOGUE.alleles)
    for locus, names in CATALOGUE.loci.items():
        assert all(CATALOGUE.alleles[name].locus == locus for name in names)


# Common practice, no source: what the trade calls these.
@pytest.mark.parametrize(
    ("name", "genes"),
    [
        ("Bumblebee", "Pastel Spider"),
        ("Killer Bee", "Spider Super Pastel"),
        ("Pewter", "Cinnamon Pastel"),
        ("Crystal", "Mojave Special"),
        ("Purple Passion", "Mojave Phantom"),
        ("Mystic Potion", "Mojave Mystic"),
        ("Highway", "Gravel Yellow Belly"),
        ("Freeway", "Asphalt Yellow Belly"),
        ("Puma", "Spark Yellow Belly"),
        ("Superstripe", "Specter Yellow Belly"),
        ("Firefly", "Fire Pastel"),
        ("Lemon Blast", "Pastel Pinstripe"),
        ("Dreamsicle", "Lavender Albino Piebald"),
    ],
)
def test_combination_names(name: str, genes: str) -> None:
    assert written(name) == genes


def test_every_spelling_is_read() -> None:
    """Each name, alias and super name means its gene; a name of many meanings lists them."""
    for allele in CATALOGUE.alleles.values():
        for spelling in (allele.name, *allele.aliases):
            assert written(spelling) == allele.name
        assert written(allele.super_name) == allele.super_name
    for combination in CATALOGUE.combinations.values():
        for spelling in (combination.name, *combination.aliases):
            morph, problems = parse_morph(spelling, CATALOGUE)
            if combination.parts:
                assert morph == parse_morph(combination.parts, CATALOGUE)[0]
            elif combination.any_of:
                assert morph is not None
                (claim,) = morph.claims
                made = [parse_morph(text, CATALOGUE)[0] for text in combination.any_of]
                assert {each.claims[0].pairs[0] for each in made if each} == set(claim.pairs)
                assert written(spelling) == combination.name
            else:
                assert morph is None
                assert all(reading in problems[0].expected for reading in combination.readings)


# A keeper's own genes


def faults_of(text: str) -> list[str]:
    return [
        str(fault) for fault in load_catalogue(text)[1] if fault.severity is not Severity.NOTICE
    ]


def notices_of(text: str) -> list[str]:
    return [str(fault) for fault in load_catalogue(text)[1] if fault.severity is Severity.NOTICE]


def test_an_own_gene_joins_with_a_notice() -> None:
    text = """
genes:
  - {name: Frostbite, inheritance: incomplete dominant, super: Blizzard, aliases: [FB]}
  - {name: Ember, locus: frostbite, inheritance: incomplete dominant}
combinations:
  - {name: Glacier, parts: Pastel Frostbite}
"""
    catalogue, _ = load_catalogue(text)
    assert faults_of(text) == []
    assert notices_of(text)[0] == (
        "genes.yaml, line 3, genes[1]: found the gene 'Frostbite' of your own; expected the "
        "shipped catalogue alone. It joins the catalogue."
    )
    assert catalogue.alleles["Frostbite"] == Allele(
        name="Frostbite",
        locus="frostbite",
        inheritance=Inheritance.INCOMPLETE_DOMINANT,
        super_name="Blizzard",
        aliases=("FB",),
    )
    assert written("fb ember het clown", catalogue) == "Ember Frostbite het Clown"
    assert written("Glacier", catalogue) == "Frostbite Pastel"
    assert "Clown" in catalogue.alleles


def test_an_own_entry_takes_the_place_of_the_shipped_one_and_tells_what_changes() -> None:
    text = """
linkage:
  - {group: sex, loci: [sex, banana], recombination: [0.03]}
genes:
  - {name: mojave, inheritance: dominant}
combinations:
  - {name: Puma, parts: Spark Gravel}
"""
    catalogue, _ = load_catalogue(text, "my/genes.yaml")
    assert catalogue.groups["sex"].recombination == (0.03,)
    assert catalogue.alleles["mojave"].locus == "blue-eyed leucistic"
    assert "Mojave" not in catalogue.alleles
    assert written("Puma", catalogue) == "Gravel Spark"
    told = [str(fault) for fault in load_catalogue(text, "my/genes.yaml")[1]]
    assert told[0] == (
        "my/genes.yaml, line 3, linkage[1]: found the linkage group 'sex' of your own; expected "
        "the shipped entry. It takes the place of the shipped one (recombination [0.05] -> [0.03])."
    )
    assert "inheritance incomplete dominant -> dominant" in told[1]
    assert CATALOGUE.groups["sex"].recombination == (0.05,)


def test_a_name_of_many_meanings_gets_one() -> None:
    text = "genes: [{name: Axanthic, inheritance: recessive}]"
    catalogue, faults = load_catalogue(text)
    assert {fault.severity for fault in faults} == {Severity.NOTICE}
    assert written("66% het axanthic", catalogue) == "66% het Axanthic"


def test_an_own_welfare_note_takes_the_place_of_the_one_on_the_same_genotype() -> None:
    text = "welfare: [{harm: neurological, carries: {spider: 1}, text: 'Mine.', source: My notes}]"
    catalogue, _ = load_catalogue(text)
    notes = [note for note in catalogue.welfare if dict(note.carries) == {"Spider": 1}]
    assert [(note.text, note.source) for note in notes] == [("Mine.", "My notes")]
    assert len(catalogue.welfare) == len(CATALOGUE.welfare)


def test_an_empty_file_changes_nothing() -> None:
    catalogue, faults = load_catalogue("# nothing yet\n")
    assert faults == ()
    assert catalogue.names == CATALOGUE.names


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "gene: []",
            "line 1, gene: found an unknown key 'gene'; expected one of version, sources, loci, "
            "genes, linkage, combinations, hides, welfare. Did you mean 'genes'?",
        ),
        (
            "version: 2",
            "line 1, version: found version 2; expected version 1, the only form of this file so "
            "far",
        ),
        (
            "genes: {name: Frost}",
            "line 1, genes: found no list; expected a list of genes, each entry after a dash",
        ),
        (
            "genes: [{name: Frost, inheritance: recesive}]",
            "line 1, genes[1].inheritance: found 'recesive'; expected recessive, incomplete "
            "dominant or dominant. Did you mean 'recessive'?",
        ),
        (
            "genes: [{inheritance: recessive}]",
            "line 1, genes[1].name: found nothing; expected text",
        ),
        (
            "genes: [{name: Frost, inheritance: recessive, colour: red}]",
            "line 1, genes[1].colour: found an unknown key 'colour'; expected one of source, name, "
            "inheritance, locus, super, aliases, note",
        ),
        (
            "genes: [{name: Frost, inheritance: recessive, locus: yelow belly}]",
            "line 1, genes[1]: found the unknown locus 'yelow belly'; expected a locus under "
            "'loci', or the name of a gene that has one of its own. Did you mean 'yellow belly'?",
        ),
        (
            "genes: [{name: Frost, inheritance: recessive, super: Ice}]",
            "line 1, genes[1]: found the super name 'Ice' for a recessive; expected no super name: "
            "two copies of a recessive are the visual",
        ),
        (
            "genes: [{name: a/b, inheritance: recessive}]",
            "line 1, genes[1]: found the spelling 'a/b'; expected letters and digits, with spaces, "
            "hyphens or apostrophes between them, and no word that the notation itself uses",
        ),
        (
            "genes: [{name: Visual, inheritance: recessive}]",
            "line 1, genes[1]: found the spelling 'Visual'; expected letters and digits, with "
            "spaces, hyphens or apostrophes between them, and no word that the notation itself "
            "uses",
        ),
        (
            "genes: [{name: Frost, inheritance: dominant, aliases: [Clown]}]",
            "line 1, genes[1]: found the spelling 'Clown' for 'Frost'; expected each spelling for "
            "one thing; this one stands for 'Clown'. Choose another name or alias.",
        ),
        (
            "genes: [{name: Ivory, inheritance: recessive}]",
            "line 1, genes[1]: found the spelling 'Ivory' for 'Ivory'; expected each spelling for "
            "one thing; this one stands for two copies of 'Yellow Belly'. "
            "Choose another name or alias.",
        ),
        (
            "genes: [{name: Het Clown, inheritance: dominant}]",
            "line 1, genes[1]: found a spelling of 'Het Clown' that reads as 'het Clown'; expected "
            "a spelling with one meaning. Choose another name or alias.",
        ),
        (
            "linkage: [{group: sex, loci: [sex, banana], recombination: [0.7]}]",
            "line 1, linkage[1].recombination[1]: found '0.7'; expected a recombination fraction "
            "from 0 to 0.5",
        ),
        (
            "linkage: [{group: sex, loci: [sex, banana], recombination: [a few]}]",
            "line 1, linkage[1].recombination[1]: found 'a few'; expected a recombination fraction "
            "from 0 to 0.5",
        ),
        (
            "linkage: [{group: pair, loci: [clown, ghots], recombination: [0.1]}]",
            "line 1, linkage[1]: found the unknown locus 'ghots'; expected a locus of the "
            "catalogue. Did you mean 'ghost'?",
        ),
        (
            "linkage: [{group: pair, loci: [clown, banana], recombination: [0.1]}]",
            "line 1, linkage[1]: found the locus 'banana', which the group 'sex' holds too; "
            "expected each locus once, in one linkage group. Write all loci of a group as one.",
        ),
        (
            "linkage: [{group: pair, loci: [clown, ghost], recombination: [0.1, 0.2]}]",
            "line 1, linkage[1]: found 2 recombination fractions for 2 loci; expected 1: one "
            "between each locus and the next",
        ),
        (
            "linkage: [{group: sex, loci: [banana, sex], recombination: [0.1]}]",
            "line 1, linkage[1]: found the group 'sex'; expected the group 'sex', with the locus "
            "'sex' first",
        ),
        (
            "combinations: [{name: Frost, parts: Clwn}]",
            "line 1, combinations[1]: found 'Clwn' in 'Frost'; expected a gene or combination of "
            "the catalogue. Did you mean 'Clown' or 'Clown Bee'?",
        ),
        (
            "combinations: [{name: Frost, parts: Clown het Pied}]",
            "line 1, combinations[1]: found hets or pinned pairs in 'Frost'; expected genes that "
            "show, or supers",
        ),
        (
            "combinations: [{name: Frost, parts: Bumblebee Clown}]",
            "line 1, combinations[1]: found the combination 'Bumblebee' inside 'Frost' in 'Frost'; "
            "expected genes of the catalogue",
        ),
        (
            "combinations: [{name: Frost, readings: [Clown]}]",
            "line 1, combinations[1]: found 'Frost' with one of readings alone; expected either "
            "parts, or two or more readings, or any_of two or more make-ups",
        ),
        (
            "welfare: [{harm: shape, carries: {Spidr: 1}, text: Kinks.}]",
            "line 1, welfare[1]: found the unknown gene 'Spidr'; expected a gene of the catalogue. "
            "Did you mean 'Spider' or 'Spark'?",
        ),
        (
            "welfare: [{harm: shape, carries: {Spider: 3}, text: Kinks.}]",
            "line 1, welfare[1].carries.Spider: found '3'; expected 1 or 2 copies",
        ),
        (
            "welfare: [{harm: shape, carries: {Mojave: 2, Lesser: 1}, text: Kinks.}]",
            "line 1, welfare[1]: found three copies at one locus; expected two at the most",
        ),
        (
            "welfare: [{harm: sad, carries: {Spider: 1}, text: Kinks.}]",
            "line 1, welfare[1].harm: found 'sad'; expected lethal, neurological, shape, "
            "fertility, laying or eyes",
        ),
        (
            "- Clown",
            "found no sections; expected the sections loci, genes, linkage, combinations, hides, "
            "welfare",
        ),
    ],
)
def test_faults_speak_to_the_keeper(text: str, told: str) -> None:
    assert faults_of(text) == [f"genes.yaml{', ' if told.startswith('line') else ': '}{told}"]


def test_all_faults_are_told_at_once_and_the_rest_still_serves() -> None:
    text = """
genes:
  - {name: Frost, inheritance: recesive}
  - {name: Rime, inheritance: recessive}
linkage:
  - {group: sex, loci: [sex, banana], recombination: [0.7]}
combinations:
  - {name: Hoar, parts: Rhyme}
"""
    catalogue, faults = load_catalogue(text)
    errors = [fault for fault in faults if fault.severity is Severity.ERROR]
    assert [fault.where.row for fault in errors] == [3, 6, 8]
    assert written("het Rime", catalogue) == "het Rime"
    assert catalogue.groups["sex"].recombination == (0.05,)


def test_a_shipped_name_that_an_own_gene_breaks_is_left_out_with_a_warning() -> None:
    text = "genes: [{name: Fire, inheritance: recessive}]"
    catalogue, faults = load_catalogue(text)
    warned = [fault for fault in faults if fault.severity is Severity.WARNING]
    assert {fault.found for fault in warned} == {
        "'Super Fire' in 'Black Eyed Leucistic'",
        "'Super Fire' in 'Super Firefly'",
        "'Black Eyed' in 'Leucistic'",
        "'Super Fire'",
    }
    assert "Super Firefly" not in catalogue.combinations
    assert all(fault.repair == "It is left out." for fault in warned)
