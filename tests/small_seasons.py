"""Small invented seasons and every plan there is for them, with code the planner does not share."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from brumal.forecast.occupancy import Places
from brumal.planner.pairs.candidate import Candidate, Luck
from brumal.planner.problem import ChanceWish, Problem, RiskWeight, RouteWorth, WishTerm
from brumal.planner.solver.answer import Solution, Verdict

MOST = 10


def binomial(eggs: int, share: float) -> list[float]:
    """Return the chance of 0, 1, ... MOST counted young of so many eggs."""
    return [
        math.comb(eggs, k) * share**k * (1 - share) ** max(eggs - k, 0) for k in range(MOST + 1)
    ]


def random_problem(seed: int, females: int = 5, males: int = 3) -> Problem:
    """Invent a small season with every limit and wish, some of them impossible together."""
    return tied(apart_problem(seed, females, males), seed)


def tied(problem: Problem, seed: int) -> Problem:
    """Have clutches of several sires hang together in some seasons, for each wish others."""
    rng = np.random.default_rng([seed, 11])
    if rng.random() < 0.4:
        return problem
    kin = {f"kin {n}": rng.dirichlet(np.ones(int(rng.integers(2, 7)))) for n in range(2)}
    candidates = []
    for c in problem.candidates:
        counts, none = dict(c.counts), dict(c.none)
        names: tuple[dict[int, str], dict[int, str]] = ({}, {})
        for laws, named in ((counts, names[0]), (none, names[1])):
            for wish in laws:
                if rng.random() < 0.6:
                    named[wish] = f"kin {rng.integers(2)}"
                    shares = rng.random(kin[named[wish]].size) * 0.6
                    given = np.array([binomial(int(c.eggs), share) for share in shares])
                    laws[wish] = given if laws is counts else given[:, 0]
        candidates.append(
            replace(c, counts=counts, none=none, count_families=names[0], none_families=names[1])
        )
    states = {**problem.family_states, **kin}
    return replace(problem, candidates=tuple(candidates), family_states=states)


def apart_problem(seed: int, females: int, males: int) -> Problem:
    """Invent the same with no sire's clutches tied to another's."""
    rng = np.random.default_rng(seed)
    females, males = int(rng.integers(1, females + 1)), int(rng.integers(1, males + 1))
    terms = int(rng.integers(0, 3))
    chances = int(rng.integers(0, 2)) * int(rng.integers(0, 2))
    states = {
        f"M{m}": rng.dirichlet(np.ones(int(rng.integers(2, 4))))
        for m in range(males)
        if rng.random() < 0.5
    }
    candidates = []
    for f, m in itertools.product(range(females), range(males)):
        if rng.random() < 0.2:
            continue
        eggs = int(rng.integers(4, 10))
        shares = rng.random(len(states.get(f"M{m}", [1.0]))) * 0.6
        given = np.array([binomial(eggs, share) for share in shares])
        served = [t for t in range(terms) if rng.random() < 0.6]
        candidates.append(
            Candidate(
                dam=f"F{f}",
                sire=f"M{m}",
                value=round(float(rng.normal(250, 150)), 2),
                young=round(eggs * 0.7, 3),
                eggs=float(eggs),
                box_eggs=float(eggs),
                spend=float(rng.integers(5, 60)),
                kept=float(rng.random() * 2) * (rng.random() < 0.5),
                kin=float(rng.random() * 0.2),
                counts={t: given for t in served},
                none={0: given[:, 0]} if chances and rng.random() < 0.5 else {},
            )
        )
    pairs = [c.pair for c in candidates]
    must = (
        tuple(pairs[i] for i in rng.choice(len(pairs), 1)) if pairs and rng.random() < 0.3 else ()
    )
    return Problem(
        candidates=tuple(candidates),
        male_limits={f"M{m}": int(rng.integers(0, 4)) for m in range(males)},
        family_states=states,
        **offers_and_limits(rng, females, males),
        **weeks(seed, [c.pair for c in candidates]),
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


def weeks(seed: int, pairs: list[tuple[str, str]]) -> dict[str, Any]:
    """Have some seasons count what is there in the weeks, covered by spans in one or two ways.

    In some of these, clutches are there with a share of the greatest chances.
    """
    rng = np.random.default_rng([seed, 7])
    if rng.random() < 0.6:
        return {}
    shared: dict[str, Any] = {}
    if rng.random() < 0.5:
        shared["shares"] = {pair: float(rng.uniform(0.05, 1)) for pair in pairs}
        shared["room"] = Places(tilt=float(rng.uniform(0.3, 2)))
    return shared | {
        "in_box": tuple(
            tuple(rng.uniform(0.2, 0.9, spans).tolist())
            for spans in rng.integers(1, 4, int(rng.integers(1, 3)))
        ),
        "in_tub": float(rng.uniform(0.4, 1)),
        "sure": float(rng.uniform(0.5, 0.99)),
    }


def offers_and_limits(rng: np.random.Generator, females: int, males: int) -> dict[str, Any]:
    """Invent fees, sales and the limits that go with money, rest and young held back."""
    animals = [f"F{f}" for f in range(females)] + [f"M{m}" for m in range(males)]
    costs = {animal: float(rng.integers(20, 200)) for animal in animals if rng.random() < 0.3}
    sold = {animal for animal in costs if rng.random() < 0.4}
    return {
        "use_costs": costs,
        "paid": frozenset(costs) - sold,
        "income": sum(costs[animal] for animal in sorted(sold)),
        "spend": float(rng.integers(40, 400)) if rng.random() < 0.4 else None,
        "most_pairs": int(rng.integers(0, females + 1)) if rng.random() < 0.3 else None,
        "sire_share": float(rng.uniform(0.3, 0.9)) if rng.random() < 0.2 else None,
        "max_kin": float(rng.uniform(0.02, 0.15)) if rng.random() < 0.2 else None,
    }


def risky(problem: Problem, seed: int) -> Problem:
    """Have bad seasons count: money and counted young in a few seasons, the same for all pairs."""
    rng = np.random.default_rng([seed, 11])
    seasons = int(rng.integers(3, 13))
    candidates = tuple(
        replace(
            c,
            luck=Luck(
                money=rng.normal(c.worth, 150, seasons).round(2),
                counts={t: rng.integers(0, 6, seasons) for t in c.counts},
            ),
        )
        for c in problem.candidates
    )
    weight = float(rng.choice([0.2, 0.5, 0.9, 1.0]))
    risk = RiskWeight(weight=weight, bad=int(rng.integers(1, seasons + 1)), seasons=seasons)
    return replace(problem, candidates=candidates, risk=risk)


def bad_seasons(problem: Problem, plan: tuple[Candidate, ...]) -> float:
    """Mean over the worst seasons of what the pairs bring in them, wishes counted in each."""
    assert problem.risk
    brought = []
    for season in range(problem.risk.seasons):
        money = sum(float(c.luck.money[season]) for c in plan if c.luck)
        for t, wish in enumerate(problem.wish_terms):
            count = sum(int(c.luck.counts[t][season]) for c in plan if c.luck and t in c.counts)
            money -= wish.cost * max(count - wish.threshold, 0)
        brought.append(money)
    return sum(sorted(brought)[: problem.risk.bad]) / problem.risk.bad


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


def too_few_boxes(problem: Problem, small: int, large: int) -> float:
    """Bound on the chance that some span lacks a box, by the better way to cover the season."""
    law = problem.in_box, problem.boxes or 0, problem.box_clutches
    return too_few_of_mix(*law, small, large)


@cache
def too_few_of_mix(
    covers: Sequence[Sequence[float]], boxes: int, share: int, small: int, large: int
) -> float:
    return min(
        sum(too_few_inside(boxes, share, small, large, present) for present in cover)
        for cover in covers
    )


def too_few_inside(boxes: int, share: int, small: int, large: int, present: float) -> float:
    """Chance that so many small and large clutches need more boxes, every outcome by itself."""
    total = 0.0
    for s, n in itertools.product(range(small + 1), range(large + 1)):
        if -(-s // share) + n > boxes:
            here, away = s + n, small + large - s - n
            ways = math.comb(small, s) * math.comb(large, n)
            total += ways * present**here * (1 - present) ** away
    return total


def worst_mix(problem: Problem, places: int) -> float:
    """Return the greatest chance of too few boxes of any mix that takes so many places."""
    share = problem.box_clutches
    mixes = range(places // share + 1)
    worst = max(too_few_boxes(problem, places - share * large, large) for large in mixes)
    return min(worst, 1.0)


def has_boxes(problem: Problem, plan: tuple[Candidate, ...]) -> bool:
    """Check that a plan takes no more places than are safe, and that it is safe by itself."""
    if problem.boxes is None:
        return True
    if problem.boxes >= len({c.dam for c in problem.candidates}):
        return True
    share, short, tilt = problem.box_clutches, 1 - problem.sure, problem.room.tilt
    whole = [1 if c.box_eggs <= problem.small_clutch else share for c in plan]
    if tilt is None:
        return all(worst_mix(problem, k) <= short + 1e-9 for k in range(sum(whole) + 1))
    shares = [problem.shares.get(c.pair, 1.0) for c in plan]
    grown = [1 + r * (math.exp(tilt * s) - 1) for r, s in zip(shares, whole, strict=True)]
    taken = math.log(math.prod(grown)) / tilt
    # Past this many places the chance would have to be above one to be in the way.
    far = int(taken + math.log(1 / short) / tilt) + 1
    fits = all(
        worst_mix(problem, k) <= short * math.exp(tilt * (k - taken)) * (1 + 1e-9)
        for k in range(1, far + 1)
    )
    if plan and fits:
        assert true_shortage(problem, whole, shares) <= short + 1e-9
    return fits or not plan


def true_shortage(problem: Problem, whole: list[int], shares: list[float]) -> float:
    """Return the mean chance of too few boxes over every way in which clutches may be there."""
    total = 0.0
    for there in itertools.product((0, 1), repeat=len(whole)):
        chance = math.prod(r if is_in else 1 - r for is_in, r in zip(there, shares, strict=True))
        sizes = list(itertools.compress(whole, there))
        small = sizes.count(1) if problem.box_clutches > 1 else len(sizes)
        # A sum over spans may pass one; a chance does not.
        total += chance * min(1.0, too_few_boxes(problem, small, len(sizes) - small))
    return total


def is_allowed(problem: Problem, plan: tuple[Candidate, ...]) -> bool:
    """Check a plan from the keeper's words alone."""
    dams = Counter(c.dam for c in plan)
    sires = Counter(sire for c in plan for sire in problem.sires.get((c.dam, c.sire), (c.sire,)))
    if any(count > 1 for count in dams.values()):
        return False
    if any(count > problem.male_limits[sire] for sire, count in sires.items()):
        return False
    packed = problem.boxes is None or boxes_filled(problem, plan) <= problem.boxes
    if not (packed if problem.sure == 1 else has_boxes(problem, plan)):
        return False
    young = problem.in_tub * sum(c.young for c in plan)
    if problem.tubs is not None and young > problem.tubs + 1e-9:
        return False
    if not set(problem.must) <= {c.pair for c in plan}:
        return False
    if not holdbacks_allowed(problem, plan) or not money_allowed(problem, plan):
        return False
    return all(
        chance_had(problem, plan, number) >= wish.at_least - 1e-9
        for number, wish in enumerate(problem.chances)
    )


def money_allowed(problem: Problem, plan: tuple[Candidate, ...]) -> bool:
    """Check money before sales, every animal paid for once, and how many may be paired."""
    if problem.most_pairs is not None and len(plan) > problem.most_pairs:
        return False
    bought = {c.dam for c in plan} | {c.sire for c in plan}
    fees = sum(problem.use_costs[animal] for animal in bought if animal in problem.paid)
    return problem.spend is None or sum(c.spend for c in plan) + fees <= problem.spend + 1e-9


def holdbacks_allowed(problem: Problem, plan: tuple[Candidate, ...]) -> bool:
    """Check the young held back: mean kinship, and the share of each sire."""
    kept = sum(c.kept for c in plan)
    if kept <= 0:
        return True
    mean_kin = sum(c.kept * c.kin for c in plan) / kept
    if problem.max_kin is not None and mean_kin > problem.max_kin + 1e-9:
        return False
    if problem.sire_share is not None:
        for sire in {c.sire for c in plan}:
            own = sum(c.kept for c in plan if c.sire == sire)
            if own / kept > problem.sire_share + 1e-9:
                return False
    return True


def worlds(problem: Problem, names: set[str]) -> Iterator[tuple[float, dict[str, int]]]:
    """Yield every combination of the states of families, with its probability."""
    families = sorted(names)
    weights = [problem.family_states.get(family, [1.0]) for family in families]
    for states in itertools.product(*(range(len(each)) for each in weights)):
        chance = math.prod(each[state] for each, state in zip(weights, states, strict=True))
        yield chance, dict(zip(families, states, strict=True))


def chance_had(problem: Problem, plan: tuple[Candidate, ...], number: int) -> float:
    """Chance of one young or more, world by world."""
    serving = [(c, c.none_families.get(number, c.sire)) for c in plan if number in c.none]
    return 1 - sum(
        chance * math.prod(c.none[number][world[family]] for c, family in serving)
        for chance, world in worlds(problem, {family for _, family in serving})
    )


def worth(problem: Problem, plan: tuple[Candidate, ...]) -> float:
    """Expected value of a plan by walking over every world and every combination of counts."""
    used = {c.dam for c in plan} | {c.sire for c in plan}
    total = sum(c.worth for c in plan) + problem.income
    total -= sum(cost for animal, cost in problem.use_costs.items() if animal in used)
    for t, wish in enumerate(problem.wish_terms):
        serving = [(c, c.count_families.get(t, c.sire)) for c in plan if t in c.counts]
        for chance, world in worlds(problem, {family for _, family in serving}):
            law = {0: 1.0}
            for c, family in serving:
                step: dict[int, float] = {}
                own = enumerate(c.counts[t][world[family]])
                for (have, p), (more, q) in itertools.product(law.items(), own):
                    step[have + more] = step.get(have + more, 0.0) + p * q
                law = step
            surplus = sum(p * max(n - wish.threshold, 0) for n, p in law.items())
            total -= chance * wish.cost * surplus
    later = for_later(problem, plan)
    total += later
    if problem.risk is None:
        return total
    fees = sum(cost for animal, cost in problem.use_costs.items() if animal in used)
    bad = problem.income - fees + later + bad_seasons(problem, plan)
    return total - problem.risk.weight * (total - bad)


def for_later(problem: Problem, plan: tuple[Candidate, ...]) -> float:
    """Look up what a plan adds to each wish that may wait, by the slots it fills."""
    total = 0.0
    for route in problem.routes:
        filled = [n for n, slot in enumerate(route.slots) for c in plan if (c.dam, c.sire) in slot]
        total += route.value * route.gains[frozenset(filled)]
    return total


def waiting(problem: Problem, seed: int) -> Problem:
    """Let one or two wishes wait: what pairs add to them is anything but a sum over pairs."""
    rng = np.random.default_rng([seed, 21])
    dams = sorted({c.dam for c in problem.candidates}) or ["F0"]
    routes = []
    for number in range(int(rng.integers(1, 3))):
        slots: list[list[frozenset[tuple[str, str]]]] = []
        for dam in dams[: int(rng.integers(1, 4))]:
            own = [c.pair for c in problem.candidates if c.dam == dam]
            mates = [pair for pair in own if rng.random() < 0.5] + [(dam, "not open")]
            others = frozenset(own).difference(mates)
            hers = [frozenset({pair}) for pair in mates]
            slots.append([*hers, others] if others and rng.random() < 0.6 else hers)
        every = [slot for hers in slots for slot in hers]
        ways = itertools.product(*([None, *map(every.index, hers)] for hers in slots))
        gains = {frozenset(n for n in way if n is not None): rng.uniform(-0.2, 1) for way in ways}
        routes.append(
            RouteWorth(
                morph=f"wish {number}",
                value=float(rng.integers(0, 300)),
                slots=tuple(every),
                gains=gains | {frozenset(): 0.0},
            )
        )
    return replace(problem, routes=tuple(routes))


def every_plan(problem: Problem) -> Iterator[tuple[Candidate, ...]]:
    """Yield every allowed plan."""
    by_dam: dict[str, list[Candidate | None]] = {}
    for c in problem.candidates:
        by_dam.setdefault(c.dam, [None]).append(c)
    for choice in itertools.product(*by_dam.values()):
        plan = tuple(c for c in choice if c)
        if is_allowed(problem, plan):
            yield plan


def brute_force(problem: Problem) -> float | None:
    """Return the best value over all plans, None where no plan is allowed."""
    return max((worth(problem, plan) for plan in every_plan(problem)), default=None)


def agree(problem: Problem, solution: Solution) -> None:
    """Hold a solution against every plan there is: verdict, value, bound and the plan itself."""
    best = brute_force(problem)
    if best is None:
        assert solution.verdict is Verdict.IMPOSSIBLE
        assert solution.chosen is None
        return
    assert solution.verdict is Verdict.PROVEN
    assert solution.objective == pytest.approx(best, abs=1e-3, rel=2e-6)
    assert solution.bound >= best - 1e-3
    plan = tuple(problem.candidates[i] for i in solution.chosen or ())
    assert is_allowed(problem, plan)
    assert worth(problem, plan) == pytest.approx(solution.objective, abs=1e-6)
