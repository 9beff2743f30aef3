"""Relationships in words: the standard pedigrees, the sexes, and a search by definition."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.pedigree.graph import FounderFacts, Pedigree, build_pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.relationship import UNRELATED, relationship
from brumal.records.animals import Animal, Sex
from pedigrees_for_tests import herds, pedigree_of, sound

F, M = Sex.FEMALE, Sex.MALE

FAMILY = """
S:0,0 D:0,0 S2:0,0 D2:0,0 S3:0,0 D3:0,0
A:S,D B:S,D H:S,D2
C:A,D2 E:S3,B
G:C,D3 I:S3,E
J:G,0 K:0,I
L:J,0 N:L,0 O:N,0 P:O,0
"""
SEXES = {"S": M, "D": F, "A": M, "B": F, "H": F, "C": M, "E": F, "G": M, "I": F, "J": M, "K": F,
         "L": M, "N": M, "O": M}  # fmt: skip


@pytest.fixture(scope="module")
def family() -> Pedigree:
    return pedigree_of(FAMILY, sexes=SEXES)


@pytest.mark.parametrize(
    ("one", "other", "words", "elder", "up", "down"),
    [
        ("A", "A", "the same animal", None, 0, 0),
        ("S", "S2", UNRELATED, None, None, None),
        ("S", "A", "sire and son", "S", 0, 1),
        ("B", "D", "dam and daughter", "D", 1, 0),
        ("S", "E", "grandsire and granddaughter", "S", 0, 2),
        ("D", "C", "granddam and grandson", "D", 0, 2),
        ("G", "S", "great-grandsire and great-grandson", "S", 3, 0),
        ("S", "L", "great-great-great-grandsire and great-great-great-grandson", "S", 0, 5),
        ("S", "P", "ancestor 8 generations back and descendant", "S", 0, 8),
        ("A", "B", "full siblings", None, 1, 1),
        ("A", "H", "half siblings through their sire", None, 1, 1),
        ("H", "C", "half siblings through their dam", None, 1, 1),
        ("E", "A", "uncle and niece", "A", 2, 1),
        ("B", "C", "aunt and nephew", "B", 1, 2),
        ("H", "E", "half aunt and niece", "H", 1, 2),
        ("B", "G", "great-aunt and great-nephew", "B", 1, 3),
        ("C", "E", "first cousins", None, 2, 2),
        ("C", "I", "first cousins once removed", "C", 2, 3),
        ("K", "C", "first cousins twice removed", "C", 4, 2),
        ("G", "I", "second cousins", None, 3, 3),
        ("J", "K", "third cousins", None, 4, 4),
        ("I", "L", "second cousins twice removed", "I", 3, 5),
    ],
)
def test_words(
    family: Pedigree, one: str, other: str, words: str, elder: str | None, up: int, down: int
) -> None:
    found = relationship(family, one, other)
    assert (found.words, found.elder, found.up, found.down) == (words, elder, up, down)
    back = relationship(family, other, one)
    assert (back.words, back.elder, back.up, back.down) == (words, elder, down, up)


@pytest.mark.parametrize(
    ("text", "one", "other", "words"),
    [
        # id: sire, dam. Double first cousins: two siblings with two siblings.
        ("1:S,D 2:S,D 3:T,E 4:T,E A:1,3 B:2,4", "A", "B", "double first cousins"),
        ("1:S,D 2:S,E A:1,0 B:2,0", "A", "B", "half first cousins"),
        ("1:S,D 2:S,D 3:S,D A:1,2", "3", "A", "double aunt or uncle and niece or nephew"),
        ("1:S,D A:S,1", "S", "A", "sire and young"),
        ("1:S,D 2:S,E A:1,2", "S", "A", "grandsire and grandchild, by 2 lines"),
        # Half sibling by the dam and grandsire: equally far, the grandsire stands first.
        ("1:S,D A:T,1", "D", "A", "granddam and grandchild"),
    ],
)
def test_further_combinations(text: str, one: str, other: str, words: str) -> None:
    assert relationship(pedigree_of(text), one, other).words == words


def test_founders_stated_as_kin() -> None:
    pedigree = pedigree_of("A:P,0 B:Q,0", FounderFacts(kinship={("P", "Q"): 0.125}))
    found = relationship(pedigree, "A", "B")
    assert found.words == "no common ancestor recorded; kin through founders stated as related"


@given(herds(), st.data())
def test_the_words_never_promise_more_than_the_kinship(
    animals: list[Animal], data: st.DataObject
) -> None:
    pedigree = sound(animals)
    one, other = (data.draw(st.sampled_from(pedigree.ids)) for _ in range(2))
    found = relationship(pedigree, one, other)
    phi = kinship_block(pedigree, {one, other}).phi(one, other)
    assert found.phi <= phi + 1e-15
    assert (found.words == UNRELATED) == (phi == 0.0)


@given(herds())
def test_near_kin_by_definition(animals: list[Animal]) -> None:
    """Against the plain definitions of parent, full and half sibling, read off the table."""
    pedigree = build_pedigree(animals)[0]
    for one in animals:
        for other in animals:
            if one.id == other.id:
                continue
            words = relationship(pedigree, one.id, other.id).words
            shared = sum(
                mine is not None and mine == theirs
                for mine, theirs in ((one.dam, other.dam), (one.sire, other.sire))
            )
            if one.id in (other.dam, other.sire):
                assert words.startswith({F: "dam and ", M: "sire and "}[one.sex or F])
            elif other.id in (one.dam, one.sire):
                assert words.startswith({F: "dam and ", M: "sire and "}[other.sex or F])
            else:
                assert (words == "full siblings") == (shared == 2)
                assert words.startswith("half siblings through") <= (shared == 1)
