"""Branches by the number of pairs, against every plan there is."""

from __future__ import annotations

import math

import pytest

from brumal.forecast.occupancy import Places
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.problem import Problem
from brumal.planner.solver.answer import EXACT
from brumal.planner.solver.branches import branches_of
from brumal.planner.solver.clock import Clock
from brumal.planner.solver.master import Master
from brumal.planner.solver.solve import solve
from small_seasons import agree, every_plan, random_problem, worth


def check_branches(seed: int) -> int:
    """Hold the bound of each branch against plans of so many pairs; count the branches."""
    problem = random_problem(seed, 5, 3)
    master = Master.of(problem)
    relaxed = master.tighten(1e-6, Clock(None))
    if relaxed is None:
        return 0
    branches = branches_of(master.model, relaxed, Clock(None))
    for plan in every_plan(problem):
        (own,) = (each for each in branches if each.least <= len(plan) <= each.most)
        assert worth(problem, plan) <= own.bound + problem.fixed + 1e-6
    assert all(each.bound <= relaxed.bound + 1e-6 or each.bound == math.inf for each in branches)
    return len(branches)


def test_a_branch_bounds_every_plan_of_so_many_pairs() -> None:
    found = [check_branches(seed) for seed in range(60)]
    assert {1, 2} <= set(found)


@pytest.mark.slow
def test_many_branches_bound_every_plan() -> None:
    for seed in range(60, 1500):
        check_branches(seed)


def two_sizes(worth_of_large: float) -> Problem:
    """Seven females with clutches a little less likely to be there than those of seven others."""
    tilt = 1.0
    places = {f"S{n}": 13 / 7 for n in range(7)} | {f"L{n}": 2.0 for n in range(7)}
    candidates = tuple(
        Candidate(
            dam=dam,
            sire="M",
            value=worth_of_large + n if dam[0] == "L" else 100.0 + n,
            young=6.0,
            eggs=8.0,
            box_eggs=8.0,
        )
        for n, dam in enumerate(places)
    )
    return Problem(
        candidates=candidates,
        male_limits={"M": 14},
        boxes=6,
        in_box=((0.5,),),
        sure=0.9,
        room=Places(tilt=tilt),
        shares={
            (dam, "M"): math.expm1(tilt * taken) / math.expm1(2 * tilt)
            for dam, taken in places.items()
        },
    )


@pytest.mark.parametrize("worth_of_large", [100.0, 112.0, 116.0, 120.0, 140.0])
def test_few_large_or_many_small_clutches(worth_of_large: float) -> None:
    problem = two_sizes(worth_of_large)
    master = Master.of(problem)
    relaxed = master.tighten(1e-6, Clock(None))
    assert relaxed and len(branches_of(master.model, relaxed, Clock(None))) == 2
    agree(problem, solve(problem, EXACT))
