"""Animals that are their own ancestors: found, named and cut out of the pedigree."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from graphlib import CycleError, TopologicalSorter

from brumal.pedigree.checks import Parents
from brumal.records.animals import Animal
from brumal.records.faults import Fault, Where

Links = Mapping[str, set[str]]
"""Names by name, one way: parents by young, or young by parent."""


def cut_cycles(
    parents: Mapping[str, Parents], rows: Mapping[str, Animal], file: str
) -> tuple[dict[str, Parents], list[Fault]]:
    """Return ``parents`` ((dam, sire) by id) without the links inside cycles, and the faults.

    Each group of animals that are ancestors of one another gives one fault, with a shortest
    circle through the animal that stands first in the file.
    """
    links = {
        name: {each for each in pair if each and each in parents} for name, pair in parents.items()
    }
    young = young_of(links)
    circles = _circles(links, young)
    cut = dict(parents)
    for group in circles:
        for name in group:
            dam, sire = parents[name]
            cut[name] = (None if dam in group else dam, None if sire in group else sire)
    faults = [_cycle_fault(group, young, rows, file) for group in circles]
    return cut, sorted(faults, key=lambda fault: (fault.where.row or 0, fault.found))


def young_of(links: Links) -> dict[str, set[str]]:
    """Return the young by parent of the parents by young, or the other way round."""
    turned: dict[str, set[str]] = {name: set() for name in links}
    for name, others in links.items():
        for other in others:
            turned[other].add(name)
    return turned


def _circles(links: Links, young: Links) -> list[set[str]]:
    """Return the groups of animals that are ancestors of one another."""
    left = _blocked(young, _blocked(links, set(links)))
    circles = []
    while left:
        one = min(left)
        group = _reached(one, links, left) & _reached(one, young, left)
        circles.extend([group] if group else [])
        left -= group | {one}
    return circles


def _blocked(links: Links, among: set[str]) -> set[str]:
    """Return those on a circle, and those from which links lead to one."""
    sorter = TopologicalSorter({name: links[name] & among for name in among})
    with suppress(CycleError):
        sorter.prepare()
    left = set(among)
    while ready := sorter.get_ready():
        sorter.done(*ready)
        left.difference_update(ready)
    return left


def _reached(start: str, links: Links, among: set[str]) -> set[str]:
    """Return what links lead to from ``start``: itself only on a circle."""
    found: set[str] = set()
    ahead = [start]
    while ahead:
        new = (links[ahead.pop()] & among) - found
        found |= new
        ahead.extend(new)
    return found


def _cycle_fault(group: set[str], young: Links, rows: Mapping[str, Animal], file: str) -> Fault:
    start = min(group, key=lambda name: (rows[name].row, name))
    circle = _shortest_circle(group, young, start)
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


def _shortest_circle(group: set[str], young: Links, start: str) -> list[str]:
    """Return start, its young, ..., start again; ties go to the lesser ids."""
    ways, seen = deque([[start]]), {start}
    while start not in young[ways[0][-1]]:
        way = ways.popleft()
        new = sorted((young[way[-1]] & group) - seen)
        seen.update(new)
        ways.extend([*way, name] for name in new)
    return [*ways[0], start]
