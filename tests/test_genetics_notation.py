"""Trade notation: forgiving to read, one form to write, the two inverse to each other."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Catalogue, Inheritance
from brumal.genetics.genotypes import WILD, AllelePair, Claim, ClaimKind, Morph
from brumal.genetics.notation.naming import trade_name, visual_name
from brumal.genetics.notation.parse import format_morph, morph_faults, parse_morph
from brumal.genetics.notation.trade_names import in_trade_names
from brumal.records.faults import Where, is_error

CATALOGUE, _ = load_catalogue()
OWN, OWN_FAULTS = load_catalogue(
    """
genes:
  - {name: Dusk, inheritance: recessive}
  - {name: Dawn, locus: dusk, inheritance: incomplete dominant}
  - {name: Noon, locus: dusk, inheritance: dominant}
  - {name: Dawn Dusk, inheritance: recessive}
  - {name: Beam Dawn, inheritance: recessive}
  - {name: Ray, inheritance: recessive}
  - {name: Beam, inheritance: dominant}
linkage:
  - {group: sex, loci: [sex, ray, banana, beam], recombination: [0.1, 0.2, 0.3]}
"""
)
"""A keeper's catalogue that is harder to write than the shipped one."""


def read(text: str, catalogue: Catalogue = CATALOGUE) -> Morph:
    morph, problems = parse_morph(text, catalogue)
    assert morph is not None, problems
    return morph


def written(text: str, catalogue: Catalogue = CATALOGUE) -> str:
    return format_morph(read(text, catalogue), catalogue)


# Common practice, no source: how keepers write morphs.
@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("Pastel Mojave", "Mojave Pastel"),
        ("Super Pastel het Clown", "Super Pastel het Clown"),
        ("superpastel HET clown", "Super Pastel het Clown"),
        ("PASTEL-HET-CLOWN", "Pastel het Clown"),
        ("66% het Pied", "66% het Piebald"),
        ("66 % poss. het. pied", "66% het Piebald"),
        ("66% ph Pied", "66% het Piebald"),
        ("66 het pied", "66% het Piebald"),
        ("possible 66% het Pied", "66% het Piebald"),
        ("66% Pied", "66% het Piebald"),
        ("66,7% poss het Pied", "66.7% het Piebald"),
        ("100% het Clown", "het Clown"),
        ("Clown het Pied", "Clown het Piebald"),
        ("het Pied visual Clown", "Clown het Piebald"),
        ("Clown, het Pied, 50% het Ghost", "Clown het Piebald 50% het Ghost"),
        ("DH Clown Pied", "het Clown het Piebald"),
        ("double het Clown and Pied", "het Clown het Piebald"),
        ("triple het: Clown, Pied & Ghost", "het Clown het Ghost het Piebald"),
        ("66% DH Clown Pied", "66% het Clown 66% het Piebald"),
        ("het for Clown + Pied", "het Clown het Piebald"),
        ("Normal", "Normal"),
        ("Wild Type", "Normal"),
        ("Normal het Clown", "het Clown"),
        ("Ivory", "Ivory"),
        ("Super Yellow Belly", "Ivory"),
        ("super yb", "Ivory"),
        ("Mojave Lesser", "Lesser Mojave"),
        ("Mojave het Lesser", "Lesser Mojave"),
        ("Crystal", "Mojave Special"),
        ("Candino", "Albino Candy"),
        ("Bumble-bee het Clown", "Pastel Spider het Clown"),
        ("het Dreamsicle", "het Lavender Albino het Piebald"),
        ("het Clown Killer Bee", "Spider Super Pastel het Clown"),
        ("het Red Axanthic", "Het Red Axanthic"),
        ("66% het Het Red Axanthic", "66% Het Red Axanthic"),
        ("Red Axanthic", "Red Axanthic"),
        ("Coral Glow", "Banana"),
        ("Pinstripe", "Pinstripe"),
        ("Super Pinstripe", "Super Pinstripe"),
        ("[Pinstripe/Pinstripe]", "Super Pinstripe"),
        ("[+/Pinstripe] het Clown", "[+/Pinstripe] het Clown"),
        ("[Mojave / lesser]", "Lesser Mojave"),
        ("[clown: +/+]", "[clown: +/+]"),
        ("[+/Clown]", "het Clown"),
        ("Banana on Y Clown", "Banana on Y Clown"),
        ("male maker Banana", "Banana on Y"),
        ("Coral Glow female-maker", "Banana on X"),
        ("50% Yellow Belly", "50% Yellow Belly"),
        ("Desert, Ghost", "Desert, Ghost"),
        ("Desert Ghost", "Desert Ghost"),
    ],
)
def test_reads_forgivingly_and_writes_one_form(text: str, canonical: str) -> None:
    assert written(text) == canonical
    assert written(canonical) == canonical


def claim(text: str, locus: str) -> Claim:
    return next(made for made in read(text).claims if made.locus == locus)


def test_what_words_claim() -> None:
    """A recessive shows with two copies, an incomplete dominant with one, a dominant with either.

    Common practice, no source; the definitions are those of any genetics textbook.
    """
    assert claim("Clown", "clown").pairs == (("Clown", "Clown"),)
    assert claim("Pastel", "pastel").pairs == ((WILD, "Pastel"),)
    assert claim("Super Pastel", "pastel").pairs == (("Pastel", "Pastel"),)
    assert claim("Pinstripe", "pinstripe").pairs == ((WILD, "Pinstripe"), ("Pinstripe",) * 2)
    assert claim("[+/Pinstripe]", "pinstripe") == Claim(
        locus="pinstripe", kind=ClaimKind.PINNED, pairs=((WILD, "Pinstripe"),)
    )
    assert claim("het Clown", "clown").kind is ClaimKind.HET
    assert claim("Crystal", "blue-eyed leucistic").pairs == (("Mojave", "Special"),)
    assert claim("Banana on Y", "banana").carried_on == "Y"
    assert read("Normal") == Morph()


@pytest.mark.parametrize(
    ("figure", "chance"),
    [
        ("66", Fraction(2, 3)),
        ("50", Fraction(1, 2)),
        ("33", Fraction(1, 3)),
        ("25", Fraction(1, 4)),
        ("66.0", Fraction(66, 100)),
        ("66.7", Fraction(667, 1000)),
        ("67", Fraction(67, 100)),
        ("12.5", Fraction(1, 8)),
    ],
)
def test_figures_of_possible_hets(figure: str, chance: Fraction) -> None:
    """The 66 % of two hets' normal young is 2/3 (genetic-counselling texts, from memory)."""
    made = claim(f"{figure}% het Clown", "clown")
    assert made.kind is ClaimKind.POSSIBLE_HET
    assert made.chance == float(chance)


def _chances() -> st.SearchStrategy[float]:
    return st.sampled_from([1 / 4, 1 / 3, 1 / 2, 2 / 3, 0.66, 0.33, 0.5]) | st.floats(
        min_value=0.0, max_value=1.0, exclude_min=True, exclude_max=True
    )


@st.composite
def _claims(draw: st.DrawFn, locus: str, catalogue: Catalogue) -> Claim:
    """Draw one claim that notation can make of a locus, stated here from the rules alone."""
    name = draw(st.sampled_from(catalogue.loci[locus]))
    inheritance = catalogue.alleles[name].inheritance
    one: AllelePair = (WILD, name)
    two: AllelePair = (name, name)
    options: list[tuple[ClaimKind, tuple[AllelePair, ...]]] = [
        (ClaimKind.PINNED, ((WILD, WILD),)),
        (ClaimKind.POSSIBLE_HET, (one,)),
    ]
    if inheritance is Inheritance.RECESSIVE:
        options += [(ClaimKind.VISUAL, (two,)), (ClaimKind.HET, (one,))]
    elif inheritance is Inheritance.INCOMPLETE_DOMINANT:
        options += [(ClaimKind.VISUAL, (two,)), (ClaimKind.VISUAL, (one,))]
    else:
        options += [
            (ClaimKind.VISUAL, (one, two)),
            (ClaimKind.PINNED, (one,)),
            (ClaimKind.PINNED, (two,)),
        ]
    for other in catalogue.loci[locus]:
        if other != name:
            options.append((ClaimKind.VISUAL, (tuple(sorted((name, other))),)))  # type: ignore[list-item]
    # A look of unknown make-up: any of several pairs of the locus.
    options += [
        (ClaimKind.ANY_OF, found.pairs)
        for found in catalogue.combinations.values()
        if found.locus == locus and found.pairs
    ]
    kind, pairs = draw(st.sampled_from(options))
    chance = draw(_chances()) if kind is ClaimKind.POSSIBLE_HET else 1.0
    linked = locus in catalogue.groups["sex"].loci and pairs == (one,)
    carried_on = draw(st.sampled_from(["", "X", "Y"])) if linked else ""
    return Claim(locus=locus, kind=kind, pairs=pairs, chance=chance, carried_on=carried_on)


@st.composite
def _morphs(draw: st.DrawFn, catalogue: Catalogue) -> Morph:
    loci = draw(st.sets(st.sampled_from(sorted(catalogue.loci)), max_size=8))
    return Morph(tuple(draw(_claims(locus, catalogue)) for locus in sorted(loci)))


@pytest.mark.parametrize("catalogue", [CATALOGUE, OWN], ids=["shipped", "own"])
@settings(deadline=None)
@given(data=st.data())
def test_parse_undoes_format(catalogue: Catalogue, data: st.DataObject) -> None:
    morph = data.draw(_morphs(catalogue))
    text = format_morph(morph, catalogue)
    assert parse_morph(text, catalogue) == (morph, ())
    assert parse_morph(text.upper(), catalogue) == (morph, ())


def test_names_that_would_run_together_are_parted() -> None:
    """``Dawn Dusk`` and ``Beam Dawn`` are genes of their own here; other meanings need commas."""
    assert not [fault for fault in OWN_FAULTS if is_error(fault)]
    assert {made.locus for made in read("Dawn Dusk", OWN).claims} == {"dawn dusk"}
    assert {made.locus for made in read("Dawn, Dusk", OWN).claims} == {"dusk"}
    assert written("Dusk Dawn", OWN) == "Dawn, Dusk"
    assert written("Dawn, Beam", OWN) == "Beam, Dawn"


@settings(deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_read_or_told(text: str) -> None:
    morph, problems = parse_morph(text, CATALOGUE)
    assert (morph is None) == bool(problems)


@settings(deadline=None)
@given(
    st.lists(
        st.sampled_from(
            [
                "het",
                "66%",
                "100%",
                "poss",
                "ph",
                "dh",
                "double",
                "super",
                "visual",
                "normal",
                "on",
                "x",
                "y",
                "male",
                "maker",
                "female",
                "[",
                "]",
                "[+/",
                "/+]",
                ",",
                "Clown",
                "Pied",
                "Albino",
                "Candy",
                "Pastel",
                "Mojave",
                "Lesser",
                "Spider",
                "Pinstripe",
                "Banana",
                "Ivory",
                "Bumblebee",
                "Snow",
                "Dreamsicle",
                "Desert",
                "Ghost",
                "wobbly",
                "BEL",
                "Axanthic",
                "VPI",
                "(",
                ")",
                "[clown:",
                "and",
                ":",
                "+",
                "%",
            ]
        ),
        max_size=9,
    )
)
def test_any_words_of_the_trade_are_read_or_told(words: list[str]) -> None:
    morph, problems = parse_morph(" ".join(words), CATALOGUE)
    assert (morph is None) == bool(problems)
    if morph is not None:
        assert parse_morph(format_morph(morph, CATALOGUE), CATALOGUE) == (morph, ())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "Clwn",
            "'Clwn'; expected a gene or combination of the catalogue. "
            "Did you mean 'Clown' or 'Clown Bee'?",
        ),
        (
            "Desrt Ghost",
            "'Desrt'; expected a gene or combination of the catalogue. "
            "Did you mean 'Desert Ghost' or 'Desert' or 'Desert Bee'?",
        ),
        (
            "Xyzzy",
            "'Xyzzy'; expected a gene or combination of the catalogue. "
            "A gene that is not there yet can be added in genes.yaml.",
        ),
        (
            "",
            "nothing; expected a morph in trade notation, such as 'Pastel het Clown'. "
            "Write 'Normal' for an animal without known genes.",
        ),
        (
            "poss het Clown",
            "'poss het Clown'; expected its percentage: '66% het Clown' (both parents carry "
            "one) or '50% het Clown' (one parent does). Write the one that is true, or set "
            "notation.possible in season.yaml.",
        ),
        (
            "Pastel Pastel",
            "'Pastel' twice; expected each gene once. "
            "Write 'Super Pastel' for two copies, 'Pastel' for one.",
        ),
        (
            "Bumblebee Pastel",
            "'Pastel (of Bumblebee)' and 'Pastel'; expected each gene once. "
            "Write 'Super Pastel' for two copies, 'Pastel' for one.",
        ),
        (
            "Clown het Clown",
            "'Clown' and 'het Clown'; expected each gene once. Write the one that is true.",
        ),
        (
            "Mojave Lesser Butter",
            "'Mojave', 'Lesser' and 'Butter': more than two alleles of one locus (blue-eyed "
            "leucistic); expected at most two alleles at a locus, one from each parent. "
            "Leave out what the animal does not carry.",
        ),
        (
            "Super Mojave Lesser",
            "'Super Mojave' and 'Lesser': more than two alleles of one locus (blue-eyed "
            "leucistic); expected at most two alleles at a locus, one from each parent. "
            "Leave out what the animal does not carry.",
        ),
        (
            "Albino het Candy",
            "'Albino' and 'het Candy', alleles of one locus (albino); expected one het alone, or "
            "one copy of each, which shows. Write 'Albino Candy' for one copy of each.",
        ),
        (
            "66% het Albino 66% het Candy",
            "'66% het Albino' and '66% het Candy', alleles of one locus (albino); expected a "
            "possible het alone at its locus. Write the likelier one and record the parents: "
            "their genes give the rest.",
        ),
        (
            "Super Clown",
            "'Super Clown'; expected a visual recessive, which has two copies. Write 'Clown'.",
        ),
        (
            "Normal Pastel",
            "'Normal' beside visual genes in 'Normal Pastel'; expected Normal alone or with hets. "
            "Leave out 'Normal'.",
        ),
        (
            "het Pinstripe",
            "'het Pinstripe'; expected hidden genes after 'het'; 'Pinstripe' shows. Write "
            "'Pinstripe' before the hets; [+/Pinstripe] is one copy for certain.",
        ),
        (
            "66% het Clown Pastel",
            "'66% het Pastel'; expected hidden genes after '66% het'; 'Pastel' shows. "
            "Write 'Pastel' before the hets.",
        ),
        (
            "het Ivory",
            "'het Ivory'; expected hidden genes after 'het'; 'Ivory' shows. "
            "Write 'Ivory' before the hets, or 'Yellow Belly' for one copy.",
        ),
        (
            "100% Clown",
            "'100% Clown'; expected 'Clown' (it shows) or 'het Clown' (it carries one)",
        ),
        ("0% het Clown", "'0%'; expected a percentage above 0 and up to 100"),
        ("66% 50% het Clown", "'66% 50%'; expected one percentage for a gene"),
        ("Pastel het", "'het' with no gene after it; expected the gene that it is het for"),
        (
            "DH Clown",
            "'DH' before 1 gene; expected 2 genes after it. Write 'het' before each gene instead.",
        ),
        (
            "Clown on X",
            "'Clown' on X; expected a sex chromosome for a sex-linked gene only. Leave out 'on X'.",
        ),
        (
            "Super Banana on Y",
            "'Super Banana' with a sex chromosome named; expected 'on X' or 'on Y' after a gene "
            "with one copy. Leave out the chromosome: two copies lie on both.",
        ),
        (
            "male maker",
            "a sex chromosome with no gene; expected 'on X' or 'on Y' after a sex-linked gene, "
            "such as 'Banana on Y'",
        ),
        ("Clown?", "the mark '?'; expected genes of the catalogue. Leave it out."),
        (
            "[Mojave/Clown]",
            "'[Mojave/Clown]', of more than one locus; expected two alleles of one locus, such as "
            "[+/Pinstripe] or [clown: +/+]. Pin each locus by itself.",
        ),
        ("[+/+]", "'[+/+]'; expected the locus too, such as [clown: +/+]"),
        (
            "[clwn: +/+]",
            "the locus 'clwn' in '[clwn: +/+]'; expected a locus of the catalogue before the "
            "colon. Did you mean 'clown'?",
        ),
        (
            "Snow",
            "'Snow', which has more than one meaning; expected one of 'Albino VPI Axanthic' or "
            "'Albino TSK Axanthic' or 'Albino MJ Axanthic' or 'Albino Black Axanthic'. "
            "Write the one that is meant; genes.yaml may give the name one meaning.",
        ),
        (
            "Lesser Bee",
            "'Lesser Bee', which has more than one meaning; expected one of 'Lesser Spider' or "
            "'Lesser Pastel Spider'. "
            "Write the one that is meant; genes.yaml may give the name one meaning.",
        ),
    ],
)
def test_problems_speak_to_the_keeper(text: str, told: str) -> None:
    morph, problems = parse_morph(text, CATALOGUE)
    assert morph is None
    where = Where(file="animals.csv", row=7, column="morph")
    assert [str(fault) for fault in morph_faults(problems, where)] == [
        f"animals.csv, row 7, morph: found {told}"
    ]


def test_all_problems_of_a_text_are_told_at_once() -> None:
    _, problems = parse_morph("Clwn Mojave Mojave het Foo, Snow", CATALOGUE)
    assert [problem.found for problem in problems] == [
        "'Clwn'",
        "'Foo'",
        "'Snow', which has more than one meaning",
        "'Mojave' twice",
    ]


@pytest.mark.parametrize(
    ("text", "near"),
    [("Enchi hat Piebald", "'het'"), ("posible het Clown", "'possible'"), ("Cloun", "'Clown'")],
)
def test_words_of_the_notation_are_among_the_near_spellings(text: str, near: str) -> None:
    _, (problem,) = parse_morph(text, CATALOGUE)
    assert problem.repair.startswith(f"Did you mean {near}")


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("het Clown 66%", "66% het Clown"),
        ("het Clown (66%)", "66% het Clown"),
        ("ph Clown 50%", "50% het Clown"),
        ("Pastel, het Clown 66%, het Pied 50%", "Pastel 50% het Piebald 66% het Clown"),
        ("het Dreamsicle 50%", "50% het Lavender Albino 50% het Piebald"),
        ("het Clown 100%", "het Clown"),
        # A figure with a gene after it is that gene's, as ever.
        ("het Clown 66% het Pied", "het Clown 66% het Piebald"),
        ("het Clown, 66% Pied", "het Clown 66% het Piebald"),
        ("Banana (male maker)", "Banana on Y"),
        ("Super Pastel Banana (female maker)", "Banana on X Super Pastel"),
        ("Axanthic (VPI)", "VPI Axanthic"),
        ("66% het Axanthic (TSK) het Clown", "het Clown 66% het TSK Axanthic"),
        ("het Axanthic (MJ) 50%", "50% het MJ Axanthic"),
        ("Axanthic (Black) Pied", "Black Axanthic Piebald"),
        ("Possible Yellow Belly 50%", "50% Yellow Belly"),
        ("het Pastel 50%", "50% Pastel"),
        ("BEL", "Blue Eyed Leucistic"),
        ("BEL (Mojave/Lesser) het Clown", "Lesser Mojave het Clown"),
        ("Super Russo", "White Diamond"),
        ("Platinum", "Daddy Lesser"),
        ("Crypton", "Clown Cryptic"),
        ("Black Magic 66% het Pied", "Black Pastel Mojave 66% het Piebald"),
        ("Savannah", "Cinnamon Mojave"),
    ],
)
def test_forms_that_keepers_write(text: str, canonical: str) -> None:
    """Common practice, no source: how keepers label their animals."""
    assert written(text) == canonical
    assert written(canonical) == canonical


def test_a_possible_het_without_a_figure_has_the_one_set_for_it() -> None:
    for text in ("poss het Clown", "ph Clown", "possible Clown"):
        morph, problems = parse_morph(text, CATALOGUE, 2 / 3)
        assert morph is not None, problems
        assert format_morph(morph, CATALOGUE) == "66% het Clown"
    morph, _ = parse_morph("Possible Yellow Belly, poss het Clown 50%", CATALOGUE, 2 / 3)
    assert morph is not None
    assert format_morph(morph, CATALOGUE) == "50% het Clown 66% Yellow Belly"


def test_a_figure_behind_several_genes_is_not_guessed_at() -> None:
    morph, problems = parse_morph("het Clown Pied 66%", CATALOGUE)
    assert morph is None
    assert [(each.found, each.repair) for each in problems] == [
        ("'66%' behind several genes", "Write it before each, such as '66% het Clown'.")
    ]


def test_a_look_of_unknown_make_up_with_a_gene_that_cannot_make_it() -> None:
    morph, problems = parse_morph("BEL Phantom", CATALOGUE)
    assert morph is None
    assert problems[0].found == "'BEL' and 'Phantom', of one locus (blue-eyed leucistic)"


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Pastel Spider", "Bumblebee"),
        ("Super Pastel Clown", "Killer Clown"),
        ("Clown Pastel Spider Banana", "Bumblebee Banana Clown"),
        ("Lesser Mojave", "Lesser Mojave (Blue Eyed Leucistic)"),
        ("Lesser Mojave Clown", "Lesser Mojave Clown (Blue Eyed Leucistic)"),
        ("Black Pastel Mojave", "Black Magic"),
        ("Cinnamon Pastel Pinstripe", "Pewter Blast"),
        ("Clown", "Clown"),
        ("Normal", "Normal"),
    ],
)
def test_results_in_the_names_of_the_trade(text: str, name: str) -> None:
    """Common practice, no source; what is written reads back as the same genes."""
    morph = read(text)
    assert in_trade_names(morph, CATALOGUE) == name
    assert read(name) == morph


@settings(deadline=None)
@given(st.data())
def test_names_of_the_trade_read_back(data: st.DataObject) -> None:
    pairs = {
        locus: data.draw(
            st.sampled_from(
                [
                    tuple(sorted(both))
                    for both in itertools.combinations_with_replacement(
                        ["+", *CATALOGUE.loci[locus]], 2
                    )
                ]
            )
        )
        for locus in data.draw(st.sets(st.sampled_from(sorted(CATALOGUE.loci)), max_size=6))
    }
    name = trade_name(pairs, CATALOGUE)
    assert read(name) == read(visual_name(pairs, CATALOGUE))
