"""The master problem: a season's model that learns cuts on wishes until they are true enough."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field

import numpy as np

from brumal.planner.problem import Problem
from brumal.planner.risk.cvar import Seasons, bad_cut, mean_cut, seasons_of
from brumal.planner.solver import model as models
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.model import Model
from brumal.planner.solver.runs import OutOfTimeError, Relaxed
from brumal.planner.solver.worth import SLACK, true_value
from brumal.planner.wishes.chances import (
    ChanceLaws,
    all_chances,
    chance_id,
    log_none,
    tangent,
    tangent_at,
)
from brumal.planner.wishes.mean_spread import Spread, all_spreads, spread_cut, touch
from brumal.planner.wishes.surplus import Cut, TermLaws, all_terms, cuts_at, first_cuts
from brumal.timings import timed

_MOST_ROUNDS = 30
_WORTH_ADDING = 0.1
_SHORT = 1e-6
_EXACT = 1e-9


@dataclass(slots=True, eq=False)
class Master:
    """A model under refinement with the exact laws of its wishes.

    ``asked`` are the chance wishes in force, ``learnt`` the cuts on surplus added at plans met and
    in the relaxation.
    """

    problem: Problem
    model: Model
    terms: tuple[TermLaws, ...]
    chances: tuple[ChanceLaws, ...]
    spreads: tuple[Spread, ...]
    asked: tuple[int, ...]
    seasons: Seasons | None = None
    learnt: list[Cut] = field(default_factory=list)

    @staticmethod
    @timed("building")
    def of(problem: Problem, omit: Collection[str] = ()) -> Master:
        """Build the model of a season with the cuts that hold before any plan is known."""
        terms, chances = all_terms(problem), all_chances(problem)
        asked = [n for n, wish in enumerate(problem.chances) if chance_id(wish) not in omit]
        master = Master(
            problem=problem,
            model=models.build(problem, omit),
            terms=terms,
            chances=chances,
            spreads=all_spreads(terms),
            asked=tuple(asked),
            seasons=seasons_of(problem),
        )
        model = master.model
        models.cut_surplus(model, [c for n, laws in enumerate(terms) for c in first_cuts(laws, n)])
        models.cut_log_none(model, [tangent(laws, n, ()) for n, laws in enumerate(chances)])
        if master.seasons:
            models.cut_bad(model, [mean_cut(master.seasons)])
        return master

    def value(self, plan: Sequence[int]) -> float:
        """Return what a plan is worth, exactly."""
        return true_value(self.problem, self.terms, plan)

    def keeps_chances(self, plan: Sequence[int]) -> bool:
        """Say whether a plan meets every chance wish in force, by its true chance."""
        return all(
            log_none(self.chances[number], plan) <= self.problem.chances[number].log_limit + SLACK
            for number in self.asked
        )

    def learn(self, plan: Sequence[int]) -> None:
        """Add the optimality cuts that are exact at this plan, for wishes that have none there."""
        short = [n for n in range(len(self.terms)) if self._is_short(n, plan)]
        surplus = [cut for n in short for cut in cuts_at(self.terms[n], n, plan)]
        models.cut_surplus(self.model, surplus)
        self.learnt += surplus
        tangents = [tangent(laws, n, plan) for n, laws in enumerate(self.chances)]
        models.cut_log_none(self.model, tangents)
        if self.seasons:
            amounts = np.zeros(len(self.problem.candidates))
            amounts[list(plan)] = 1.0
            models.cut_bad(self.model, [bad_cut(self.seasons, amounts)[0]])

    def _is_short(self, number: int, plan: Sequence[int]) -> bool:
        """Say whether all bounds on a wish are below its true surplus at a plan."""
        variable = self.model.surplus[number]
        known = (cut.at(plan) for bounded, cut in self.model.cuts if bounded is variable)
        return max(known, default=0.0) < self.terms[number].surplus(plan) - _EXACT

    def tighten(self, share: float, clock: Clock) -> Relaxed | None:
        """Solve the linear relaxation and add cuts there; see ``tightened``."""
        return tightened(self.model, share, clock, self._add_short)

    def _add_short(self, relaxed: Relaxed, least: float) -> bool:
        """Add cuts where wishes come to less than they must, in money of this or more."""
        cuts, tangents = [], []
        for spread in self.spreads:
            at = touch(spread, relaxed.amounts)
            short = at.value - relaxed.surplus[spread.number]
            if self.problem.wish_terms[spread.number].cost * short > least:
                cuts.append(spread_cut(spread, at))
        for number, laws in enumerate(self.chances):
            cut, true = tangent_at(laws, number, relaxed.amounts)
            if true - relaxed.log_none[number] > _SHORT:
                tangents.append(cut)
        bad = self._bad_short(relaxed, least)
        models.cut_surplus(self.model, cuts)
        self.learnt += cuts
        models.cut_log_none(self.model, tangents)
        models.cut_bad(self.model, bad)
        return bool(cuts or tangents or bad)

    def _bad_short(self, relaxed: Relaxed, least: float) -> list[Cut]:
        if self.seasons is None or self.problem.risk is None:
            return []
        cut, lost = bad_cut(self.seasons, relaxed.amounts)
        short = self.problem.risk.weight * (lost - float(relaxed.bad[0]))
        return [cut] if short > least else []


def tightened(
    model: Model, share: float, clock: Clock, add_short: Callable[[Relaxed, float], bool]
) -> Relaxed | None:
    """Solve the linear relaxation again and again with new cuts, until that lowers it no more.

    ``add_short`` adds cuts where wishes come to less than they must, in money of so much or more,
    and says whether there were any. It ends when a round gains less than ``share`` of the bound, or
    the clock is over after the first; ``None``: even with parts of pairs nothing is possible.
    Raises :class:`brumal.planner.solver.runs.OutOfTimeError` where no bound was found in time.
    """
    relaxed, before = None, np.inf
    for left in reversed(range(_MOST_ROUNDS)):
        try:
            found = models.relax(model, clock.left())
        except OutOfTimeError:
            if relaxed is None:
                raise
            break
        if found is None:
            return None
        relaxed = found
        enough = share * max(1.0, abs(relaxed.bound))
        # Nothing joins in the last round: every row of the model has a dual then.
        if before - relaxed.bound <= enough or not left or clock.is_over():
            break
        if not add_short(relaxed, _WORTH_ADDING * enough):
            break
        before = relaxed.bound
    return relaxed
