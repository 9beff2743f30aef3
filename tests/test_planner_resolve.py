"""Every question about a solved season against a fresh solve of the season changed by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from brumal.planner.problem import PairRow, Problem
from brumal.planner.solver.resolve import Resolver, among
from brumal.planner.solver.solve import SolveOptions, Verdict, solve
from small_seasons import brute_force, random_problem


def changes(problem: Problem, rng: np.random.Generator) -> Iterator[tuple[str, Problem]]:
    """Yield changed seasons: limits, females put in, pairs forbidden, new, worth more, or apart."""
    if problem.boxes is not None:
        yield "a box more", replace(problem, boxes=problem.boxes + 1)
        yield "a box less", replace(problem, boxes=max(problem.boxes - 1, 0))
    if problem.tubs is not None:
        yield "a tub more", replace(problem, tubs=problem.tubs + 1)
    for sire, limit in problem.male_limits.items():
        more = {**problem.male_limits, sire: limit + 1}
        yield f"one more for {sire}", replace(problem, male_limits=more)
    for dam in sorted({c.dam for c in problem.candidates}):
        yield f"{dam} put in", replace(problem, must_breed=(dam,))
    for index, candidate in enumerate(problem.candidates):
        if candidate.pair not in problem.must:
            others = [n for n in range(len(problem.candidates)) if n != index]
            yield f"{candidate.pair} forbidden", among(problem, others)
    dams = sorted({c.dam for c in problem.candidates})
    for dam in dams[:2]:
        heavier = tuple(
            replace(
                c,
                value=c.value + 40,
                young=c.young * 1.1,
                counts={t: law[:, ::-1] for t, law in c.counts.items()},
            )
            if c.dam == dam
            else c
            for c in problem.candidates
        )
        yield f"{dam} changed", replace(problem, candidates=heavier)
    for sire in sorted({c.sire for c in problem.candidates}):
        his = {c.pair: 1.0 for c in problem.candidates if c.sire == sire}
        row = PairRow(coefficients=his, at_least=1)
        yield f"{sire} used", replace(problem, more=(row,))


def agrees(seed: int, options: SolveOptions) -> None:
    problem = random_problem(seed)
    base = solve(problem, options)
    resolver = Resolver(problem, base, options)
    rng = np.random.default_rng(seed)
    for name, changed in changes(problem, rng):
        fresh, answer = solve(changed, options), resolver.ask(changed)
        assert answer.verdict is fresh.verdict, name
        if fresh.chosen is None:
            continue
        assert answer.objective == pytest.approx(fresh.objective, abs=1e-5, rel=1e-6), name
        assert answer.chosen == fresh.chosen, name
        assert answer.bound >= fresh.objective - 1e-4, name


@pytest.mark.parametrize("seed", range(40))
def test_an_answer_equals_a_fresh_solve(seed: int) -> None:
    agrees(seed, SolveOptions())


@pytest.mark.slow
def test_many_answers_equal_fresh_solves() -> None:
    for seed in range(40, 600):
        agrees(seed, SolveOptions())


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_new_pairs_are_weighed_as_if_they_had_always_been_there(seed: int) -> None:
    problem = random_problem(seed)
    count = len(problem.candidates)
    place = {c.pair: n for n, c in enumerate(problem.candidates)}
    keep = sorted({*range(0, count, 2), *(place[pair] for pair in problem.must)})
    fewer = among(problem, keep)
    answer = Resolver(fewer, solve(fewer)).ask(problem)
    best = brute_force(problem)
    if best is None:
        assert answer.verdict is Verdict.IMPOSSIBLE
    else:
        assert answer.objective == pytest.approx(best, abs=1e-3, rel=2e-6)


@pytest.mark.parametrize("seed", range(0, 60, 5))
def test_a_loose_gap_leaves_the_answer_within_its_bound(seed: int) -> None:
    options = SolveOptions(gap=0.05)
    problem = random_problem(seed)
    resolver = Resolver(problem, solve(problem, options), options)
    for name, changed in changes(problem, np.random.default_rng(seed)):
        answer, best = resolver.ask(changed), solve(changed)
        assert (answer.chosen is None) == (best.chosen is None), name
        if best.chosen is not None:
            assert answer.objective <= best.objective + 1e-3 <= answer.bound + 2e-3, name
            assert answer.gap <= 0.05 + 1e-9, name


def test_a_season_that_can_bring_too_little_is_answered_by_its_bound() -> None:
    problem = next(p for p in map(random_problem, range(50)) if (brute_force(p) or 0) > 100)
    base = solve(problem)
    answer = Resolver(problem, base).ask(problem, at_least=10 * base.objective)
    assert answer.chosen is None
    assert base.objective <= answer.bound + 1e-6
    assert answer.bound < 10 * base.objective
