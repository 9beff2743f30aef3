"""Animals that are their own ancestors: found, named and cut out of the pedigree."""

from __future__ import annotations

from collections.abc import Mapping

import networkx as nx

from brumal.pedigree.checks import Parents
from brumal.records.animals import Animal
from brumal.records.faults import Fault, Where


def cut_cycles(
    parents: Mapping[str, Parents], rows: Mapping[str, Animal], file: str
) -> tuple[dict[str, Parents], list[Fault]]:
    """Return ``parents`` ((dam, sire) by id) without the links inside cycles, and the faults.

    Each group of animals that are ancestors of one another gives one fault, with a shortest
    circle through the animal that stands first in the file.
    """
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(parents)
    graph.add_edges_from((p, young) for young, pair in parents.items() for p in pair if p)
    circles = [
        group
        for group in nx.strongly_connected_components(graph)
        if len(group) > 1 or graph.has_edge(*(tuple(group) * 2))
    ]
    cut = dict(parents)
    for group in circles:
        for name in group:
            dam, sire = parents[name]
            cut[name] = (None if dam in group else dam, None if sire in group else sire)
    faults = [_cycle_fault(group, graph, rows, file) for group in circles]
    return cut, sorted(faults, key=lambda fault: (fault.where.row or 0, fault.found))


def _cycle_fault(
    group: set[str], graph: nx.DiGraph[str], rows: Mapping[str, Animal], file: str
) -> Fault:
    start = min(group, key=lambda name: (rows[name].row, name))
    circle = _shortest_circle(graph.subgraph(group), start)
    parent = circle[-2]
    column = "dam" if rows[start].dam == parent else "sire"
    others = sorted(group - set(circle))
    also = f" (in the same tangle: {', '.join(others)})" if others else ""
    return Fault(
        where=Where(file=file, row=rows[start].row or None, column=column),
        found=f"'{start}' as its own ancestor: {' > '.join(circle)} (parent > young){also}",
        expected="parents that are not descended from their young",
        repair=f"Correct one of the parents of {', '.join(sorted(set(circle)))}.",
    )


def _shortest_circle(graph: nx.DiGraph[str], start: str) -> list[str]:
    """Return start, its young, ..., start again; ties go to the lesser ids."""
    ordered: nx.DiGraph[str] = nx.DiGraph()
    ordered.add_nodes_from(sorted(graph))
    ordered.add_edges_from(sorted(graph.edges))
    ways_back = [
        [start, *nx.shortest_path(ordered, young, start)]
        for young in sorted(ordered.successors(start))
    ]
    return min(ways_back, key=lambda way: (len(way), way))
