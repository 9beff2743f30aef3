"""Clutches that several males may have sired, against a walk over sires and genotypes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from brumal.insight.simulate.seasons import simulate
from brumal.pipeline import prepare
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.answer import EXACT
from brumal.planner.solver.solve import solve
from season_folders import season_folder
from small_seasons import every_plan, random_problem, worth
from solved_seasons import HEAD, SURE, female, male

EVENTS = """date,animal,event,with,count,slugs,morphs
2026-12-03,F1,visit,M1,,,
2026-12-10,F1,visit,M2,,,
2027-02-20,F1,laid,,5,0,
"""
SEASON = (
    SURE.replace("2027-03-31}", "2027-03-31, as_of: 2027-02-21}")
    + """values:
  base: 30
  wanted: [{morph: Clown, value: 250, need: 3, value_after: 100}]
locks:
  must_pair: [[F2, M1], [F3, M2]]
  sires: {F1: {M1: 0.7, M2: 0.3}}
"""
)
PAIRS = (("F1", ""), ("F2", "M1"), ("F3", "M2"))
EGGS = {"F1": 5, "F2": 6, "F3": 4}
FULL, AFTER, NEED, BASE = 250.0, 100.0, 3, 30.0
State = tuple[float, Mapping[str, int]]
"""A probability, and the copies of the gene that each male then has."""


def apart() -> Iterator[State]:
    """Two males of whom nothing is shared: 66 % and 50 % hets."""
    for one, two in itertools.product((0, 1), repeat=2):
        yield (2 / 3 if one else 1 / 3) * 0.5, {"M1": one, "M2": two}


def certain() -> Iterator[State]:
    """A het and a normal male."""
    yield 1.0, {"M1": 1, "M2": 0}


def brothers() -> Iterator[State]:
    """Normal sons of a het sire and a dam who is het or not: one het makes the other likelier."""
    weights: dict[tuple[int, int], float] = {}
    for dam, one, two in itertools.product((0, 1), repeat=3):
        shares = ((0.5, 0.5), (0.25, 0.5))[dam]
        chance = 0.5 * shares[one] * shares[two]
        weights[one, two] = weights.get((one, two), 0.0) + chance
    total = sum(weights.values())
    for (one, two), weight in weights.items():
        yield weight / total, {"M1": one, "M2": two}


PARENTS = [
    female("D", "50% het Clown", status="outside", hatched="2015-06-01"),
    male("S", "het Clown", status="outside", hatched="2015-06-01"),
]
KINDS = {
    "apart": (apart, [male("M1", "66% het Clown"), male("M2", "50% het Clown")]),
    "certain": (certain, [male("M1", "het Clown"), male("M2")]),
    "brothers": (
        brothers,
        [*PARENTS, male("M1", dam="D", sire="S"), male("M2", dam="D", sire="S")],
    ),
}


def season(folder: Path, males: Sequence[str], text: str = SEASON) -> tuple[SolvedSeason, Plan]:
    dams = [female(dam, "Clown", expected_eggs=EGGS[dam]) for dam, _ in PAIRS]
    season_folder(folder, animals=HEAD + "".join([*dams, *males]), season=text, events=EVENTS)
    solved = solve_season(prepare(folder), EXACT)
    return solved, plan_of(solved)


def walked(states: Iterator[State]) -> Iterator[tuple[float, list[tuple[int, float]]]]:
    """Yield every sire and genotype with its chance: for each clutch eggs, share of Clown young."""
    for chance, copies in states:
        for sire, share in (("M1", 0.7), ("M2", 0.3)):
            yield chance * share, [(EGGS[dam], copies[his or sire] / 2) for dam, his in PAIRS]


def law(clutches: Sequence[tuple[int, float]]) -> np.ndarray:
    found = np.ones(1)
    for eggs, share in clutches:
        found = np.convolve(found, binom.pmf(np.arange(eggs + 1), eggs, share))
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_figures_are_those_of_every_sire_and_genotype(kind: str, tmp_path: Path) -> None:
    states, males = KINDS[kind]
    solved, plan = season(tmp_path, males)
    pair = next(pair for pair in plan.pairs if pair.dam == "F1")
    assert dict(pair.sires) == pytest.approx({"M1": 0.7, "M2": 0.3})
    surplus = none = mean = square = clowns = 0.0
    for chance, clutches in walked(states()):
        counts = law(clutches)
        surplus += chance * sum(max(n - NEED, 0) * p for n, p in enumerate(counts))
        none += chance * counts[0]
        for n, p in enumerate(law(clutches[:1])):
            money = n * (FULL - BASE) + 5 * (BASE - 10) - 5 * 1 - 5
            mean += chance * p * money
            square += chance * p * money**2
        clowns += chance * clutches[0][1]
    assert pair.value == pytest.approx(mean, abs=1e-6)
    assert pair.sd == pytest.approx(math.sqrt(square - mean**2), rel=1e-9)
    assert plan.money is not None
    assert plan.money.saturation == pytest.approx(-(FULL - AFTER) * surplus, abs=1e-6)
    assert plan.targets[0].chance == pytest.approx(1 - none, abs=1e-9)
    looks = {look.morph: look.chance for look in pair.outcomes}
    assert sum(looks.values()) == pytest.approx(1)
    assert sum(p for look, p in looks.items() if look.startswith("Clown")) == pytest.approx(clowns)
    assert sum(look.chance * look.value for look in pair.outcomes) == pytest.approx(
        BASE + clowns * (FULL - BASE)
    )
    drawn = simulate(solved, 20_000, seed=7)
    assert abs(drawn.money.mean - drawn.expected) < 4 * drawn.error
    assert drawn.expected == pytest.approx(plan.objective, abs=1e-6)
    assert abs(drawn.targets[0].chance - (1 - none)) < 4 * math.sqrt(none * (1 - none) / 20_000)


def test_bad_seasons_and_chance_wishes_see_the_mixture(tmp_path: Path) -> None:
    states, males = KINDS["apart"]
    text = SEASON.replace("value_after: 100", "value_after: 100, chance: 0.5")
    solved, plan = season(tmp_path, males, text + "risk: {weight: 0.5, seasons: 2000}\n")
    none = sum(chance * law(clutches)[0] for chance, clutches in walked(states()))
    assert plan.targets[0].chance == pytest.approx(1 - none, abs=1e-9)
    assert plan.bad_seasons is not None
    lucks = {pair.dam: pair.luck for pair in solved.pairs}
    drawn = lucks["F1"].counts[0]
    shares = [(p, clutches[:1]) for p, clutches in walked(states())]
    expected = sum(p * clutch[0][0] * clutch[0][1] for p, clutch in shares)
    assert drawn.mean() == pytest.approx(expected, abs=4 * drawn.std() / math.sqrt(drawn.size))


def test_young_that_tell_the_sire_leave_one_only(tmp_path: Path) -> None:
    males = [male("M1"), male("M2", "Clown")]
    events = EVENTS + "2027-04-20,F1,hatched,,5,,5 Clown\n"
    text = SEASON.replace("2027-02-21", "2027-04-21").replace("[[F2, M1], [F3, M2]]", "[]")
    dams = [female(dam, "Clown", expected_eggs=EGGS[dam]) for dam, _ in PAIRS]
    season_folder(tmp_path, animals=HEAD + "".join([*dams, *males]), season=text, events=events)
    plan = plan_of(solve_season(prepare(tmp_path), EXACT))
    pair = next(pair for pair in plan.pairs if pair.dam == "F1")
    assert dict(pair.sires) == {"M1": 0.0, "M2": 1.0}
    assert [look.morph for look in pair.outcomes] == ["Clown"]
    assert pair.value == pytest.approx(5 * (FULL - 10) - 5 - 5)


@pytest.mark.parametrize("seed", [55, 73, 80, 86])
def test_pairings_of_two_males_at_once_against_every_plan(seed: int) -> None:
    """In these seasons the best plan is another one where a clutch counts for one male alone."""
    problem, rng = random_problem(seed, 4), np.random.default_rng([seed, 77])
    males = sorted(problem.male_limits)
    sires = {
        pair.pair: dict.fromkeys({pair.sire, str(rng.choice(males))}, 0.5)
        for pair in problem.candidates
        if rng.random() < 0.4
    }
    alone = max(worth(problem, plan) for plan in every_plan(problem))
    problem = replace(problem, sires=sires)
    values = [worth(problem, plan) for plan in every_plan(problem)]
    solution = solve(problem, EXACT)
    assert max(values) < alone - 1
    assert solution.objective == pytest.approx(max(values), abs=1e-3, rel=2e-6)
