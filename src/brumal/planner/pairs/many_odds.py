"""Odds of the young of very many pairs at once, in columns: what they come to on average.

A collection of a few hundred animals has tens of thousands of pairs. In what they may be at a
linkage group parents differ in few ways, most in the chances alone. What
:mod:`brumal.planner.pairs.tables` works out for one pair is worked out here by these *kinds* of
parents, all pairs of a kind in one go.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from brumal.forecast.layouts import Tables
from brumal.forecast.odds import YoungOdds
from brumal.genetics.crosses.pair_odds import JointChances, join_sires, joint_chances
from brumal.genetics.genotypes import Diplotype
from brumal.planner.pairs.candidate import Array, Pair
from brumal.planner.pairs.columns import Numbers, named
from brumal.planner.pairs.tables import Kind, PairTables, Role, only_possible
from brumal.records.animals import Sex

_MANY_KEYS = 2**62


@dataclass(frozen=True, slots=True, eq=False)
class ManyOdds:
    """The odds of many pairs' young over all that their parents may be.

    ``alike`` has tables of the outcomes of pairs that may have the same young, of one pair of each
    sort (their odds are not those of the others), and ``place``, shape (pairs,), the sort of each.
    """

    odds: YoungOdds
    alike: list[Tables]
    place: Numbers


def odds_of_many(tables: PairTables, pairs: Sequence[Pair]) -> ManyOdds:
    """Return the odds of many pairs."""
    parents = _Parents.of(pairs)
    columns = [_column(tables, group, parents) for group in tables.groups]
    keys, most = np.zeros(len(pairs), dtype=np.int64), 1
    for column in columns:
        codes, code = np.unique(column.codes, return_inverse=True)
        if most * codes.size > _MANY_KEYS:
            distinct, keys = np.unique(keys, return_inverse=True)
            most = distinct.size
        most *= codes.size
        keys = keys * codes.size + code.reshape(-1)[column.row]
    _, first, place = np.unique(keys, return_index=True, return_inverse=True)
    kinds = [
        [column.kinds[at] for at in column.kind[column.row[first]].tolist()] for column in columns
    ]
    return ManyOdds(
        odds=YoungOdds.of_groups(
            {column.group: (column.row, column.odds) for column in columns},
            np.sum([column.common[column.row] for column in columns], axis=0),
        ),
        alike=[
            tuple([kind.parents.alike for kind in sort if kind is not None])
            for sort in zip(*kinds, strict=True)
        ],
        place=place.reshape(-1),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Parents:
    """Pairs by the places of dam and sire in lists of them."""

    pairs: Sequence[Pair]
    dams: list[str]
    dam: Numbers
    sires: list[str]
    sire: Numbers

    @staticmethod
    def of(pairs: Sequence[Pair]) -> _Parents:
        dams, dam = named([dam for dam, _ in pairs])
        sires, sire = named([sire for _, sire in pairs])
        return _Parents(pairs, dams, dam, sires, sire)


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """Parents of one kind: their rows in a column, and chances, shape (rows, mothers, fathers).

    No kind says that all their young are alike.
    """

    kind: Kind | None
    rows: Numbers
    chances: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Column:
    """One linkage group: ``row``, shape (pairs,), says which row of the others is each pair's.

    Rows have a place in ``kinds`` each (``kind``), a code that is equal where outcomes are, the
    odds of these and the worth common to all entries.
    """

    group: str
    row: Numbers
    kinds: list[Kind | None]
    kind: Numbers
    codes: Numbers
    odds: Array
    common: Array


def _column(tables: PairTables, group: str, parents: _Parents) -> _Column:
    row, batches = _apart(tables, group, parents)
    count = sum(batch.rows.size for batch in batches)
    for pairs, kind, chances in _together(tables, group, parents):
        rows = np.arange(count, count + pairs.size)
        row[pairs] = rows
        count += pairs.size
        batches.append(_Batch(kind, rows, chances))
    sizes = [batch.kind.parents.alike.outcomes.sex.size for batch in batches if batch.kind]
    odds, common = np.zeros((count, max(sizes, default=1))), np.zeros(count)
    codes, kind_of = np.zeros(count, dtype=np.intp), np.zeros(count, dtype=np.intp)
    for number, batch in enumerate(batches):
        kind_of[batch.rows] = number
        if batch.kind is not None:
            made = batch.kind.parents
            codes[batch.rows] = made.alike.code
            own = made.weights(batch.chances) @ made.alike.odds[0]
            odds[batch.rows, : own.shape[1]] = own
            common[batch.rows] = made.commons(batch.chances)
    return _Column(group, row, [batch.kind for batch in batches], kind_of, codes, odds, common)


def _apart(tables: PairTables, group: str, parents: _Parents) -> tuple[Numbers, list[_Batch]]:
    """Take all parents as independent: the row of each pair, one for two beliefs that meet."""
    hers, her, her_sort = _roles(tables, group, parents.dams, Sex.FEMALE)
    his, him, his_sort = _roles(tables, group, parents.sires, Sex.MALE)
    both = her[parents.dam] * len(his) + him[parents.sire]
    met, row = np.unique(both, return_inverse=True)
    first, second = np.divmod(met, max(len(his), 1))
    sort = her_sort[first] * (his_sort.max(initial=0) + 1) + his_sort[second]
    batches = []
    for each in np.unique(sort).tolist():
        rows = np.flatnonzero(sort == each)
        mothers, fathers = hers[first[rows[0]]][0], his[second[rows[0]]][0]
        ours = np.array([hers[at][1] for at in first[rows].tolist()])
        theirs = np.array([his[at][1] for at in second[rows].tolist()])
        chances = ours[:, :, None] * theirs[:, None, :]
        for some, kind in tables.kinds(group, mothers, fathers, chances):
            batches.append(_Batch(kind, rows[some], chances[some]))
    return row.reshape(-1), batches


def _roles(
    tables: PairTables, group: str, animals: Sequence[str], role: Sex
) -> tuple[list[Role], Numbers, Numbers]:
    """Return what parents may be, each belief once; the place of each animal's; the sort of each.

    Beliefs in the same diplotypes are of one sort.
    """
    genotypes = tables.prepared.genotypes
    found: dict[int, int] = {}
    sorts: dict[tuple[Diplotype, ...], int] = {}
    roles: list[Role] = []
    place, sort = [], []
    for animal in animals:
        belief = genotypes[animal].groups.get(group)
        at = found.setdefault(id(belief), len(roles))
        if at == len(roles):
            roles.append(tables.in_role(group, belief, role))
            sort.append(sorts.setdefault(roles[-1][0], len(sorts)))
        place.append(at)
    return roles, np.array(place, dtype=np.intp), np.array(sort, dtype=np.intp)


def _together(
    tables: PairTables, group: str, parents: _Parents
) -> Iterator[tuple[Numbers, Kind | None, Array]]:
    """Yield pairs whose parents hang together, with their kind and chances.

    Their parents are uncertain in the same part of the pedigree.
    """
    inferred = tables.prepared.inferred
    mothers = np.array([inferred.uncertain[dam].get(group, -1) for dam in parents.dams])
    fathers = np.array([inferred.uncertain[sire].get(group, -2) for sire in parents.sires])
    met = np.flatnonzero(mothers[parents.dam] == fathers[parents.sire])
    join_sires(inferred, [parents.sires[at] for at in np.unique(parents.sire[met])], group)
    alike: dict[tuple[int, int], list[tuple[int, JointChances]]] = defaultdict(list)
    for number in met.tolist():
        dam, sire = parents.pairs[number]
        joint = joint_chances(inferred, dam, sire, group)
        if joint is not None:
            alike[id(joint.mothers), id(joint.fathers)].append((number, joint))
    for found in alike.values():
        numbers = np.array([number for number, _ in found])
        chances = np.array([joint.chances for _, joint in found])
        there = chances > 0
        _, first, pattern = np.unique(
            there.reshape(len(found), -1), axis=0, return_index=True, return_inverse=True
        )
        for which, place in enumerate(first.tolist()):
            own = np.flatnonzero(pattern.reshape(-1) == which)
            her, him, _ = only_possible(found[place][1])
            left = chances[own][:, there[place].any(axis=1)][:, :, there[place].any(axis=0)]
            for some, kind in tables.kinds(group, her, him, left):
                yield numbers[own][some], kind, left[some]
