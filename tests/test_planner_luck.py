"""Sampled seasons of candidate pairs against what is expected of them, and against other seeds."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from brumal.insight.simulate.seasons import simulate
from brumal.pipeline import Prepared, prepare
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.risk.samples import risk_of
from brumal.planner.season import solve_season
from brumal.planner.solver.worth import bad_value, expected_value
from brumal.planner.wishes.surplus import all_terms
from brumal.records.settings import Risk
from solved_seasons import best_plan

SCENARIOS = Path(__file__).parent.parent / "scenarios"


def season(name: str, **taste: float) -> Prepared:
    prepared = prepare(SCENARIOS / name)
    settings = replace(prepared.records.settings, risk=Risk(**taste))
    return replace(prepared, records=replace(prepared.records, settings=settings))


def test_bad_seasons_count_only_where_they_are_given_a_weight() -> None:
    assert risk_of(Risk()) is None
    taste = risk_of(Risk(weight=0.2, worst=0.05, seasons=500))
    assert taste is not None
    assert (taste.weight, taste.bad, taste.seasons) == (0.2, 25, 500)
    assert all(each.luck is None for each in find_candidates(season("demo")).open)


def test_sampled_seasons_bring_what_is_expected_on_average() -> None:
    seasons = 4000
    found = find_candidates(season("demo", weight=0.5, seasons=seasons))
    states = found.pricing.following.weights
    off = []
    for each in found.open:
        assert each.luck is not None
        money = each.luck.money
        off.append((money.mean() - each.worth) / (money.std() / seasons**0.5))
        for term, law in each.counts.items():
            mean = (each.means or {})[term]
            weights = states.get(each.family_of_count(term), np.ones(1))
            assert mean == pytest.approx(float(weights @ law @ np.arange(law.shape[1])))
            count = each.luck.counts[term]
            assert abs(count.mean() - mean) < 5 * count.std() / seasons**0.5 + 1e-9
    # Pairs of one female share her luck: they are all a little high, or low, together.
    assert np.abs(off).max() < 4.5


def test_a_female_has_her_luck_whoever_the_sire_is() -> None:
    prepared = season("demo", weight=0.5, seasons=50)
    nothing = -prepared.records.settings.costs.pairing
    gone: dict[str, list[np.ndarray]] = {}
    for each in find_candidates(prepared).open:
        assert each.luck is not None
        gone.setdefault(each.dam, []).append(np.isclose(each.luck.money, nothing))
    # Seasons in which she does not go bring nothing but what the pairing costs.
    assert any(one.any() for her in gone.values() for one in her)
    # A pair that starts later serves fewer of her ovulations: what she misses with an earlier one
    # she misses with a later one too.
    for her in gone.values():
        her.sort(key=np.sum)
        assert all((one <= two).all() for one, two in pairwise(her))


def test_what_parents_are_does_not_depend_on_the_pairs_asked_for() -> None:
    found = find_candidates(season("demo", weight=0.5, seasons=200))
    whole = {each.pair: each.luck for each in found.open}
    some = [each.pair for each in found.open][::7]
    none = dict.fromkeys({animal for pair in some for animal in pair}, 0.0)
    for again in found.pricing.again([found.clutches[pair] for pair in some], none):
        before = whole[again.pair]
        assert before is not None
        assert again.luck is not None
        assert np.array_equal(again.luck.money, before.money)


def test_the_parts_of_the_plan_add_up() -> None:
    plan = best_plan(season("small", weight=0.5))
    bad, money = plan.bad_seasons, plan.money
    assert bad is not None
    assert plan.objective is not None
    parts = (money.pairs, money.holdbacks, money.saturation, money.rules, money.offers, money.risk)
    assert sum(parts) == pytest.approx(plan.objective, abs=1e-5)
    assert money.risk == pytest.approx(-0.5 * (bad.expected - bad.mean))
    assert plan.objective == pytest.approx(bad.expected + money.risk, abs=1e-5)
    assert bad.mean < bad.expected


def test_bad_seasons_are_as_bad_in_seasons_of_another_seed() -> None:
    careful = solve_season(season("demo", weight=0.5))
    chosen = careful.solution.chosen
    assert chosen is not None
    told = simulate(careful, 20_000, seed=99)
    # A hundred sampled seasons are its worst tenth: their mean is known to about 2 %.
    assert bad_value(careful.problem, chosen) == pytest.approx(told.worst, rel=0.06)
    # Simulated seasons carry out the calendar, which may give fewer visits than pairs count on.
    made = careful.as_visited
    everyone = range(len(made.candidates))
    assert told.expected == pytest.approx(expected_value(made, all_terms(made), everyone))
