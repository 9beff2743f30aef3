"""What a whole explanation costs, as a multiple of one solve, and simulated seasons likewise.

Every female left out, every unused male, every limit and every shadow price is a question. A solve
is timed before, between and after, since other work on the machine moves both.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import pytest
from brumal.insight.why.askers import Askers

from benchmarks.big_seasons import big_season
from brumal.insight.simulate.seasons import SEASONS, simulate
from brumal.insight.why.answers import State, loosened, sit_outs, state_of, unused_males, why_animal
from brumal.insight.why.counterfactuals import Asked, Counterfactual, Questions
from brumal.insight.why.shadow_prices import shadow_prices
from brumal.pipeline import prepare
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.solve import SolveOptions, solve

DEMO = Path(__file__).parents[2] / "scenarios" / "demo"
WORKERS = 2
MOST_SOLVES = 0.25


class Counted(Questions):
    """Questions that count themselves, asked with a solve or answered without one."""

    def __init__(self, season: SolvedSeason, askers: Askers | None = None) -> None:
        self.asked: set[object] = set()
        super().__init__(season, None, askers)

    def ask(self, asked: Asked) -> Counterfactual:
        self.asked.add(asked.key)
        return super().ask(asked)


def seconds(job: Callable[[], object]) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def explained(season: SolvedSeason, workers: int) -> tuple[float, int, float]:
    """Return solves a question, the number of questions, and seconds of one solve."""
    solves = [one_solve(season)]

    def sit_outs_and_prices(questions: Counted) -> float:
        animals = [*sit_outs(season), *unused_males(season)]
        left = [name for name in animals if state_of(season, name) is State.LEFT_OUT]
        females = [name for name in left if name in sit_outs(season)]
        first = [questions.with_female(name) for name in females]
        first += [questions.with_male(name) for name in left if name not in females]
        first += [asked for _, asked in loosened(questions)]
        taken = seconds(lambda: questions.foresee(first))
        taken += seconds(lambda: [why_animal(questions, each, False, False) for each in animals])
        solves.append(one_solve(season))
        return taken + seconds(lambda: prices.extend(shadow_prices(questions)))

    prices: list[object] = []
    if workers == 1:
        questions = Counted(season)
        taken = sit_outs_and_prices(questions)
    else:
        start = time.perf_counter()
        with Askers(season.problem, season.solution, season.options, workers) as askers:
            opened = time.perf_counter() - start
            questions = Counted(season, askers)
            taken = opened + sit_outs_and_prices(questions)
    solves.append(one_solve(season))
    asked = {key for key in questions.asked if not (isinstance(key, tuple) and key[0] == "price")}
    count = len(prices) + len(asked)
    return taken / median(solves) / count, count, median(solves)


def one_solve(season: SolvedSeason) -> float:
    return median(seconds(lambda: solve(season.problem, season.options)) for _ in range(3))


def told(name: str, ratio: float, count: int, solve_s: float) -> None:
    print(f"\n{name}: {count} questions, {ratio:.2f} solves each (a solve takes {solve_s:.2f} s)")


@pytest.mark.benchmark
def test_sit_outs_and_prices_of_the_demo() -> None:
    season = solve_season(prepare(DEMO))
    told("demo, one process", *explained(season, 1))


@pytest.mark.benchmark
@pytest.mark.parametrize("wishes", [9, 20])
def test_a_question_about_200_by_40_takes_a_quarter_of_a_solve(tmp_path: Path, wishes: int) -> None:
    folder = big_season(tmp_path, 200, 40, wishes=wishes)
    season = solve_season(prepare(folder), SolveOptions(gap=1e-3))
    ratio, count, solve_s = explained(season, WORKERS)
    told(f"200 x 40, {wishes} wishes, gap 0.1 %, {WORKERS} processes", ratio, count, solve_s)
    assert ratio <= MOST_SOLVES


@pytest.mark.benchmark
def test_ten_thousand_seasons_take_about_as_long_as_a_solve() -> None:
    season = solve_season(prepare(DEMO))
    solve_s = one_solve(season)
    whole_s = median(seconds(lambda: solve_season(season.prepared)) for _ in range(3))
    simulated = median(seconds(lambda: simulate(season, SEASONS)) for _ in range(3))
    print(
        f"\n{SEASONS:,} seasons of the demo: {simulated / solve_s:.2f} solves, "
        f"{simulated / whole_s:.2f} times pairs and solve ({simulated:.2f} s)"
    )
