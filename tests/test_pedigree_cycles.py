"""Animals that are their own ancestors."""

from __future__ import annotations

import re

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from brumal.pedigree.graph import build_pedigree
from brumal.records.animals import Animal
from pedigrees_for_tests import animals_of


def cycle_faults(animals: list[Animal]) -> list[str]:
    return [str(fault) for fault in build_pedigree(animals)[1] if "own ancestor" in fault.found]


def test_a_circle_is_told_once_with_its_animals_in_order() -> None:
    assert cycle_faults(animals_of("A:C,0 B:A,0 C:B,0 D:C,0")) == [
        "animals.csv, row 2, sire: found 'A' as its own ancestor: A > B > C > A (parent > young); "
        "expected parents that are not descended from their young. Correct one of the parents of "
        "A, B, C."
    ]


def test_its_own_parent() -> None:
    assert cycle_faults(animals_of("A:0,A")) == [
        "animals.csv, row 2, dam: found 'A' as its own ancestor: A > A (parent > young); "
        "expected parents that are not descended from their young. Correct one of the parents of A."
    ]


def test_circles_apart_are_told_apart_and_tangled_ones_together() -> None:
    found = cycle_faults(animals_of("A:B,0 B:A,C C:0,B D:E,0 E:D,0"))
    assert len(found) == 2
    assert "A > B > A (parent > young) (in the same tangle: C)" in found[0]
    assert "D > E > D" in found[1]


def test_the_links_of_a_circle_are_cut_and_the_others_stay() -> None:
    pedigree = build_pedigree(animals_of("A:B,F B:A,0 F:0,0 G:A,0"))[0]
    assert pedigree.parents("A") == ("F", None)
    assert pedigree.parents("B") == (None, None)
    assert pedigree.parents("G") == (None, "A")


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=7, max_size=7))
def test_every_circle_is_found(parents: list[tuple[int, int]]) -> None:
    """Against networkx' tangles and shortest paths; 0 stands for an unknown parent."""
    animals = [
        Animal(id=str(at), dam=str(dam) if dam else None, sire=str(sire) if sire else None, row=at)
        for at, (dam, sire) in enumerate(parents, start=1)
    ]
    graph = nx.DiGraph([(str(p), one.id) for one in animals for p in (one.dam, one.sire) if p])
    tangles = [
        (min(group), sorted(group))
        for group in nx.strongly_connected_components(graph)
        if len(group) > 1 or graph.has_edge(*(2 * tuple(group)))
    ]
    pedigree, faults = build_pedigree(animals)
    assert nx.is_directed_acyclic_graph(nx.DiGraph(dict(pedigree.young)))
    found = [fault.found for fault in faults if "own ancestor" in fault.found]
    told = [re.findall(r"\d", text) for text in found]
    assert [(names[0], sorted(set(names))) for names in told] == sorted(tangles)
    for text in found:
        start, *way = text.split(": ")[1].split(" (")[0].split(" > ")
        ways = [
            each
            for young in graph[start]
            if nx.has_path(graph, young, start)
            for each in nx.all_shortest_paths(graph, young, start)
        ]
        assert way == min(ways, key=lambda each: (len(each), each))
