"""brumal as a library: the functions that the commands are made of.

Every function returns frozen records and writes nothing. What a keeper can mend is raised as
:class:`brumal.records.faults.InputError` with every fault found. ``import brumal`` offers all::

    import brumal
    season = brumal.read("scenarios/small")
    plan = brumal.plan(season)
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from brumal.insight.sheets.animal_sheet import AnimalSheet, animal_sheet
from brumal.insight.sheets.cross_sheet import Asked, CrossSheet, cross_animals
from brumal.pedigree.pair import KinPair, examine_pair
from brumal.pipeline import Prepared, prepare
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.answer import Progress, SolveOptions


def read(folder: Path | str, on: date | None = None, today: date | None = None) -> Prepared:
    """Read a season folder and make it ready: records, genes, kin, rules and forecasts.

    It is seen ``on`` a day; without one from ``season.as_of``, else from today. ``today`` is the
    real day where that is not the clock's.

    >>> season = read("scenarios/small")
    >>> season.label("F5")
    'Moss (F5)'

    Raises :class:`brumal.records.faults.InputError` with every fault of every file.
    """
    return prepare(Path(folder), on, today)


def solve(
    season: Prepared, options: SolveOptions | None = None, progress: Progress | None = None
) -> SolvedSeason:
    """Solve a season; questions about its plan start from what this returns.

    ``progress`` is called after each round with (round, best value so far, bound), in the currency
    of the season.
    """
    return solve_season(season, options, progress)


def plan(season: Prepared, options: SolveOptions | None = None) -> Plan:
    """Return the season's plan: pairs, who rests and why, males, wishes, money and room.

    The small season is worked out by hand in ``docs/small-season.md``:

    >>> told = plan(read("scenarios/small"))
    >>> told.verdict.value, told.objective
    ('proven', 885.0)
    >>> [(pair.dam, pair.sire, pair.value) for pair in told.pairs]
    [('F1', 'M2', 350.0), ('F2', 'M1', 252.5), ('F3', 'M2', 282.5)]

    An impossible season is an ordinary answer: its verdict says so and ``clashes`` say why.
    """
    return plan_of(solve_season(season, options))


def cross(season: Prepared, dam: str, sire: str, eggs: int | None = None) -> CrossSheet:
    """Return the exact odds of the young of two animals, by id, and of a clutch of so many eggs.

    A het and a visual of a recessive give one visual in two (a test cross: any textbook):

    >>> sheet = cross(read("scenarios/small"), "F2", "M1")
    >>> sorted((look.name, look.chances.each) for look in sheet.looks)
    [('Clown', 0.25), ('Pastel Clown', 0.25), ('Pastel het Clown', 0.25), ('het Clown', 0.25)]

    Raises ``KeyError`` for an animal that is not in the season.
    """
    return cross_animals(season, dam, sire, Asked(eggs=eggs))


def kinship(season: Prepared, one: str, other: str) -> KinPair:
    """Return how two animals are kin: coefficients, and the paths through common ancestors.

    The coefficient of kinship of two animals is F of their young (Wright 1922, from memory).

    Dew is a daughter of Dusk: a quarter.

    >>> kinship(read("scenarios/small"), "F2", "M2").phi
    0.25

    Raises ``KeyError`` for an animal that is not in the pedigree.
    """
    return examine_pair(season.pedigree, one, other, season.kinship.ids)


def animal(season: Prepared, id_: str) -> AnimalSheet:
    """Return all that is known of one animal: genes and why, weights, clutches, family.

    >>> animal(read("scenarios/small"), "F4").animal.weight_g
    1450.0

    Raises ``KeyError`` for an animal that is not in the season.
    """
    return animal_sheet(season, id_)
