"""Kinship as paths: through each common ancestor a pair of lines of descent, with what it gives.

Wright's formula (Wright 1922, Am Nat 56:330-338, from memory): the inbreeding coefficient of the
young of two animals is the sum over all paths of (1/2)^n (1 + F_A). A path goes from one parent up
to a common ancestor A and down to the other without meeting any animal twice; n counts all animals
in it, both parents and A included.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from brumal.pedigree.graph import Pedigree
from brumal.pedigree.lineage import Floats, Lineage, ancestry, lineage_of
from brumal.pedigree.tabular import whole_kinship

#: Beyond so many pairs of lines a pair's paths are grouped by ancestor.
LINES_SHOWN = 200

Way = tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """One path: the line from each animal up to the ancestor, both ends included.

    ``n`` counts the animals in it. Where the lines end at two founders of stated kinship, they end
    at different animals.
    """

    one_line: tuple[str, ...]
    other_line: tuple[str, ...]
    n: int
    contribution: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source of kinship: a common ancestor, or two founders of stated kinship.

    ``ends`` holds the ancestor, or the two founders. For an ancestor ``figure`` is its F and a path
    gives (1/2)^n (1 + F); for founders it is their stated kinship and a path gives
    (1/2)^(n - 2) times that. ``contribution`` is the exact sum over all ``lines`` pairs of lines,
    of which the shortest has ``shortest`` animals. ``paths`` is empty where lines are grouped.
    """

    ends: tuple[str, ...]
    figure: float
    lines: int
    shortest: int
    contribution: float
    paths: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PairPaths:
    """The kinship of two animals by its sources, the greatest first.

    ``phi`` is the kinship by the tabular method, ``total`` the sum of the contributions. With
    ``grouped`` there are more than ``limit`` pairs of lines, ``lines`` in all, and each source
    gives only their number and exact sum.
    """

    one: str
    other: str
    phi: float
    total: float
    lines: int
    grouped: bool
    limit: int
    sources: tuple[Source, ...]

    def after(self, count: int) -> float:
        """Return what all sources but the first so many give together."""
        return sum(source.contribution for source in self.sources[count:])

    def by_step(self) -> dict[tuple[str, str], float]:
        """Return, for each step (young, parent) on a path, the kinship that passes over it."""
        steps: dict[tuple[str, str], float] = {}
        for source in self.sources:
            for path in source.paths:
                for line in (path.one_line, path.other_line):
                    for step in pairwise(line):
                        steps[step] = steps.get(step, 0.0) + path.contribution
        return steps


def paths_between(pedigree: Pedigree, one: str, other: str, limit: int = LINES_SHOWN) -> PairPaths:
    """Return the paths that make two animals kin, grouped beyond ``limit`` pairs of lines.

    For an animal with itself the one path is the animal alone, and the sum (1 + F) / 2. Raises
    ``KeyError`` for an id that is not in the pedigree.
    """
    ends = np.array([pedigree.index[one], pedigree.index[other]])
    members = ancestry(pedigree, ends)
    line = lineage_of(pedigree, members)
    names = tuple(pedigree.ids[at] for at in members)
    first, second = (int(at) for at in np.searchsorted(members, ends))
    phi = whole_kinship(line)
    tally = _tally(line, first, second)
    total_lines = sum(lines for *_, lines, _ in _meetings(line, tally))
    grouped = total_lines > limit
    found: dict[tuple[int, int], list[Path]] = {}
    if total_lines and not grouped:
        for up, down in _walk(line, phi, first, second):
            found.setdefault((up[-1], down[-1]), []).append(_path(phi, names, up, down))
    sources = [
        Source(
            ends=(names[a],) if a == b else (names[a], names[b]),
            figure=2.0 * float(phi[a, a]) - 1.0 if a == b else float(phi[a, b]),
            lines=lines,
            shortest=steps + (1 if a == b else 2),
            contribution=float(tally.share[a, b] * phi[a, b]),
            paths=tuple(sorted(found.get((a, b), ()), key=_by_length)),
        )
        for a, b, lines, steps in _meetings(line, tally)
    ]
    sources.sort(key=lambda source: (-source.contribution, source.shortest, source.ends))
    return PairPaths(
        one=one,
        other=other,
        phi=float(phi[first, second]),
        total=sum(source.contribution for source in sources),
        lines=total_lines,
        grouped=grouped,
        limit=limit,
        sources=tuple(sources),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Tally:
    """For each pair (a, b) of members, shape (n, n): pairs of lines from the one up to a, from the
    other up to b, without a shared animal below: how many, the sum of (1/2)^steps, fewest steps.
    """  # noqa: D205

    share: Floats
    lines: Floats
    steps: Floats


def _tally(line: Lineage, first: int, second: int) -> _Tally:
    """Count pairs of lines by where they end, without listing them.

    The younger of two ends is always the one that is taken up to its parents, so two lines that
    share animals meet at the youngest of these, and end there.
    """
    shape = (line.n, line.n)
    share, lines, steps = np.zeros(shape), np.zeros(shape), np.full(shape, np.inf)
    share[first, second] = lines[first, second] = 1.0
    steps[first, second] = 0.0
    for child in range(max(first, second), -1, -1):
        for parent in (int(line.dams[child]), int(line.sires[child])):
            if parent == line.n:
                continue
            # Row: the first line stands at the child; column: the second does.
            for end, start in (
                (np.s_[parent, :child], np.s_[child, :child]),
                (np.s_[:child, parent], np.s_[:child, child]),
            ):
                share[end] += 0.5 * share[start]
                lines[end] += lines[start]
                steps[end] = np.minimum(steps[end], steps[start] + 1.0)
    return _Tally(share, lines, steps)


def _meetings(line: Lineage, tally: _Tally) -> Iterator[tuple[int, int, int, int]]:
    """Yield (a, b, pairs of lines, fewest steps) for ancestors (a = b) and related founders."""
    ancestors = [(int(at), int(at)) for at in np.flatnonzero(np.diagonal(tally.lines))]
    founders = [(int(a), int(b)) for a, b in line.related if line.n]
    for a, b in (*ancestors, *founders, *((b, a) for a, b in founders)):
        if tally.lines[a, b] > 0.0:
            yield a, b, int(tally.lines[a, b]), int(tally.steps[a, b])


def _walk(line: Lineage, phi: Floats, first: int, second: int) -> Iterator[tuple[Way, Way]]:
    """Yield every pair of lines to a common ancestor or to two related founders."""
    open_ways: list[tuple[Way, Way]] = [((first,), (second,))]
    while open_ways:
        up, down = open_ways.pop()
        a, b = up[-1], down[-1]
        child = max(a, b)
        parents = [int(p) for p in (line.dams[child], line.sires[child]) if p != line.n]
        if a == b or not parents:  # founders stand first, so both ends are founders
            yield up, down
            continue
        ways = [
            ((*up, parent), down) if child == a else (up, (*down, parent)) for parent in parents
        ]
        open_ways += [way for way in ways if phi[way[0][-1], way[1][-1]] > 0.0]


def _path(phi: Floats, names: tuple[str, ...], up: Way, down: Way) -> Path:
    steps = len(up) + len(down) - 2
    return Path(
        one_line=tuple(names[at] for at in up),
        other_line=tuple(names[at] for at in down),
        n=steps + (1 if up[-1] == down[-1] else 2),
        contribution=float(0.5**steps * phi[up[-1], down[-1]]),
    )


def _by_length(path: Path) -> tuple[int, tuple[str, ...], tuple[str, ...]]:
    return path.n, path.one_line, path.other_line
