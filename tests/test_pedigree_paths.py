"""Kinship as paths: they sum to the kinship, and are the paths that Wright's rule allows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.pedigree.graph import FounderFacts, Pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.paths import paths_between
from brumal.records.animals import Animal
from pedigrees_for_tests import facts_for, herds, pedigree_of, random_animals, sound


def test_full_siblings_by_their_two_parents() -> None:
    found = paths_between(pedigree_of("S:0,0 D:0,0 A:S,D B:S,D"), "A", "B")
    assert (found.phi, found.total, found.lines, found.grouped) == (0.25, 0.25, 2, False)
    assert [source.ends for source in found.sources] == [("D",), ("S",)]
    [path] = found.sources[0].paths
    assert (path.one_line, path.other_line, path.n) == (("A", "D"), ("B", "D"), 3)
    assert path.contribution == 0.5**3


def test_an_inbred_ancestor_counts_for_more() -> None:
    """F_A of a sire bred from full siblings is 1/4: half siblings by it, (1/2)^3 (1 + 1/4)."""
    pedigree = pedigree_of("1:0,0 2:0,0 3:1,2 4:1,2 S:3,4 A:S,0 B:S,0")
    [source] = paths_between(pedigree, "A", "B").sources
    assert source.figure == 0.25
    assert source.contribution == 0.5**3 * 1.25


def test_a_parent_is_the_common_ancestor_of_itself_and_its_young() -> None:
    found = paths_between(pedigree_of("S:0,0 A:S,0"), "A", "S")
    [path] = found.sources[0].paths
    assert (path.one_line, path.other_line, path.n, path.contribution) == (
        ("A", "S"), ("S",), 2, 0.25
    )  # fmt: skip


def test_an_animal_with_itself() -> None:
    found = paths_between(pedigree_of("S:0,0"), "S", "S")
    assert found.sources[0].paths[0].n == 1
    assert found.total == found.phi == 0.5


def test_unrelated_animals_have_no_paths() -> None:
    found = paths_between(pedigree_of("S:0,0 D:0,0"), "S", "D")
    assert (found.sources, found.lines, found.total) == ((), 0, 0.0)


def test_stated_kinship_of_founders_shows_as_paths_through_both() -> None:
    facts = FounderFacts(kinship={("P", "Q"): 0.125})
    found = paths_between(pedigree_of("P:0,0 Q:0,0 A:P,0 B:Q,0", facts), "B", "A")
    [source] = found.sources
    assert (source.ends, source.figure, source.shortest) == (("Q", "P"), 0.125, 4)
    assert source.paths[0].contribution == source.contribution == 0.125 / 4
    assert found.total == found.phi == 0.125 / 4


def by_wright(pedigree: Pedigree, one: str, other: str) -> Counter[tuple[str, ...]]:
    """List all lines of both animals, keep the pairs that share their last animal only."""

    def lines(name: str) -> Iterator[tuple[str, ...]]:
        yield (name,)
        for parent in pedigree.parents(name):
            if parent:
                for rest in lines(parent):
                    yield (name, *rest)

    return Counter(
        (*up, "|", *down)
        for up in lines(one)
        for down in lines(other)
        if up[-1] == down[-1] and not set(up[:-1]) & set(down[:-1])
        and up[-1] not in down[:-1] and down[-1] not in up[:-1]
    )  # fmt: skip


@given(herds(16), st.data())
def test_paths_are_those_of_wrights_rule(animals: list[Animal], data: st.DataObject) -> None:
    pedigree = sound(animals)
    one, other = (data.draw(st.sampled_from(pedigree.ids)) for _ in range(2))
    found = paths_between(pedigree, one, other, limit=10**9)
    listed = Counter(
        (*path.one_line, "|", *path.other_line) for source in found.sources for path in source.paths
    )
    assert listed == by_wright(pedigree, one, other)
    assert found.lines == listed.total()


@given(herds(), st.data())
def test_paths_sum_to_the_kinship(animals: list[Animal], data: st.DataObject) -> None:
    pedigree = sound(animals, data.draw(facts_for(sound(animals))))
    one, other = (data.draw(st.sampled_from(pedigree.ids)) for _ in range(2))
    for limit in (0, 10**9):
        found = paths_between(pedigree, one, other, limit)
        assert found.phi == kinship_block(pedigree, {one, other}).phi(one, other)
        assert found.total == pytest.approx(found.phi, abs=1e-12)
        assert found.grouped == (found.lines > limit)
        for source in found.sources:
            own = sum(path.contribution for path in source.paths)
            assert own == pytest.approx(0.0 if found.grouped else source.contribution, abs=1e-15)
            f = source.figure
            for path in source.paths:  # the field's formula
                expected = (
                    0.5**path.n * (1 + f) if len(source.ends) == 1 else 0.5 ** (path.n - 2) * f
                )
                assert path.contribution == pytest.approx(expected, abs=1e-15)
            if source.paths:
                assert source.shortest == source.paths[0].n


def test_deep_pedigrees_are_grouped_by_ancestor_with_exact_totals() -> None:
    """Full siblings for 40 generations. Two lines meet in either parent, or go on through both
    (two ways): L(g) = 2 + 2 L(g - 1), so 2^41 - 2 pairs of lines.
    """
    text = "1:0,0 2:0,0"
    for dam in range(1, 81, 2):
        text += f" {dam + 2}:{dam + 1},{dam} {dam + 3}:{dam + 1},{dam}"
    found = paths_between(pedigree_of(text), "81", "82")
    assert found.grouped
    assert found.lines == 2**41 - 2
    assert found.total == pytest.approx(found.phi, abs=1e-12)
    assert [source.ends for source in found.sources[:2]] == [("79",), ("80",)]
    assert (found.sources[0].lines, found.sources[0].shortest) == (1, 3)
    assert (found.sources[-1].lines, found.sources[-1].shortest) == (2**39, 81)


def test_many_lines_are_counted_not_listed() -> None:
    animals = random_animals(600, 10, np.random.default_rng(5), window=30, unknown=0.02)
    pedigree = sound(animals)
    found = paths_between(pedigree, animals[-1].id, animals[-2].id)
    assert found.grouped
    assert found.lines > 10**9
    assert all(not source.paths for source in found.sources)
    assert found.total == pytest.approx(found.phi, abs=1e-12)
    assert found.sources == tuple(
        sorted(found.sources, key=lambda source: (-source.contribution, source.shortest))
    )
