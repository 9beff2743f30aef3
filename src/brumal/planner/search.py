"""A season's model under refinement: it learns bounds on wishes until they are true enough."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from brumal.planner import model as models
from brumal.planner.answers import Relaxed
from brumal.planner.chances import ChanceLaws, all_chances, log_none, tangent, tangent_at
from brumal.planner.model import Model
from brumal.planner.pair_columns import Pairs
from brumal.planner.problem import Problem
from brumal.planner.risk import Seasons, bad_cut, mean_cut, seasons_of
from brumal.planner.spread import Spread, all_spreads, spread_cut, touch
from brumal.planner.statements import chance_statement
from brumal.planner.surplus import Cut, TermLaws, all_terms, cuts_at, first_cuts
from brumal.planner.wish_book import work_out
from brumal.planner.worth import true_value
from brumal.timings import timed

SLACK = 1e-7
"""How far a chance may miss its limit, in logs, and two values differ and still be a tie."""
_MOST_ROUNDS = 30
_WORTH_ADDING = 0.1
_SHORT = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """Bounds on what wishes come to, valid for every plan and exact at ``plan`` (indices)."""

    plan: tuple[int, ...]
    surplus: tuple[Cut, ...]
    log_none: tuple[Cut, ...]
    bad: tuple[Cut, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """A model under refinement with the exact laws of its wishes.

    ``asked`` are the chance wishes in force, ``learnt`` the bounds added at plans met.
    """

    problem: Problem
    model: Model
    terms: tuple[TermLaws, ...]
    chances: tuple[ChanceLaws, ...]
    spreads: tuple[Spread, ...]
    asked: tuple[int, ...]
    seasons: Seasons | None = None
    learnt: list[Learnt] = field(default_factory=list)

    @staticmethod
    @timed("building")
    def of(problem: Problem, omit: Collection[str] = ()) -> Search:
        """Build the model of a season with the bounds that hold before any plan is known."""
        work_out(problem.candidates)
        terms, chances = all_terms(problem), all_chances(problem)
        asked = [n for n, w in enumerate(problem.chances) if chance_statement(w.id) not in omit]
        search = Search(
            problem=problem,
            model=models.build(problem, omit),
            terms=terms,
            chances=chances,
            spreads=all_spreads(terms),
            asked=tuple(asked),
            seasons=seasons_of(problem),
        )
        if search.seasons:
            models.bound_bad(search.model, [mean_cut(search.seasons)])
        for number, laws in enumerate(terms):
            models.bound_surplus(search.model, first_cuts(laws, number))
        models.bound_log_none(
            search.model, [tangent(laws, n, ()) for n, laws in enumerate(chances)]
        )
        return search

    def value(self, chosen: Sequence[int]) -> float:
        """Return what a plan is worth, exactly."""
        return true_value(self.problem, self.terms, chosen)

    def keeps_chances(self, chosen: Sequence[int]) -> bool:
        """Say whether a plan meets every chance wish in force, by its true chance."""
        return all(
            log_none(self.chances[number], chosen) <= self.problem.chances[number].log_limit + SLACK
            for number in self.asked
        )

    def refine(self, chosen: Sequence[int]) -> None:
        """Add the bounds that are exact at this plan."""
        cuts = [cut for n, laws in enumerate(self.terms) for cut in cuts_at(laws, n, chosen)]
        tangents = [tangent(laws, number, chosen) for number, laws in enumerate(self.chances)]
        bad = []
        if self.seasons:
            amounts = np.zeros(len(self.problem.candidates))
            amounts[list(chosen)] = 1.0
            bad.append(bad_cut(self.seasons, amounts)[0])
        self.add(
            Learnt(
                plan=tuple(chosen),
                surplus=tuple(cuts),
                log_none=tuple(tangents),
                bad=tuple(bad),
            )
        )

    def add(self, bounds: Learnt) -> None:
        """Add bounds that hold for every plan."""
        models.bound_surplus(self.model, bounds.surplus)
        models.bound_log_none(self.model, bounds.log_none)
        models.bound_bad(self.model, bounds.bad)
        self.learnt.append(bounds)

    def tighten(self, share: float) -> Relaxed | None:
        """Solve for parts of pairs and add bounds there, until that lowers the bound no more.

        It ends when a round gains less than ``share`` of the bound; ``None``: even with parts of
        pairs nothing is possible.
        """
        return lowered(self.model, share, self._add_short)

    def _add_short(self, relaxed: Relaxed, least: float) -> bool:
        """Add bounds where wishes come to less than they must, in money of this or more."""
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
        models.bound_surplus(self.model, cuts)
        models.bound_log_none(self.model, tangents)
        models.bound_bad(self.model, bad)
        return bool(cuts or tangents or bad)

    def _bad_short(self, relaxed: Relaxed, least: float) -> list[Cut]:
        if self.seasons is None or self.problem.risk is None:
            return []
        cut, lost = bad_cut(self.seasons, relaxed.amounts)
        short = self.problem.risk.weight * (lost - float(relaxed.bad[0]))
        return [cut] if short > least else []


def lowered(
    model: Model, share: float, add_short: Callable[[Relaxed, float], bool]
) -> Relaxed | None:
    """Solve for parts of pairs and add bounds, until that lowers the bound no more.

    ``add_short`` adds bounds where wishes come to less than they must, in money of so much or
    more, and says whether there were any. It ends when a round gains less than ``share`` of the
    bound; ``None``: even with parts of pairs nothing is possible.
    """
    before = np.inf
    for left in reversed(range(_MOST_ROUNDS)):
        relaxed = models.relax(model)
        if relaxed is None:
            return None
        enough = share * max(1.0, abs(relaxed.bound))
        # Nothing joins in the last round: every row of the model has a price then.
        if before - relaxed.bound <= enough or not left:
            break
        if not add_short(relaxed, _WORTH_ADDING * enough):
            break
        before = relaxed.bound
    return relaxed


def among(problem: Problem, keep: Sequence[int]) -> Problem:
    """Return the season with only some of its candidate pairs."""
    candidates = problem.candidates
    if isinstance(candidates, Pairs):
        return replace(problem, candidates=candidates.only(keep))
    return replace(problem, candidates=tuple(candidates[index] for index in keep))


def for_part(known: Iterable[Learnt], keep: Sequence[int]) -> list[Learnt]:
    """Return bounds by the indices of the pairs kept."""
    names = {index: place for place, index in enumerate(keep)}
    return [
        Learnt(
            plan=tuple(names[index] for index in bounds.plan if index in names),
            surplus=tuple(renamed(cut, names) for cut in bounds.surplus),
            log_none=tuple(renamed(cut, names) for cut in bounds.log_none),
            bad=tuple(renamed(cut, names) for cut in bounds.bad),
        )
        for bounds in known
    ]


def renamed(cut: Cut, names: Mapping[int, int]) -> Cut:
    """Return a bound by new indices; pairs without one are left out of it."""
    moved = {names[i]: slope for i, slope in cut.coefficients.items() if i in names}
    return Cut(cut.number, cut.constant, moved)
