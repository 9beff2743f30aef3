"""What would be otherwise, alternatives and safe pairs, against every plan there is."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any, cast

import pytest

from brumal.insight.why.alternatives import Standing, alternatives
from brumal.insight.why.counterfactuals import Move, Questions, moves_between
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import Problem
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import EXACT, Verdict
from brumal.planner.solver.solve import solve
from long_forms import thinned
from small_seasons import is_allowed, random_problem, worth


class Names:
    """Stands for a prepared season where names alone are asked for."""

    def label(self, animal: str) -> str:
        return animal


def season_of(problem: Problem) -> SolvedSeason:
    return SolvedSeason(
        prepared=cast(Any, Names()),
        found=cast(Any, None),
        problem=problem,
        solution=solve(problem, EXACT),
        options=EXACT,
    )


def plans(problem: Problem) -> list[tuple[float, tuple[Candidate, ...]]]:
    """Return the value of every plan that is allowed, the best first."""
    by_dam: dict[str, list[Candidate | None]] = {}
    for candidate in problem.candidates:
        by_dam.setdefault(candidate.dam, [None]).append(candidate)
    found = []
    for choice in itertools.product(*by_dam.values()):
        plan = tuple(c for c in choice if c)
        if is_allowed(problem, plan):
            found.append((worth(problem, plan), plan))
    return sorted(found, key=lambda each: -each[0])


def mates(plan: tuple[Candidate, ...]) -> dict[str, str]:
    return {c.dam: c.sire for c in plan}


def apart(one: dict[str, str], other: dict[str, str]) -> int:
    """Count the females that have another year, from the words alone."""
    return sum(one.get(dam) != other.get(dam) for dam in {*one, *other})


def possible(count: int, start: int = 0) -> list[int]:
    seeds = (s for s in itertools.count(start) if solve(random_problem(s)).chosen)
    return list(itertools.islice(seeds, count))


@pytest.mark.parametrize("seed", thinned(possible(25), 2))
def test_each_question_has_the_best_plan_of_its_kind(seed: int) -> None:
    season = season_of(random_problem(seed))
    every, questions = plans(season.problem), Questions(season)
    base = every[0][0]

    def agrees(found: Any, kind: Any) -> None:
        fitting = [value for value, plan in every if kind(mates(plan))]
        if not fitting:
            assert found.verdict is Verdict.IMPOSSIBLE
            assert found.value is None
        else:
            assert found.value == pytest.approx(fitting[0], abs=1e-3)
            assert found.change == pytest.approx(fitting[0] - base, abs=2e-3)
            assert found.least - 1e-3 <= fitting[0] - base <= found.most + 1e-3
            assert kind(found.mates)

    for dam in sorted({c.dam for c in season.problem.candidates}):
        agrees(questions.ask(questions.with_female(dam)), lambda plan, dam=dam: dam in plan)
    for sire in sorted({c.sire for c in season.problem.candidates}):
        agrees(
            questions.ask(questions.with_male(sire)), lambda plan, sire=sire: sire in plan.values()
        )
    for each in season.problem.candidates:
        dam, sire = each.pair
        agrees(
            questions.ask(questions.with_pair(each.pair)), lambda p, d=dam, s=sire: p.get(d) == s
        )
        if each.pair not in season.problem.must:
            agrees(
                questions.ask(questions.without_pair(each.pair)),
                lambda p, d=dam, s=sire: p.get(d) != s,
            )
            agrees(
                questions.ask(questions.other_sire(each.pair)),
                lambda p, d=dam, s=sire: p.get(d) not in (None, s),
            )


@pytest.mark.parametrize("seed", thinned(possible(20, 50), 2))
@pytest.mark.parametrize("distance", [1, 2])
def test_alternatives_are_the_next_best_plans_that_differ_enough(seed: int, distance: int) -> None:
    season = season_of(random_problem(seed))
    found = alternatives(Questions(season), count=4, apart=distance)
    met, expected = [season.mates], []
    for value, plan in plans(season.problem):
        if len(expected) < 4 and all(apart(mates(plan), other) >= distance for other in met):
            # Plans of equal value may come in another order; then what follows differs too.
            expected.append(value)
            met.append(mates(plan))
    assert len(found.plans) == len(expected)
    assert found.complete is (len(expected) < 4)
    for plan, value in zip(found.plans, expected, strict=True):
        assert plan.value == pytest.approx(value, abs=1e-3)
    taken = [season.mates, *(plan.mates for plan in found.plans)]
    assert all(apart(a, b) >= distance for a, b in itertools.combinations(taken, 2))


@pytest.mark.parametrize("seed", thinned(possible(25, 100), 2))
@pytest.mark.parametrize("near", [0.01, 0.2])
def test_safe_pairs_stand_in_every_good_plan_and_open_ones_do_not(seed: int, near: float) -> None:
    season = season_of(random_problem(seed))
    every = plans(season.problem)
    floor = every[0][0] - near * abs(every[0][0])
    if any(abs(value - floor) < 1e-3 for value, _ in every):
        pytest.skip("a plan lies on the edge itself")
    good = [mates(plan) for value, plan in every if value >= floor]
    found = alternatives(Questions(season), count=2, apart=1, near=near)
    for (dam, sire), standing in found.pairs.items():
        safe = all(plan.get(dam) == sire for plan in good)
        assert standing is (Standing.SAFE if safe else Standing.OPEN), (dam, sire)
    for dam, standing in found.resting.items():
        safe = all(dam not in plan for plan in good)
        assert standing is (Standing.SAFE if safe else Standing.OPEN), dam


def test_a_question_is_solved_once() -> None:
    asked: list[str] = []
    season = season_of(random_problem(possible(1)[0]))
    questions = Questions(season, asked.append)
    dam = season.problem.candidates[0].dam
    first = questions.ask(questions.with_female(dam))
    assert questions.ask(questions.with_female(dam)) is first
    assert asked == [f"{dam} put in"]


def test_moves_are_the_females_whose_year_changes() -> None:
    before = {"F1": "M1", "F2": "M1", "F3": "M2"}
    after = {"F1": "M2", "F3": "M2", "F4": "M1"}
    assert moves_between(before, after) == (
        Move(dam="F1", before="M1", after="M2"),
        Move(dam="F2", before="M1", after=None),
        Move(dam="F4", before=None, after="M1"),
    )


def test_a_season_without_a_plan_cannot_be_asked() -> None:
    problem = replace(random_problem(possible(1)[0]), boxes=0, must_breed=("F0",))
    with pytest.raises(ValueError, match="nothing to compare"):
        Questions(season_of(replace(problem, must=())))
