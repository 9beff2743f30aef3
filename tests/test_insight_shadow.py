"""Shadow prices against fresh plans of records changed by hand."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from benchmarks.big_seasons import big_season
from brumal.insight.why.changed_seasons import heavier
from brumal.insight.why.counterfactuals import Asked, Questions
from brumal.insight.why.shadow_prices import (
    LOOSER,
    MALE_WEIGHT,
    TIGHTER,
    WEIGHT,
    ShadowPrice,
    Short,
    shadow_prices,
)
from brumal.insight.why.whole import subject_of
from brumal.pipeline import prepare, prepare_records
from brumal.planner.limits.every import more_of_each
from brumal.planner.limits.males import PAIRING
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.season import SolvedSeason, problem_of, solve_season
from brumal.planner.solver.answer import EXACT
from brumal.records.folder import SeasonRecords
from brumal.report.why.worth_words import nothing_line
from solved_seasons import SURE, best_plan, female, male, solved
from what_if_seasons import put

DEMO = Path(__file__).parents[1] / "scenarios" / "demo"
BOX, TUB, MONEY = "incubator box", "hatchling tub", "money before sales"
RESTING, WINDOW = "fewer females resting", "longer pairing window"


def by_hand(records: SeasonRecords, price: ShadowPrice, season: SolvedSeason) -> SeasonRecords:
    """Write the change into the records as a keeper would."""
    settings = records.settings
    limits, dates = settings.limits, settings.season
    if price.thing in (WEIGHT, MALE_WEIGHT):
        return fed(records, price.animal, price.step)
    if price.thing == PAIRING:
        more = season.problem.male_limits[price.animal] + 1
        animals = tuple(
            replace(a, max_pairings=more) if a.id == price.animal else a for a in records.animals
        )
        return replace(records, animals=animals)
    if price.thing == WINDOW:
        later = replace(dates, pair_to=dates.pair_to + timedelta(days=7))
        return replace(records, settings=replace(settings, season=later))
    changed = {
        BOX: lambda: replace(limits, boxes=limits.boxes + 1),
        TUB: lambda: replace(limits, tubs=limits.tubs + int(price.step)),
        LOOSER: lambda: replace(limits, max_F=price.step),
        TIGHTER: lambda: replace(limits, max_F=price.step),
        MONEY: lambda: replace(limits, spend=limits.spend + 100),
        RESTING: lambda: replace(limits, resting=limits.resting - 1),
    }[price.thing]()
    return replace(records, settings=replace(settings, limits=changed))


def fed(records: SeasonRecords, dam: str, grams: float) -> SeasonRecords:
    """Write so many grams onto every weighing since a female last laid."""
    days = [c.laid for c in records.clutches if c.dam == dam and c.laid and c.eggs != 0]
    row = next(a for a in records.animals if a.id == dam)
    days += [row.last_laid] if row.last_laid else []
    weighings = []
    for each in records.weighings:
        if each.animal == dam and (not days or each.date > max(days)):
            each = replace(each, grams=each.grams + grams)
        weighings.append(each)
    heavier_row = row if row.weight_g is None else replace(row, weight_g=row.weight_g + grams)
    animals = tuple(heavier_row if a.id == dam else a for a in records.animals)
    return replace(records, animals=animals, weighings=tuple(weighings))


def check_all(season: SolvedSeason) -> tuple[ShadowPrice, ...]:
    """Hold every price to a fresh plan, those told without a solve among them."""
    prices = shadow_prices(Questions(season))
    base = season.solution.objective
    for price in prices:
        if price.short is Short.NO_PAIR:
            continue
        records = by_hand(season.prepared.records, price, season)
        fresh = solve_season(prepare_records(records), EXACT)
        assert price.gain == pytest.approx(fresh.solution.objective - base, abs=0.01), price
    return prices


@pytest.mark.slow
def test_every_price_of_an_invented_season_is_the_difference_of_two_optima(tmp_path: Path) -> None:
    folder = big_season(tmp_path, 16, 4, loci=5, wishes=7, seed=6)
    prices = check_all(solve_season(prepare(folder), EXACT))
    assert {BOX, TUB, PAIRING, WEIGHT} <= {p.thing for p in prices}
    assert [p.gain for p in prices] == sorted((p.gain for p in prices), reverse=True)
    assert any(p.short is Short.FAR for p in prices)
    assert any(p.gain > 0 for p in prices)
    label = "Thaw (F1)"
    words = {p.words.format(owner=label) for p in prices}
    assert {
        "1 incubator box more",
        f"one more female for {label}",
        f"{label} 50 g heavier",
    } <= words


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5, 10))
def test_every_price_of_many_seasons_is_the_difference_of_two_optima(
    tmp_path: Path, seed: int
) -> None:
    check_all(
        solve_season(prepare(big_season(tmp_path, 20, 5, loci=6, wishes=9, seed=seed)), EXACT)
    )


@pytest.mark.slow
def test_every_price_of_the_demo_is_the_difference_of_two_optima() -> None:
    prices = check_all(solve_season(prepare(DEMO), EXACT))
    assert {LOOSER, TIGHTER, WINDOW} <= {p.thing for p in prices}


def test_a_box_more_is_worth_what_a_plan_with_it_brings(tmp_path: Path) -> None:
    """The price is the difference of two plans made from files."""
    season = solve_season(prepare(DEMO), EXACT)
    (box,) = [more for more in more_of_each(season.problem) if more.thing == BOX]
    asked = Asked(key="box", changed=box.problem, what=box.words)
    found = Questions(season).ask(asked)
    shutil.copytree(DEMO, tmp_path / "demo")
    put(tmp_path / "demo" / "season.yaml", "boxes: 9 ", "boxes: 10 ")
    other = best_plan(prepare(tmp_path / "demo"))
    assert other.room.boxes_limit == 10
    assert other.objective is not None
    assert found.change == pytest.approx(other.objective - season.solution.objective, abs=0.02)


def test_limits_on_money_and_rest_have_prices_too(tmp_path: Path) -> None:
    rules = "limits: {spend: 150, resting: 1, pairings_per_male: 2}\n"
    values = "values: {base: 20, wanted: [{morph: Clown, value: 90}]}\n"
    animals = [female(f"F{n}", "Clown", expected_eggs=4 + n) for n in range(4)]
    season = solved(tmp_path, [*animals, male("M1", "Clown")], SURE + rules + values)
    things = {price.thing: price for price in check_all(season)}
    assert {MONEY, RESTING, WINDOW} <= things.keys()
    assert things[MONEY].gain > 0


def test_a_heavier_female_makes_the_problem_of_heavier_records() -> None:
    season = solve_season(prepare(DEMO))
    for dam in [*sorted(season.mates)[:3], "F06", "F23", "F22", "F10"]:
        changed = heavier(season, dam, 50)
        prepared = prepare_records(fed(season.prepared.records, dam, 50))
        fresh = problem_of(prepared, find_candidates(prepared))
        assert [c.pair for c in changed.candidates] == [c.pair for c in fresh.candidates], dam
        for mine, theirs in zip(changed.candidates, fresh.candidates, strict=True):
            assert mine.worth == pytest.approx(theirs.worth, abs=1e-6)
            assert (mine.young, mine.box_eggs) == (theirs.young, theirs.box_eggs)


def test_a_male_too_light_is_priced_by_the_grams_he_lacks(tmp_path: Path) -> None:
    values = "values: {base: 20, wanted: [{morph: Clown, value: 90}]}\n"
    light = male("M2", "Clown", weight_g=470)
    young = male("M3", "Clown", weight_g=430)
    animals = [female(f"F{n}", "Clown", expected_eggs=5) for n in range(3)]
    season = solved(tmp_path, [*animals, male("M1", max_pairings=3), light, young], SURE + values)
    males = {p.animal: p for p in check_all(season) if p.thing == MALE_WEIGHT}
    assert males["M2"].gain > 0
    assert males["M3"].short is Short.MALE_BARRED
    assert males["M1"].short is Short.HEAVY


def test_a_male_whose_visits_fill_the_window_gains_nothing_by_one_more(tmp_path: Path) -> None:
    window = SURE.replace("pair_to: 2027-03-31", "pair_to: 2026-12-05") + "visits: {days: 5}\n"
    season = solved(tmp_path, [female("F1"), female("F2"), male("M1", max_pairings=4)], window)
    (price,) = [p for p in shadow_prices(Questions(season)) if p.thing == PAIRING]
    assert price.short is Short.VISITS
    assert price.otherwise is None


def test_no_female_that_loses_weight_is_priced_heavier(tmp_path: Path) -> None:
    rows = [female("F1", "Clown"), female("F2", "Clown", weight_g=""), male("M1", "Clown")]
    weights = "animal,date,grams\nF2,2026-09-01,1720\nF2,2026-10-01,1690\nF2,2026-11-15,1640\n"
    season = solved(tmp_path, rows, SURE + "values: {base: 90}\n", weights=weights)
    prices = shadow_prices(Questions(season))
    heavier_ones = {each.animal: each for each in prices if each.thing == WEIGHT}
    assert heavier_ones["F2"].short is Short.LOSING
    assert heavier_ones["F1"].short is not Short.LOSING
    line = nothing_line([heavier_ones["F2"]], subject_of(Questions(season)))
    assert line == "Not asked, because they are losing weight: F2."
