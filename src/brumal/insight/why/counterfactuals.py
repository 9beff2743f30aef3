"""Counterfactuals: the season with one thing changed, solved again, set against the plan.

A changed season is solved like any other, from the plan and the cuts that the first solve learnt.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from brumal.planner.pairs.candidate import Pair
from brumal.planner.problem import PairRow, Problem
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import Solution, SolveOptions, Verdict
from brumal.planner.solver.interrupt import is_asked
from brumal.planner.solver.known_cuts import carried
from brumal.planner.solver.solve import solve

HALF_CENT = 0.005
Told = Callable[[str], None]
"""Called with what is asked before each question that needs a solve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One female whose year changes: her sire before and after (``None``: she rests)."""

    dam: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Counterfactual:
    """The best plan with something changed, against the plan.

    ``change`` is its value less the plan's (``None``: no plan was found). The true difference lies
    from ``least`` to ``most``, which are the same but for the gaps of the two solves. ``routes``
    is the part of it that is for wishes which may wait, by morph.
    """

    verdict: Verdict
    value: float | None
    change: float | None
    least: float
    most: float
    pairs: tuple[Pair, ...]
    moves: tuple[Move, ...]
    routes: Mapping[str, float] = field(default_factory=dict)

    @property
    def mates(self) -> dict[str, str]:
        """Return the sire of each paired dam."""
        return dict(self.pairs)

    @property
    def exact(self) -> bool:
        """Say whether the difference is known to half a cent."""
        return self.most - self.least < 0.01

    @property
    def too_close(self) -> bool:
        """Say whether the gaps of the two solves overlap, so that neither is known to be better."""
        return not self.exact and self.least <= 0.0 <= self.most


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Asked:
    """One question: a key that names it, the changed season, and it in words.

    ``start`` is a plan that is good in the changed season, where that of the season itself is not.
    """

    key: Hashable
    changed: Problem
    what: str
    start: tuple[Pair, ...] = ()


class Questions:
    """Asks a solved season for counterfactuals; each question is solved once."""

    def __init__(self, season: SolvedSeason, told: Told | None = None) -> None:
        """Take a season with a plan; raises ``ValueError`` where it has none."""
        if season.solution.chosen is None:
            raise ValueError("a season without a plan has nothing to compare with")
        self.season = season
        self._told = told
        self._known: dict[Hashable, Counterfactual] = {}

    def ask(self, asked: Asked) -> Counterfactual:
        """Return what a changed season comes to; one that was stopped is not remembered."""
        if asked.key in self._known:
            return self._known[asked.key]
        if self._told:
            self._told(asked.what)
        solution = solve_changed(self.season, asked.changed, start=asked.start)
        found = counterfactual(self.season, asked.changed, solution)
        if not is_asked():
            self._known[asked.key] = found
        return found

    def with_female(self, dam: str) -> Asked:
        """Ask for the best plan in which this female is paired with someone."""
        problem = self.season.problem
        changed = replace(problem, must_breed=(*problem.must_breed, dam))
        return Asked(key=("female", dam), changed=changed, what=f"{self._label(dam)} put in")

    def with_male(self, sire: str) -> Asked:
        """Ask for the best plan in which this male is used."""
        problem = self.season.problem
        his = {pair: 1.0 for pair in problem.columns.pairs if pair[1] == sire}
        row = PairRow(coefficients=his, at_least=1.0)
        changed = replace(problem, more=(*problem.more, row))
        what = f"{self._label(sire)} put in"
        return Asked(key=("male", sire), changed=changed, what=what, start=self._with_one_of(his))

    def _with_one_of(self, pairs: Collection[Pair]) -> tuple[Pair, ...]:
        """Return the plan with a sire exchanged so that one of these pairs is made, at least loss.

        It is empty where the plan pairs none of their dams.
        """
        season, worth = self.season, self.season.problem.columns.worth
        mates = [pair for pair in pairs if pair[0] in season.mates]
        if not mates:
            return ()
        place, plan = season.place, season.mates
        dam, sire = max(mates, key=lambda p: worth[place[p]] - worth[place[p[0], plan[p[0]]]])
        return tuple({**plan, dam: sire}.items())

    def with_pair(self, pair: Pair) -> Asked:
        """Ask for the best plan that makes this open pair."""
        problem = self.season.problem
        changed = replace(problem, must=(*problem.must, pair))
        return Asked(key=("pair", pair), changed=changed, what=f"{self._names(pair)} made")

    def without_pair(self, pair: Pair) -> Asked:
        """Ask for the best plan that does not make this pair."""
        what = f"{self._names(pair)} not made"
        return Asked(key=("not", pair), changed=self._forbidden(pair), what=what)

    def other_sire(self, pair: Pair) -> Asked:
        """Ask for the best plan that pairs the dam of this pair with another sire."""
        changed = self._forbidden(pair)
        changed = replace(changed, must_breed=(*changed.must_breed, pair[0]))
        what = f"{self._label(pair[0])} by another sire"
        return Asked(key=("other", pair), changed=changed, what=what)

    def one_more(self, sire: str) -> Asked:
        """Ask for the best plan with one more pairing allowed to this male."""
        problem = self.season.problem
        limits = {**problem.male_limits, sire: problem.male_limits[sire] + 1}
        changed = replace(problem, male_limits=limits)
        what = f"one more female for {self._label(sire)}"
        return Asked(key=("one more", sire), changed=changed, what=what)

    def _label(self, animal: str) -> str:
        return self.season.label(animal)

    def _forbidden(self, pair: Pair) -> Problem:
        problem = self.season.problem
        keep = [at for at, each in enumerate(problem.columns.pairs) if each != pair]
        others = tuple(each for each in problem.must if each != pair)
        return replace(problem.only(keep), must=others)

    def _names(self, pair: Pair) -> str:
        return f"{self._label(pair[0])} x {self._label(pair[1])}"


def solve_changed(
    season: SolvedSeason,
    changed: Problem,
    options: SolveOptions | None = None,
    start: tuple[Pair, ...] = (),
) -> Solution:
    """Solve a changed season from the plan (or another start) and the cuts of the season itself."""
    plan = tuple(pair.pair for pair in season.pairs)
    options = replace(options or season.options, start=start or plan)
    known = carried(season.solution.learnt, season.problem, changed)
    return solve(changed, options, known=known)


def counterfactual(season: SolvedSeason, changed: Problem, solution: Solution) -> Counterfactual:
    """Set the solution of a changed season against the plan of the season."""
    base = season.solution
    most = solution.bound - base.objective
    if solution.chosen is None:
        return Counterfactual(
            verdict=solution.verdict,
            value=None,
            change=None,
            least=-math.inf,
            most=most,
            pairs=(),
            moves=(),
        )
    pairs = tuple(sorted(changed.columns.pairs[at] for at in solution.chosen))
    return Counterfactual(
        verdict=solution.verdict,
        value=solution.objective,
        change=solution.objective - base.objective,
        least=solution.objective - base.bound,
        most=most,
        pairs=pairs,
        moves=moves_between(season.mates, dict(pairs)),
        routes=_routes_between(season, changed, pairs),
    )


def _routes_between(
    season: SolvedSeason, changed: Problem, pairs: Iterable[Pair]
) -> dict[str, float]:
    own = [pair.pair for pair in season.pairs]
    before = {route.morph: route.money(own) for route in season.problem.routes}
    after = {route.morph: route.money(pairs) for route in changed.routes}
    change = {name: money - before.get(name, 0.0) for name, money in after.items()}
    return {name: money for name, money in change.items() if abs(money) >= HALF_CENT}


def moves_between(before: dict[str, str], after: dict[str, str]) -> tuple[Move, ...]:
    """Return every female whose year differs between two plans, by id."""
    return tuple(
        Move(dam=dam, before=before.get(dam), after=after.get(dam))
        for dam in sorted({*before, *after})
        if before.get(dam) != after.get(dam)
    )
