"""The solver's plan against every plan there is, and against a checker that shares no code."""

from __future__ import annotations

import gc
from dataclasses import replace
from weakref import ref

import pytest

from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import Problem
from brumal.planner.solver import solve as solving
from brumal.planner.solver.answer import EXACT, EXACT_WORK, SolveOptions, Verdict
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.highs import Highs, ModelArrays
from brumal.planner.solver.master import Master
from brumal.planner.solver.solve import solve
from small_seasons import agree, brute_force, every_plan, random_problem, worth


def agrees(seed: int, solver: str = "highs", females: int = 5) -> None:
    problem = random_problem(seed, females)
    agree(problem, solve(problem, SolveOptions(solver=solver, gap=0)))


@pytest.mark.parametrize("seed", range(200))
def test_the_plan_equals_brute_force(seed: int) -> None:
    agrees(seed)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(4))
def test_many_plans_equal_brute_force(block: int) -> None:
    for seed in range(200 + block, 3000, 4):
        agrees(seed, females=6)


@pytest.mark.parametrize("seed", range(0, 200, 10))
def test_cbc_and_highs_choose_the_same_plan(seed: int) -> None:
    problem = random_problem(seed)
    highs, cbc = (solve(problem, SolveOptions(solver=name, gap=0)) for name in ("highs", "cbc"))
    assert highs.verdict is cbc.verdict
    assert highs.chosen == cbc.chosen


def test_a_model_ends_with_its_solve(monkeypatch: pytest.MonkeyPatch) -> None:
    """Models, megabytes each, would else pile up until cycles are looked for."""
    made: list[ref[Highs]] = []
    begin = Highs.__init__

    def noted(self: Highs, model: ModelArrays) -> None:
        begin(self, model)
        made.append(ref(self))

    monkeypatch.setattr(Highs, "__init__", noted)
    gc.disable()
    try:
        agrees(1)
        assert made and not any(each() for each in made)
    finally:
        gc.enable()


@pytest.mark.parametrize("seed", range(0, 200, 4))
def test_a_season_solved_by_parts_equals_brute_force(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However few pairs the search starts from, none is left out that a best plan needs."""
    monkeypatch.setattr(solving, "_FIRST_ROOM", 1e-9)
    agrees(seed)


@pytest.mark.slow
def test_many_seasons_solved_by_parts_equal_brute_force(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solving, "_FIRST_ROOM", 1e-9)
    for seed in range(1000):
        agrees(seed)


@pytest.mark.parametrize("seed", range(0, 100, 5))
def test_reduced_costs_bound_every_plan_that_makes_a_pair(seed: int) -> None:
    """The bound less a pair's reduced cost lies above the true worth of each plan with it."""
    problem = random_problem(seed, 4, 3)
    relaxed = Master.of(problem).tighten(1e-6, Clock(None))
    if relaxed is None:
        assert brute_force(problem) is None
        return
    place = {candidate.pair: index for index, candidate in enumerate(problem.candidates)}
    most = relaxed.bound + problem.income
    for plan in every_plan(problem):
        reduced = [relaxed.reduced[place[each.pair]] for each in plan]
        assert worth(problem, plan) <= most - sum(reduced) + 1e-6


@pytest.mark.parametrize("work", [EXACT_WORK, 0])
@pytest.mark.parametrize("gap", [0.3, 0.05, 1e-3])
def test_a_looser_gap_is_kept_and_stated(gap: float, work: int) -> None:
    """With some work spent on an exact plan beyond it, and with none."""
    for seed in range(40):
        problem = random_problem(seed)
        best = brute_force(problem)
        solution = solve(problem, SolveOptions(gap=gap, work=work))
        if best is None:
            assert solution.verdict is Verdict.IMPOSSIBLE
            continue
        assert solution.verdict is Verdict.PROVEN
        assert solution.gap <= gap
        assert solution.objective - 1e-6 <= best <= solution.bound + 1e-6


def test_time_that_is_up_leaves_an_honest_answer() -> None:
    problem = random_problem(3)
    solution = solve(problem, SolveOptions(time_limit=1e-6))
    best = brute_force(problem)
    assert best is not None
    assert solution.bound >= best - 1e-6
    assert solution.verdict is Verdict.PROVEN or solution.gap > 0


def test_a_female_that_rests_takes_no_room_by_the_week() -> None:
    """The places of the boxes are the season's: neither who may breed nor parts change them."""
    pairs = [
        Candidate(
            dam=f"F{f:02d}",
            sire=f"M{m}",
            value=180.0 + f / 10 + m / 100,
            young=4.0,
            eggs=7.0,
            box_eggs=8.0,
        )
        for f in range(14)
        for m in range(3)
    ]
    idle = replace(pairs[0], dam="F99", value=-5.0)
    season = Problem(
        candidates=tuple(pairs), male_limits={}, boxes=10, in_box=((0.8 * 0.709,),), sure=0.9
    )
    more = replace(season, candidates=(*pairs, idle))
    assert season.box_places == more.box_places == 27
    assert solve(season, EXACT).objective == pytest.approx(solve(more, EXACT).objective)
    chosen = solve(season, EXACT).chosen
    assert chosen is not None
    assert len(chosen) == 13
    part = season.only([n for n, each in enumerate(pairs) if each.dam < "F12"])
    assert part.box_places == 27
