"""Cuts that one solve learnt, carried to changed seasons: below the truth, and the same answers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from brumal.planner.problem import PairRow, Problem
from brumal.planner.solver.answer import EXACT, Solution, SolveOptions, Verdict
from brumal.planner.solver.known_cuts import carried, renamed
from brumal.planner.solver.solve import solve
from brumal.planner.wishes.surplus import Cut, all_terms, plan_law, surplus
from long_forms import thinned
from small_seasons import agree, every_plan, random_problem, risky


def changes(problem: Problem) -> Iterator[tuple[str, Problem]]:
    """Yield changed seasons: limits, females put in, pairs forbidden, worth more, or used."""
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
            yield f"{candidate.pair} forbidden", problem.only(others)
    yield from repriced(problem)
    for sire in sorted({c.sire for c in problem.candidates}):
        his = {c.pair: 1.0 for c in problem.candidates if c.sire == sire}
        row = PairRow(coefficients=his, at_least=1)
        yield f"{sire} used", replace(problem, more=(row,))


def repriced(problem: Problem) -> Iterator[tuple[str, Problem]]:
    """Yield seasons in which pairs are worth more, or count other young."""
    for dam in sorted({c.dam for c in problem.candidates})[:2]:
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
        more = tuple(
            replace(
                c,
                counts={
                    t: np.pad(law, ((0, 0), (1, 0) if c.dam == dam else (0, 1)))
                    for t, law in c.counts.items()
                },
            )
            for c in problem.candidates
        )
        yield f"{dam} with one young more", replace(problem, candidates=more)
    dearer = tuple(replace(c, value=1.3 * c.value) for c in problem.candidates)
    yield "all dearer", replace(problem, candidates=dearer)
    easier = tuple(replace(wish, threshold=wish.threshold + 1) for wish in problem.wish_terms)
    yield "more wanted", replace(problem, wish_terms=easier)
    states = {name: weights[::-1].copy() for name, weights in problem.family_states.items()}
    yield "likelier states", replace(problem, family_states=states)


def answered(base: Solution, problem: Problem, changed: Problem, options: SolveOptions) -> Solution:
    """Solve a changed season from the plan and the cuts of another."""
    plan = tuple(problem.columns.pairs[at] for at in base.chosen or ())
    known = carried(base.learnt, problem, changed)
    return solve(changed, replace(options, start=plan), known=known)


def as_afresh(problem: Problem) -> int:
    """Hold every changed season against a fresh solve; return how many cuts were carried."""
    base = solve(problem, EXACT)
    count = 0
    for number, (name, changed) in enumerate(changes(problem)):
        known = carried(base.learnt, problem, changed)
        fresh = solve(changed, EXACT)
        answers = [answered(base, problem, changed, EXACT)]
        if number % 3 == 0:
            answers.append(solve(changed, EXACT, known=known))
        for answer in answers:
            assert answer.verdict is fresh.verdict, name
            if fresh.chosen is None:
                continue
            assert answer.objective == pytest.approx(fresh.objective, abs=1e-5, rel=1e-6), name
            assert answer.chosen == fresh.chosen, name
            assert answer.bound >= fresh.objective - 1e-4, name
        count += len(known)
    return count


@pytest.mark.parametrize("seed", thinned(range(40), 4, 1))
def test_an_answer_equals_a_fresh_solve(seed: int) -> None:
    as_afresh(random_problem(seed))


@pytest.mark.slow
@pytest.mark.parametrize("block", range(10))
def test_many_answers_equal_fresh_solves(block: int) -> None:
    assert sum(as_afresh(random_problem(seed)) for seed in range(40 + block, 600, 10)) > 100


@pytest.mark.parametrize("seed", thinned(range(0, 120, 5), 3))
def test_an_answer_equals_brute_force(seed: int) -> None:
    problem = random_problem(seed, females=4)
    base = solve(problem, EXACT)
    for _, changed in changes(problem):
        if not changed.must_breed and not changed.more:
            agree(changed, answered(base, problem, changed, EXACT))


@pytest.mark.parametrize("seed", thinned(range(0, 60, 4), 3, 2))
def test_bad_seasons_are_answered_as_afresh(seed: int) -> None:
    as_afresh(risky(random_problem(seed), seed))


def test_carried_cuts_lie_below_the_surplus_of_every_plan_and_some_say_something() -> None:
    """In each changed season, by the exact law of the young that its own pairs count."""
    told = 0
    for seed in range(40):
        problem = random_problem(seed, females=4)
        base = solve(problem, EXACT)
        others = [at for at, c in enumerate(problem.candidates) if c.pair not in problem.must]
        for name, changed in (
            ("a pair forbidden", replace(problem.only(others[1:]), must=())),
            ("the other way round", problem.only(range(len(problem.candidates))[::-1])),
            *repriced(problem),
        ):
            known = carried(base.learnt, problem, changed)
            terms = all_terms(changed)
            place = {pair: at for at, pair in enumerate(changed.columns.pairs)}
            for plan in every_plan(changed) if known else ():
                chosen = [place[c.pair] for c in plan]
                true = [surplus(plan_law(laws, chosen), laws.threshold) for laws in terms]
                assert [laws.surplus(chosen) for laws in terms] == pytest.approx(true, abs=1e-9)
                for cut in known:
                    least = cut.constant + sum(cut.coefficients.get(at, 0.0) for at in chosen)
                    assert least <= true[cut.number] + 1e-9, (seed, name)
                    told += least > 1e-6
    assert told > 300


def test_cuts_are_carried_only_where_they_hold() -> None:
    problem = next(
        p for p in map(random_problem, range(100)) if solve(p, EXACT).learnt and p.family_states
    )
    cuts = solve(problem, EXACT).learnt
    said = dict(changes(problem))
    assert carried(cuts, problem, problem) == cuts
    assert carried(cuts, problem, said["more wanted"]) == ()
    assert carried(cuts, problem, said["likelier states"]) == ()
    assert len(carried(cuts, problem, said["all dearer"])) == len(cuts)
    turned = problem.only(range(len(problem.candidates))[::-1])
    last = len(problem.candidates) - 1
    for cut, other in zip(cuts, carried(cuts, problem, turned), strict=True):
        assert (cut.number, cut.constant) == (other.number, other.constant)
        assert {last - at: slope for at, slope in cut.coefficients.items()} == other.coefficients
    for dam in sorted({c.dam for c in problem.candidates})[:2]:
        hers = {at for at, c in enumerate(problem.candidates) if c.dam == dam and c.counts}
        more = said[f"{dam} with one young more"]
        assert carried(cuts, problem, more) == cuts
        for cut in carried(carried(cuts, problem, more), more, problem):
            assert not hers & cut.coefficients.keys()


def test_pairs_without_a_new_name_are_left_out_of_a_cut() -> None:
    cut = Cut(1, -2.0, {0: 0.5, 3: 0.25, 4: 1.0})
    assert renamed([cut], {0: 7, 4: 2}) == (Cut(1, -2.0, {7: 0.5, 2: 1.0}),)


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_new_pairs_are_weighed_as_if_they_had_always_been_there(seed: int) -> None:
    problem = random_problem(seed)
    count = len(problem.candidates)
    place = {c.pair: n for n, c in enumerate(problem.candidates)}
    keep = sorted({*range(0, count, 2), *(place[pair] for pair in problem.must)})
    fewer = problem.only(keep)
    agree(problem, answered(solve(fewer, EXACT), fewer, problem, EXACT))


@pytest.mark.parametrize("work", [0, 4000])
@pytest.mark.parametrize("seed", thinned(range(0, 60, 5), 3))
def test_a_loose_gap_leaves_the_answer_within_its_bound(seed: int, work: int) -> None:
    options = SolveOptions(gap=0.05, work=work)
    problem = random_problem(seed)
    base = solve(problem, options)
    for name, changed in changes(problem):
        answer, best = answered(base, problem, changed, options), solve(changed, EXACT)
        assert (answer.chosen is None) == (best.chosen is None), name
        if best.chosen is not None:
            assert answer.verdict is Verdict.PROVEN
            assert answer.objective <= best.objective + 1e-3 <= answer.bound + 2e-3, name
            assert answer.gap <= 0.05 + 1e-9, name
