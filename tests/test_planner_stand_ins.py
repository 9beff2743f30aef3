"""Who takes the place of an animal that is too light on its weigh day."""

from __future__ import annotations

from pathlib import Path

import pytest

from brumal.pipeline import prepare
from brumal.planner.describe import plan_of
from brumal.planner.limits.every import limits_of
from brumal.planner.season import solve_season
from brumal.planner.solver.worth import value_of
from brumal.report.plan.words import stand_in_lines

ROOT = Path(__file__).parents[1]


def test_each_place_goes_to_the_pair_that_adds_most_by_trying_all() -> None:
    season = solve_season(prepare(ROOT / "scenarios" / "demo"))
    plan, problem = plan_of(season), season.problem
    waiting = {start.animal for pair in plan.pairs for start in pair.waits_for}
    assert {each.animal for each in plan.stand_ins} == waiting == {"F23", "M08"}
    pairs, limits = problem.columns.pairs, limits_of(problem)
    for each in plan.stand_ins:
        kept = [n for n in season.solution.chosen or () if each.animal not in pairs[n]]
        for pair in each.pairs:
            taken = {pairs[n][0] for n in kept}
            gains = {
                n: value_of(problem, (*kept, n)) - value_of(problem, kept)
                for n in range(len(pairs))
                if each.animal not in pairs[n]
                and pairs[n][0] not in taken
                and not season.found.starts[pairs[n]].provisional
                and all(limit.is_kept((*kept, n)) for limit in limits)
            }
            number = pairs.index(pair)
            assert gains[number] == pytest.approx(max(gains.values()), abs=1e-6)
            assert gains[number] > 0
            kept.append(number)
    told = stand_in_lines(plan)
    assert told[0].startswith("If Verglas (F23) is too light on the weigh day: ")
