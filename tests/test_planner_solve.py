"""The solver's plan against every plan there is, and against a checker that shares no code."""

from __future__ import annotations

import itertools
import math
from collections import Counter

import numpy as np
import pytest

from brumal.planner.problem import Candidate, ChanceWish, Problem, WishTerm
from brumal.planner.solve import SolveOptions, Verdict, solve


def random_problem(seed: int, females: int = 5, males: int = 3) -> Problem:
    """Invent a small season with every limit and wish, some of them impossible together."""
    rng = np.random.default_rng(seed)
    females, males = int(rng.integers(1, females + 1)), int(rng.integers(1, males + 1))
    terms = int(rng.integers(0, 3))
    chances = int(rng.integers(0, 2)) * int(rng.integers(0, 2))
    candidates = []
    for f, m in itertools.product(range(females), range(males)):
        if rng.random() < 0.2:
            continue
        eggs = int(rng.integers(4, 10))
        share = rng.random() * 0.6
        law = np.array(
            [math.comb(eggs, k) * share**k * (1 - share) ** (eggs - k) for k in range(eggs + 1)]
        )
        served = [t for t in range(terms) if rng.random() < 0.6]
        candidates.append(
            Candidate(
                dam=f"F{f}",
                sire=f"M{m}",
                value=round(float(rng.normal(250, 150)), 2),
                young=round(eggs * 0.7, 3),
                eggs=float(eggs),
                box_eggs=float(eggs),
                counts={t: law for t in served},
                log_none={0: math.log(law[0])} if chances and rng.random() < 0.5 else {},
            )
        )
    pairs = [c.pair for c in candidates]
    must = (
        tuple(pairs[i] for i in rng.choice(len(pairs), 1)) if pairs and rng.random() < 0.3 else ()
    )
    return Problem(
        candidates=tuple(candidates),
        male_limits={f"M{m}": int(rng.integers(0, 4)) for m in range(males)},
        boxes=int(rng.integers(0, 5)) if rng.random() < 0.8 else None,
        tubs=int(rng.integers(5, 30)) if rng.random() < 0.6 else None,
        must=must,
        wish_terms=tuple(
            WishTerm(
                id=str(t),
                words="",
                threshold=int(rng.integers(0, 5)),
                cost=float(rng.integers(1, 150)),
            )
            for t in range(terms)
        ),
        chances=tuple(
            ChanceWish(id=str(c), words="", at_least=float(rng.uniform(0.3, 0.95)))
            for c in range(chances)
        ),
    )


def boxes_filled(problem: Problem, plan: tuple[Candidate, ...]) -> int:
    """Put the clutches into boxes one at a time."""
    free_places, boxes = 0, 0
    for c in plan:
        if c.box_eggs > problem.small_clutch:
            boxes += 1
        elif free_places:
            free_places -= 1
        else:
            boxes, free_places = boxes + 1, problem.box_clutches - 1
    return boxes


def is_allowed(problem: Problem, plan: tuple[Candidate, ...]) -> bool:
    """Check a plan from the keeper's words alone."""
    dams = Counter(c.dam for c in plan)
    sires = Counter(c.sire for c in plan)
    if any(count > 1 for count in dams.values()):
        return False
    if any(count > problem.male_limits[sire] for sire, count in sires.items()):
        return False
    if problem.boxes is not None and boxes_filled(problem, plan) > problem.boxes:
        return False
    if problem.tubs is not None and sum(c.young for c in plan) > problem.tubs + 1e-9:
        return False
    if not set(problem.must) <= {c.pair for c in plan}:
        return False
    for number, wish in enumerate(problem.chances):
        none = math.prod(math.exp(c.log_none.get(number, 0.0)) for c in plan)
        if 1 - none < wish.at_least - 1e-9:
            return False
    return True


def worth(problem: Problem, plan: tuple[Candidate, ...]) -> float:
    """Expected value of a plan by walking over every combination of counts."""
    total = sum(c.value for c in plan)
    for t, wish in enumerate(problem.wish_terms):
        law = {0: 1.0}
        for c in plan:
            if t in c.counts:
                step: dict[int, float] = {}
                for (have, p), (more, q) in itertools.product(law.items(), enumerate(c.counts[t])):
                    step[have + more] = step.get(have + more, 0.0) + p * q
                law = step
        total -= wish.cost * sum(p * max(n - wish.threshold, 0) for n, p in law.items())
    return total


def brute_force(problem: Problem) -> float | None:
    """Return the best value over all assignments, None where no plan is allowed."""
    by_dam: dict[str, list[Candidate | None]] = {}
    for c in problem.candidates:
        by_dam.setdefault(c.dam, [None]).append(c)
    best = None
    for choice in itertools.product(*by_dam.values()):
        plan = tuple(c for c in choice if c)
        if is_allowed(problem, plan):
            value = worth(problem, plan)
            best = value if best is None else max(best, value)
    return best


def agrees(seed: int, solver: str = "highs") -> None:
    problem = random_problem(seed)
    solution = solve(problem, SolveOptions(solver=solver))
    best = brute_force(problem)
    if best is None:
        assert solution.verdict is Verdict.IMPOSSIBLE
        assert solution.chosen is None
        return
    assert solution.verdict is Verdict.PROVEN
    assert solution.objective == pytest.approx(best, abs=1e-3, rel=2e-6)
    assert solution.bound >= best - 1e-3
    plan = tuple(problem.candidates[i] for i in solution.chosen)
    assert is_allowed(problem, plan)
    assert worth(problem, plan) == pytest.approx(solution.objective, abs=1e-6)


@pytest.mark.parametrize("seed", range(200))
def test_the_plan_equals_brute_force(seed: int) -> None:
    agrees(seed)


@pytest.mark.slow
def test_many_plans_equal_brute_force() -> None:
    for seed in range(200, 3000):
        agrees(seed)


@pytest.mark.parametrize("seed", range(0, 200, 10))
def test_cbc_and_highs_choose_the_same_plan(seed: int) -> None:
    problem = random_problem(seed)
    highs, cbc = (solve(problem, SolveOptions(solver=name)) for name in ("highs", "cbc"))
    assert highs.verdict is cbc.verdict
    assert highs.chosen == cbc.chosen
