"""Other plans nearly as good: the best ones that differ, and what all good plans have in common."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from brumal.insight.why.counterfactuals import Asked, Counterfactual, Questions
from brumal.planner.pairs.candidate import Pair
from brumal.planner.problem import PairRow, Problem
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import Verdict

COUNT = 5
APART = 2
NEAR = 0.01


class Standing(StrEnum):
    """Whether something stands in every plan that is nearly as good as the best."""

    SAFE = "safe"
    OPEN = "open to taste"
    UNSETTLED = "not settled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternatives:
    """The best plans that differ in at least ``apart`` females, best first; the plan left out.

    A female differs when she has another sire, or rests instead of being paired, or the other way
    about; each plan differs by so many from the plan and from every one before it. ``complete``
    says that no further plan of the kind exists. ``pairs`` tells of each pair of the plan whether
    it stands in all plans whose value is within ``near`` (a share) of the best, ``resting`` of each
    female that could breed whether she rests in all of them.
    """

    apart: int
    near: float
    plans: tuple[Counterfactual, ...]
    complete: bool
    pairs: Mapping[Pair, Standing]
    resting: Mapping[str, Standing]


def alternatives(
    questions: Questions, count: int = COUNT, apart: int = APART, near: float = NEAR
) -> Alternatives:
    """Return the ``count`` next best plans, and which pairs and sit-outs stand in all good ones."""
    season = questions.season
    plans, complete = _next_best(questions, count, apart)
    met = [
        dict(plan.pairs)
        for plan in plans
        if plan.change is not None and _is_near(season, plan, near)
    ]
    return Alternatives(
        apart=apart,
        near=near,
        plans=plans,
        complete=complete,
        pairs={pair.pair: _stands(questions, pair.pair, met, near) for pair in season.pairs},
        resting={
            dam: _rests(questions, dam, met, near)
            for dam in sorted(
                {each.dam for each in season.problem.candidates} - season.mates.keys()
            )
        },
    )


def _next_best(
    questions: Questions, count: int, apart: int
) -> tuple[tuple[Counterfactual, ...], bool]:
    season = questions.season
    rows = [differs(season.problem, season.mates, apart)]
    plans: list[Counterfactual] = []
    for number in range(1, count + 1):
        changed = replace(season.problem, more=(*season.problem.more, *rows))
        what = f"alternative {number}"
        plan = questions.ask(Asked(key=("apart", apart, number), changed=changed, what=what))
        if plan.verdict is Verdict.IMPOSSIBLE:
            return tuple(plans), True
        if plan.value is None:
            break
        plans.append(plan)
        rows.append(differs(season.problem, plan.mates, apart))
    return tuple(plans), False


def differs(problem: Problem, mates: Mapping[str, str], apart: int) -> PairRow:
    """Return the condition that at least ``apart`` females have another year than in a plan.

    A paired female counts one unless her pair stands, a resting one counts one if she is paired.
    """
    coefficients: dict[Pair, float] = dict.fromkeys(mates.items(), -1.0)
    coefficients |= {pair: 1.0 for pair in problem.columns.pairs if pair[0] not in mates}
    return PairRow(coefficients=coefficients, at_least=float(apart - len(mates)))


def _is_near(season: SolvedSeason, plan: Counterfactual, near: float) -> bool:
    return plan.value is not None and plan.value >= _floor(season, near)


def _floor(season: SolvedSeason, near: float) -> float:
    """Return the value from which a plan counts as nearly as good as the best."""
    return season.solution.objective - near * abs(season.solution.objective)


def _stands(
    questions: Questions, pair: Pair, met: Iterable[Mapping[str, str]], near: float
) -> Standing:
    """Say whether a pair of the plan stands in all good plans; plans already met may settle it."""
    if pair in questions.season.problem.must:
        return Standing.SAFE
    if any(mates.get(pair[0]) != pair[1] for mates in met):
        return Standing.OPEN
    return _settled(questions.season, questions.ask(questions.without_pair(pair)), near)


def _rests(
    questions: Questions, dam: str, met: Iterable[Mapping[str, str]], near: float
) -> Standing:
    if any(dam in mates for mates in met):
        return Standing.OPEN
    return _settled(questions.season, questions.ask(questions.with_female(dam)), near)


def _settled(season: SolvedSeason, other: Counterfactual, near: float) -> Standing:
    """Judge by the best plan without the pair (with the female): near the best, or surely not."""
    floor = _floor(season, near)
    if other.value is not None and other.value >= floor:
        return Standing.OPEN
    if other.verdict is Verdict.IMPOSSIBLE or season.solution.objective + other.most < floor:
        return Standing.SAFE
    return Standing.UNSETTLED
