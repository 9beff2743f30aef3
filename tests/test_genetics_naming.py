"""Genotypes to words and back."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Inheritance
from brumal.genetics.genotypes import WILD, AllelePair, diplotype
from brumal.genetics.notation.naming import (
    Look,
    diplotype_pairs,
    name_of,
    visual_name,
    visuals_and_hets,
)
from brumal.genetics.notation.parse import parse_morph

CATALOGUE, _ = load_catalogue()


# Common practice, no source: which copies of a gene show.
@pytest.mark.parametrize(
    ("pair", "locus", "look"),
    [
        ((WILD, WILD), "clown", Look()),
        ((WILD, "Clown"), "clown", Look(hets=("Clown",))),
        (("Clown", "Clown"), "clown", Look(visuals=("Clown",))),
        ((WILD, "Pastel"), "pastel", Look(visuals=("Pastel",))),
        (("Pastel", "Pastel"), "pastel", Look(visuals=("Pastel",))),
        ((WILD, "Pinstripe"), "pinstripe", Look(visuals=("Pinstripe",))),
        (("Albino", "Candy"), "albino", Look(visuals=("Albino", "Candy"))),
        (("Lesser", "Mojave"), "blue-eyed leucistic", Look(visuals=("Lesser", "Mojave"))),
    ],
)
def test_visuals_and_hets(pair: AllelePair, locus: str, look: Look) -> None:
    assert visuals_and_hets(pair, CATALOGUE, locus) == look


def test_an_allele_of_another_locus_is_refused() -> None:
    with pytest.raises(ValueError, match="'Clown' is no allele of the locus 'pastel'"):
        visuals_and_hets((WILD, "Clown"), CATALOGUE, "pastel")


@pytest.mark.parametrize(
    ("pairs", "name", "look"),
    [
        ({}, "Normal", "Normal"),
        ({"clown": (WILD, "Clown")}, "het Clown", "Normal"),
        (
            {
                "pastel": ("Pastel", "Pastel"),
                "clown": ("Clown", "Clown"),
                "piebald": (WILD, "Piebald"),
                "ghost": (WILD, WILD),
            },
            "Super Pastel Clown het Piebald",
            "Super Pastel Clown",
        ),
        ({"pinstripe": (WILD, "Pinstripe")}, "Pinstripe", "Pinstripe"),
        ({"pinstripe": ("Pinstripe", "Pinstripe")}, "Super Pinstripe", "Pinstripe"),
        ({"yellow belly": ("Yellow Belly", "Yellow Belly")}, "Ivory", "Ivory"),
        (
            {"yellow belly": ("Gravel", "Yellow Belly")},
            "Gravel Yellow Belly",
            "Gravel Yellow Belly",
        ),
        ({"albino": ("Albino", "Candy")}, "Albino Candy", "Albino Candy"),
        (
            {"desert": (WILD, "Desert"), "ghost": ("Ghost", "Ghost")},
            "Desert, Ghost",
            "Desert, Ghost",
        ),
    ],
)
def test_names(pairs: dict[str, AllelePair], name: str, look: str) -> None:
    assert name_of(pairs, CATALOGUE) == name
    assert visual_name(pairs, CATALOGUE) == look


@st.composite
def _genotypes(draw: st.DrawFn) -> dict[str, AllelePair]:
    loci = draw(st.sets(st.sampled_from(sorted(CATALOGUE.loci)), max_size=6))
    pairs: dict[str, AllelePair] = {}
    for locus in sorted(loci):
        alleles = st.sampled_from([WILD, *CATALOGUE.loci[locus]])
        first, second = sorted((draw(alleles), draw(alleles)))
        pairs[locus] = (first, second)
    return pairs


@settings(deadline=None)
@given(_genotypes())
def test_a_name_claims_its_genotype(pairs: dict[str, AllelePair]) -> None:
    """Reading a name gives back the pairs it was made from, a dominant's one copy as likeliest."""
    morph, problems = parse_morph(name_of(pairs, CATALOGUE), CATALOGUE)
    assert problems == ()
    assert morph is not None
    told = {claim.locus: claim.pairs[0] for claim in morph.claims}
    assert told == {locus: pair for locus, pair in pairs.items() if pair != (WILD, WILD)}


@settings(deadline=None)
@given(_genotypes())
def test_a_look_hides_exactly_the_hets(pairs: dict[str, AllelePair]) -> None:
    visuals = {
        gene
        for locus, pair in pairs.items()
        for gene in visuals_and_hets(pair, CATALOGUE, locus).visuals
    }
    morph, _ = parse_morph(visual_name(pairs, CATALOGUE), CATALOGUE)
    assert morph is not None
    named = {name for claim in morph.claims for name in claim.pairs[0] if name != WILD}
    assert named == visuals
    hidden = {name for pair in pairs.values() for name in pair if name != WILD} - visuals
    assert all(CATALOGUE.alleles[name].inheritance is Inheritance.RECESSIVE for name in hidden)


def test_a_diplotype_splits_by_locus_without_the_sexes() -> None:
    male = diplotype(("X", WILD), ("Y", "Banana"))
    assert diplotype_pairs("sex", male, CATALOGUE) == {"banana": (WILD, "Banana")}
    het = diplotype(("Clown",), (WILD,))
    assert diplotype_pairs("clown", het, CATALOGUE) == {"clown": (WILD, "Clown")}
