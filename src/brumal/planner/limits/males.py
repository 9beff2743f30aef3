"""Pairings of a male: at most his limit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from brumal.planner.limits.limit import Limit, More, all_taken, counted, or_facts, whole
from brumal.planner.problem import Problem

PAIRING = "pairing of a male"


def limits(problem: Problem) -> Iterator[Limit]:
    """Yield a row for each male who has more open pairs than pairings."""
    columns = problem.columns
    unsure = _unsure(problem)
    order = np.argsort(columns.sire, kind="stable")
    first = np.searchsorted(columns.sire[order], np.arange(len(columns.sires) + 1))
    for place, sire in enumerate(columns.sires):
        his = order[first[place] : first[place + 1]]
        if sire in unsure:
            his = np.union1d(his, unsure[sire])
        most = problem.male_limits.get(sire)
        if most is None or most >= his.size:
            continue
        free = {**problem.male_limits, sire: len(columns)}
        ones = np.ones(his.size)
        held = round(or_facts(problem, most, his, ones))
        yield Limit(
            id=f"pairings_per_male[{sire}]",
            setting=f"pairings_per_male[{sire}]",
            problem=problem,
            members=his,
            amounts=ones,
            most=held,
            said=f"{{owner}} serves at most {most}",
            named=f"{counted(held, 'pairing', 'pairings')} of {{owner}}",
            full=all_taken(held, "pairing", "pairings", " of {owner}"),
            without=partial(replace, problem, male_limits=free),
            enough=lambda least: str(whole(least)),
            owner=sire,
        )


def _unsure(problem: Problem) -> dict[str, list[int]]:
    """Return for each male the pairs of uncertain sire that may be his, by index."""
    found: dict[str, list[int]] = defaultdict(list)
    for at, pair in enumerate(problem.columns.pairs if problem.sires else ()):
        for sire in problem.sires.get(pair, ()):
            found[sire].append(at)
    return found


def more(problem: Problem) -> Iterator[More]:
    """Yield one more female for each male that has open pairs."""
    for sire, limit in sorted(problem.male_limits.items()):
        yield More(
            thing=PAIRING,
            step=1,
            words="one more female for {owner}",
            problem=replace(problem, male_limits={**problem.male_limits, sire: limit + 1}),
            owner=sire,
        )
