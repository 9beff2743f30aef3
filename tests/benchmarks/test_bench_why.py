"""What a whole explanation costs, in solves of its season a question; simulated seasons likewise.

Every female left out, every unused male, every limit and every shadow price is a question. A solve
is timed before and after, since other work on the machine moves both.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import pytest

from benchmarks.conftest import Season, Tell
from brumal.insight.simulate.seasons import SEASONS, simulate
from brumal.insight.why.counterfactuals import Asked, Counterfactual, Questions
from brumal.insight.why.whole import why_season
from brumal.pipeline import prepare
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.answer import SolveOptions
from brumal.planner.solver.solve import solve

DEMO = Path(__file__).parents[2] / "scenarios" / "demo"
MOST_SOLVES = 1.0
SEEDS = {(20, 6): 3, (50, 15): 3, (70, 20): 1, (100, 28): 1, (150, 40): 1}
"""So many seeds of each size: whole explanations of large seasons take minutes."""


class Counted(Questions):
    """Questions that count themselves."""

    def __init__(self, season: SolvedSeason) -> None:
        self.asked: set[object] = set()
        super().__init__(season)

    def ask(self, asked: Asked) -> Counterfactual:
        self.asked.add(asked.key)
        return super().ask(asked)


def seconds(job: Callable[[], object]) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def one_solve(season: SolvedSeason) -> float:
    return median(seconds(lambda: solve(season.problem, season.options)) for _ in range(3))


def solves_a_question(season: SolvedSeason) -> tuple[float, int, float]:
    """Return solves a question, the number of questions, and seconds of one solve."""
    solves = [one_solve(season)]
    questions = Counted(season)
    taken = seconds(lambda: why_season(questions, quick=False))
    solves.append(one_solve(season))
    count = len(questions.asked)
    return taken / median(solves) / count, count, median(solves)


@pytest.mark.benchmark
@pytest.mark.parametrize(("size", "seeds"), SEEDS.items(), ids=str)
def test_a_question_costs_a_solve_at_most(
    size: tuple[int, int], seeds: int, season_of: Season, tell: Tell
) -> None:
    ratios = []
    for seed in range(1, seeds + 1):
        season = solve_season(prepare(season_of(*size, seed)), SolveOptions(gap=1e-3, work=0))
        ratio, count, solve_s = solves_a_question(season)
        ratios.append(ratio)
        tell(
            f"why {size[0]} x {size[1]}, seed {seed}",
            f"{count} questions, {ratio:.2f} solves each (bound {MOST_SOLVES} in the median; "
            f"a solve takes {solve_s:.2f} s)",
        )
    assert median(ratios) <= MOST_SOLVES


@pytest.mark.benchmark
def test_ten_thousand_seasons_take_about_as_long_as_a_solve() -> None:
    season = solve_season(prepare(DEMO))
    ratio, count, solve_s = solves_a_question(season)
    print(f"\ndemo: {count} questions, {ratio:.2f} solves each (a solve takes {solve_s:.2f} s)")
    whole_s = median(seconds(lambda: solve_season(season.prepared)) for _ in range(3))
    simulated = median(seconds(lambda: simulate(season, SEASONS)) for _ in range(3))
    print(
        f"\n{SEASONS:,} seasons of the demo: {simulated / solve_s:.2f} solves, "
        f"{simulated / whole_s:.2f} times pairs and solve ({simulated:.2f} s)"
    )
