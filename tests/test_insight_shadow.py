"""Shadow prices against fresh plans of records changed by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from benchmarks.big_seasons import big_season
from brumal.insight.why.changed_seasons import heavier
from brumal.insight.why.counterfactuals import Questions
from brumal.insight.why.shadow_prices import ShadowPrice, Short, Thing, shadow_prices
from brumal.insight.why.whole import subject_of
from brumal.pipeline import prepare, prepare_records
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.season import SolvedSeason, problem_of, solve_season
from brumal.records.folder import SeasonRecords
from brumal.report.why.worth_words import nothing_line
from solved_seasons import SURE, female, male, solved

DEMO = Path(__file__).parents[1] / "scenarios" / "demo"


def by_hand(records: SeasonRecords, price: ShadowPrice, season: SolvedSeason) -> SeasonRecords:
    """Write the change into the records as a keeper would."""
    settings = records.settings
    limits, dates = settings.limits, settings.season
    if price.thing is Thing.WEIGHT:
        return fed(records, price.animal, price.step)
    if price.thing is Thing.PAIRING:
        more = season.problem.male_limits[price.animal] + 1
        animals = tuple(
            replace(a, max_pairings=more) if a.id == price.animal else a for a in records.animals
        )
        return replace(records, animals=animals)
    if price.thing is Thing.WEEK:
        later = replace(dates, pair_to=dates.pair_to + timedelta(days=7))
        return replace(records, settings=replace(settings, season=later))
    changed = {
        Thing.BOX: lambda: replace(limits, boxes=limits.boxes + 1),
        Thing.TUB: lambda: replace(limits, tubs=limits.tubs + int(price.step)),
        Thing.LOOSER: lambda: replace(limits, max_F=price.step),
        Thing.TIGHTER: lambda: replace(limits, max_F=price.step),
        Thing.SPENDING: lambda: replace(limits, spend=limits.spend + 100),
        Thing.RESTING: lambda: replace(limits, resting=limits.resting - 1),
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
        fresh = solve_season(prepare_records(records))
        assert price.gain == pytest.approx(fresh.solution.objective - base, abs=0.01), price
    return prices


def test_every_price_of_an_invented_season_is_the_difference_of_two_optima(tmp_path: Path) -> None:
    folder = big_season(tmp_path, 16, 4, loci=5, wishes=7, seed=6)
    prices = check_all(solve_season(prepare(folder)))
    assert {Thing.BOX, Thing.TUB, Thing.PAIRING, Thing.WEIGHT} <= {p.thing for p in prices}
    assert [p.gain for p in prices] == sorted((p.gain for p in prices), reverse=True)
    assert any(p.short is Short.FAR for p in prices)
    assert any(p.gain > 0 for p in prices)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(5, 10))
def test_every_price_of_many_seasons_is_the_difference_of_two_optima(
    tmp_path: Path, seed: int
) -> None:
    check_all(solve_season(prepare(big_season(tmp_path, 20, 5, loci=6, wishes=9, seed=seed))))


@pytest.mark.slow
def test_every_price_of_the_demo_is_the_difference_of_two_optima() -> None:
    prices = check_all(solve_season(prepare(DEMO)))
    assert {Thing.LOOSER, Thing.TIGHTER, Thing.WEEK} <= {p.thing for p in prices}


def test_limits_on_money_and_rest_have_prices_too(tmp_path: Path) -> None:
    rules = "limits: {spend: 150, resting: 1, pairings_per_male: 2}\n"
    values = "values: {base: 20, wanted: [{morph: Clown, value: 90}]}\n"
    animals = [female(f"F{n}", "Clown", expected_eggs=4 + n) for n in range(4)]
    season = solved(tmp_path, [*animals, male("M1", "Clown")], SURE + rules + values)
    things = {price.thing: price for price in check_all(season)}
    assert {Thing.SPENDING, Thing.RESTING, Thing.WEEK} <= things.keys()
    assert things[Thing.SPENDING].gain > 0


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


def test_a_male_whose_visits_fill_the_window_gains_nothing_by_one_more(tmp_path: Path) -> None:
    window = SURE.replace("pair_to: 2027-03-31", "pair_to: 2026-12-05") + "visits: {days: 5}\n"
    season = solved(tmp_path, [female("F1"), female("F2"), male("M1", max_pairings=4)], window)
    (price,) = [p for p in shadow_prices(Questions(season)) if p.thing is Thing.PAIRING]
    assert price.short is Short.VISITS
    assert price.otherwise is None


def test_no_female_that_loses_weight_is_priced_heavier(tmp_path: Path) -> None:
    rows = [female("F1", "Clown"), female("F2", "Clown", weight_g=""), male("M1", "Clown")]
    weights = "animal,date,grams\nF2,2026-09-01,1720\nF2,2026-10-01,1690\nF2,2026-11-15,1640\n"
    season = solved(tmp_path, rows, SURE + "values: {base: 90}\n", weights=weights)
    prices = shadow_prices(Questions(season))
    heavier_ones = {each.animal: each for each in prices if each.thing is Thing.WEIGHT}
    assert heavier_ones["F2"].short is Short.LOSING
    assert heavier_ones["F1"].short is not Short.LOSING
    line = nothing_line([heavier_ones["F2"]], subject_of(Questions(season)))
    assert line == "Not asked, because they are losing weight: F2."
