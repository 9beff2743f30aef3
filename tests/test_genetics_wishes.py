"""What a wanted entry asks for: the rules of the price list, pair by pair."""

from __future__ import annotations

import itertools

import pytest

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.genotypes import WILD, AllelePair
from brumal.genetics.wishes import Wish, wish_of

CATALOGUE, _ = load_catalogue()


def wish(text: str) -> Wish:
    found, problems = wish_of(text, CATALOGUE)
    assert found is not None, problems
    return found


def satisfying(text: str, locus: str) -> set[AllelePair]:
    """Try every pair of alleles of a locus."""
    found = wish(text)
    alleles = sorted([WILD, *CATALOGUE.loci[locus]])
    pairs = itertools.combinations_with_replacement(alleles, 2)
    return {pair for pair in pairs if found.satisfied({locus: pair})}


def pairs_with(locus: str, gene: str) -> set[AllelePair]:
    return {tuple(sorted((gene, other))) for other in (WILD, *CATALOGUE.loci[locus])}  # type: ignore[misc]


BEL = "blue-eyed leucistic"


def test_an_entry_for_a_visual_recessive() -> None:
    """Two copies, or one beside another allele of the series; never one beside wild type."""
    assert satisfying("Clown", "clown") == {("Clown", "Clown"), ("Clown", "Cryptic")}
    assert satisfying("Albino", "albino") == {
        ("Albino", "Albino"),
        ("Albino", "Candy"),
        ("Albino", "Toffee"),
    }


def test_an_entry_for_a_het_is_satisfied_by_the_visual() -> None:
    assert satisfying("het Clown", "clown") == {
        (WILD, "Clown"),
        ("Clown", "Clown"),
        ("Clown", "Cryptic"),
    }
    assert satisfying("het Albino", "albino") == pairs_with("albino", "Albino")


def test_an_entry_for_one_copy_is_satisfied_by_the_super_and_by_compounds() -> None:
    assert satisfying("Pastel", "pastel") == {(WILD, "Pastel"), ("Pastel", "Pastel")}
    assert satisfying("Mojave", BEL) == pairs_with(BEL, "Mojave")
    assert satisfying("Pinstripe", "pinstripe") == pairs_with("pinstripe", "Pinstripe")


def test_an_entry_for_two_copies_or_for_two_alleles_needs_both() -> None:
    assert satisfying("Super Mojave", BEL) == {("Mojave", "Mojave")}
    assert satisfying("Super Pinstripe", "pinstripe") == {("Pinstripe", "Pinstripe")}
    assert satisfying("Crystal", BEL) == {("Mojave", "Special")}
    assert satisfying("[+/Pinstripe]", "pinstripe") == {(WILD, "Pinstripe")}


def test_every_locus_of_an_entry_must_be_right() -> None:
    found = wish("Pastel Clown het Pied")
    assert found.genes == {"Pastel", "Clown", "Piebald"}
    assert [need.locus for need in found.needs] == ["clown", "pastel", "piebald"]
    full: dict[str, AllelePair] = {
        "pastel": (WILD, "Pastel"),
        "clown": ("Clown", "Clown"),
        "piebald": ("Piebald", "Piebald"),
        "ghost": (WILD, "Ghost"),
    }
    assert found.satisfied(full)
    for locus in ("pastel", "clown", "piebald"):
        assert not found.satisfied({**full, locus: (WILD, WILD)})
        assert not found.satisfied({k: v for k, v in full.items() if k != locus})
    assert wish("Crystal").genes == {"Mojave", "Special"}


def test_normal_asks_for_nothing() -> None:
    assert wish("Normal").satisfied({"clown": ("Clown", "Clown")})
    assert wish("Normal").genes == frozenset()


@pytest.mark.parametrize(
    ("text", "found", "repair"),
    [
        (
            "Pastel 66% het Clown",
            "a possible het Clown",
            "Ask for 'het Clown'; a possible one is counted by its probability.",
        ),
        ("Banana on Y", "Banana on Y", "Ask for 'Banana', and give its value by sex."),
        ("Clwn", "'Clwn'", "Did you mean 'Clown' or 'Clown Bee'?"),
    ],
)
def test_what_no_entry_can_ask_for(text: str, found: str, repair: str) -> None:
    made, (problem,) = wish_of(text, CATALOGUE)
    assert made is None
    assert (problem.found, problem.repair) == (found, repair)
