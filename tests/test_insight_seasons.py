"""Simulated seasons against exact laws, worked out here from the figures of the season."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from brumal.genetics.crosses.pair_odds import joint_cases
from brumal.insight.simulate.season_room import room_luck
from brumal.insight.simulate.seasons import draw_seasons, money_of, simulate
from brumal.pipeline import prepare
from brumal.planner.describe import plan_of
from brumal.planner.risk.clutch_draws import draw_clutch
from brumal.planner.risk.parent_draws import draw_parents
from brumal.planner.season import SolvedSeason, solve_season
from solved_seasons import SURE, female, male, solved

DEMO = Path(__file__).parents[1] / "scenarios" / "demo"
MANY = 40_000
CLOWN = SURE + "values: {base: 30, wanted: [{morph: Clown, value: 250}]}\n"


@pytest.fixture(scope="module")
def demo() -> SolvedSeason:
    return solve_season(prepare(DEMO))


def fits(counts: np.ndarray, law: np.ndarray, seasons: int) -> None:
    """Assert that counts 0, 1, 2 ... may well be drawn from a law (chi-square test)."""
    seen = np.bincount(counts, minlength=law.size).astype(float)
    expected = law * seasons
    common = expected > 5
    seen = np.append(seen[common], seen[~common].sum())
    expected = np.append(expected[common], expected[~common].sum())
    told = expected > 0
    assert seen[~told].sum() == 0
    assert stats.chisquare(seen[told], expected[told]).pvalue > 1e-3


def test_means_are_the_plans_own_expectations(demo: SolvedSeason) -> None:
    found = simulate(demo, MANY, seed=3)
    plan = plan_of(demo)
    assert found.expected == pytest.approx(plan.by_calendar, abs=1e-6)
    assert abs(found.money.mean - found.expected) < 4 * found.error
    for luck, target in zip(found.targets, plan.targets, strict=True):
        spread = math.sqrt(max(target.chance * (1 - target.chance), 1e-9) / MANY)
        assert abs(luck.chance - target.chance) < 4 * spread + 1e-12, target.morph
        assert luck.sold.mean == pytest.approx(target.expected, abs=0.1), target.morph
    young = sum(pair.young for pair in plan.pairs)
    assert found.young.mean == pytest.approx(young, rel=0.01)


def test_eggs_and_young_of_a_clutch_follow_the_forecast(demo: SolvedSeason) -> None:
    forecast = demo.found.clutches[demo.pairs[0].pair]
    drawn = draw_clutch(forecast, MANY, np.random.default_rng(5))
    eggs = forecast.goes * forecast.eggs_pmf
    eggs[0] += 1 - forecast.goes
    fits(drawn.eggs, eggs, MANY)
    fits(drawn.hatched, forecast.young_pmf, MANY)


def test_visual_young_of_certain_parents_are_binomial(tmp_path: Path) -> None:
    animals = [female("F1", "Clown", expected_eggs=7), male("M1", "het Clown")]
    season = solved(tmp_path, animals, CLOWN)
    young = draw_seasons(season, MANY, 1).young[0]
    clowns = young.count(young.fits[1], MANY)
    fits(clowns, stats.binom.pmf(np.arange(8), 7, 0.5), MANY)


def test_an_uncertain_sire_is_one_animal_in_all_his_clutches(tmp_path: Path) -> None:
    # Two visual females and a 66 % het: none in 12 young with 1/3 + 2/3 (1/2)^12, not the square
    # of the chance of one clutch (carrier probabilities as in trade arithmetic, recomputed).
    animals = [
        female("F1", "Clown", expected_eggs=6),
        female("F2", "Clown", expected_eggs=6),
        male("M1", "66% het Clown"),
    ]
    found = simulate(solved(tmp_path, animals, CLOWN), MANY)
    exact = 1 - (1 / 3 + 2 / 3 * 0.5**12)
    assert abs(found.targets[0].chance - exact) < 4 * math.sqrt(exact * (1 - exact) / MANY)


def test_uncertain_kin_are_drawn_together(tmp_path: Path) -> None:
    # Brothers whose dam may or may not carry: one het makes the other likelier.
    animals = [
        female("D", "50% het Clown", status="outside", hatched="2015-06-01"),
        male("S", "het Clown", status="outside", hatched="2015-06-01"),
        female("F1", "Clown"),
        female("F2", "Clown"),
        male("M1", dam="D", sire="S", max_pairings=1),
        male("M2", dam="D", sire="S", max_pairings=1),
    ]
    season = solved(tmp_path, animals, CLOWN)
    assert {pair.sire for pair in season.pairs} == {"M1", "M2"}
    parents = draw_parents(season.prepared, [p.pair for p in season.pairs], ["clown"], 1, MANY)
    (block,) = joint_cases(season.prepared.inferred, ["M1", "M2"], "clown", 100)
    drawn = [
        [parents.states[name, "clown"][at] for at in parents.drawn[name, "clown"].tolist()]
        for name in block.ids
    ]
    seen = list(zip(*drawn, strict=True))
    observed = [seen.count(carried) for _, carried in block.cases]
    expected = [chance * MANY for chance, _ in block.cases]
    assert stats.chisquare(observed, expected).pvalue > 1e-3
    apart = [chance for chance, _ in block.cases]
    assert max(apart) > 0.26


def test_needs_holdbacks_and_costs_are_settled_on_the_young_that_came(tmp_path: Path) -> None:
    values = """values:
  wanted:
    - {morph: Clown, value: 100, need: 3, value_after: 40, keep: {count: 1, sex: female, extra: 50}}
"""
    animals = [female("F1", "Clown", expected_eggs=4), male("M1", "Clown")]
    season = solved(tmp_path, animals, SURE + values)
    draws = draw_seasons(season, 500, 1)
    money = money_of(season, draws, 500)
    young = draws.young[0]
    females = young.count(~young.male, 500)
    by_hand = 3 * 100 + 40 + 50 * np.minimum(females, 1) - 5 - 4 * 1 - 4 * 10
    assert money == pytest.approx(by_hand)
    assert {0, 4} <= set(females.tolist())


def test_the_best_entry_sells_and_extras_are_added(tmp_path: Path) -> None:
    values = """values:
  base: 30
  wanted:
    - {morph: Pastel, value: 60}
    - {morph: Pastel Clown, value: {female: 400, male: 300}}
  extra: {het: {Clown: 20}}
"""
    animals = [female("F1", "Pastel Clown", expected_eggs=8), male("M1", "het Clown")]
    season = solved(tmp_path, animals, SURE + values)
    young = draw_seasons(season, 400, 1).young[0]
    by_kind = {
        (look, male): value
        for look, male, value in zip(young.look, young.male.tolist(), young.value, strict=True)
    }
    assert by_kind == {
        ("Pastel Clown", False): 400,
        ("Pastel Clown", True): 300,
        ("Pastel", False): 80,
        ("Pastel", True): 80,
        ("Clown", False): 30,
        ("Clown", True): 30,
        ("Normal", False): 50,
        ("Normal", True): 50,
    }


def test_seasons_are_the_same_for_one_seed_and_a_pair_has_its_own_luck(tmp_path: Path) -> None:
    rows = [female("F1", "Clown"), male("M1", "het Clown")]
    one = solved(_folder(tmp_path, "one"), rows, CLOWN)
    two = solved(_folder(tmp_path, "two"), [*rows, female("F2", "Clown")], CLOWN)
    assert simulate(one, 300, 7) == simulate(one, 300, 7)
    assert simulate(one, 300, 7).money != simulate(one, 300, 8).money
    first, second = (draw_seasons(season, 300, 7) for season in (one, two))
    assert len(second.young) == 2
    assert np.array_equal(first.clutches[0].hatched, second.clutches[0].hatched)
    assert np.array_equal(
        first.young[0].value[first.young[0].kind], second.young[0].value[second.young[0].kind]
    )


def test_figures_of_the_summary_are_those_of_the_draws(demo: SolvedSeason) -> None:
    found = simulate(demo, 2000, 1)
    money = np.sort(money_of(demo, draw_seasons(demo, 2000, 1), 2000))
    assert (found.money.p10, found.money.p50, found.money.p90) == tuple(money[[199, 999, 1799]])
    assert found.worst == pytest.approx(money[:200].mean())
    assert sum(found.counts) == 2000
    assert len(found.edges) == len(found.counts) + 1


def test_boxes_and_tubs_in_use_against_counting_day_by_day(demo: SolvedSeason) -> None:
    seasons = 60
    draws = draw_seasons(demo, seasons, 2)
    eggs = [clutch.eggs for clutch in draws.clutches]
    hatched = [clutch.hatched for clutch in draws.clutches]
    found = room_luck(demo, eggs, hatched, 2)
    # A season's box count cannot pass what all clutches together fill, nor fall under one clutch.
    box = demo.prepared.records.settings.box
    for at in range(seasons):
        small = sum(0 < each[at] <= box.small_clutch for each in eggs)
        large = sum(each[at] > box.small_clutch for each in eggs)
        assert found.together.largest >= -(-small // box.clutches) + large
    assert found.boxes.largest <= found.together.largest
    assert found.tubs.largest <= max(sum(each[at] for each in hatched) for at in range(seasons))
    assert found.boxes.p10 <= found.boxes.p50 <= found.boxes.p90 <= found.boxes.largest


def test_room_week_by_week_has_the_exact_law_of_the_forecast(demo: SolvedSeason) -> None:
    from brumal.insight.why.outlook import look_ahead

    outlook = look_ahead(demo, plan_of(demo))
    weeks = {week.monday: week for week in simulate(demo, MANY, 4).room.weeks}
    compared = 0
    for exact in outlook.weeks:
        week = weeks.get(exact.monday)
        if week is None:
            assert exact.tubs.high == 0
            continue
        assert abs(week.tubs.low - exact.tubs.low) <= 1
        assert abs(week.tubs.high - exact.tubs.high) <= 1
        assert week.tubs.mean == pytest.approx(exact.tubs.mean, abs=0.1)
        assert week.eggs.mean == pytest.approx(exact.eggs.mean, abs=0.15)
        compared += 1
    assert compared > 20


def _folder(parent: Path, name: str) -> Path:
    folder = parent / name
    folder.mkdir()
    return folder
