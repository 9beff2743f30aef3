"""Pairs start on their animals' days: what a chance takes off, and which visits are set down."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.insight.simulate.diary import TaskKind
from brumal.insight.simulate.seasons import simulate
from brumal.insight.why.outlook import look_ahead
from brumal.library import read
from brumal.pipeline import Prepared, prepare
from brumal.planner.describe import plan_of
from brumal.planner.season import solve_season
from brumal.report.plan.calendar_file import plan_calendar
from brumal.report.plan.cards import plan_cards
from season_folders import season_folder

ANIMALS = """id,name,sex,hatched,morph,weight_g,weighed,condition,status
F1,Ember,female,2022-06-20,Clown,,,3,breeder
F2,Dew,female,2022-06-20,Clown,1800,2026-11-10,3,breeder
M1,Dusk,male,2020-08-12,Clown,950,2026-11-10,3,breeder
"""
WEIGHTS = "animal,date,grams\n" + "".join(
    f"F1,{day},{grams}\n"
    for day, grams in (
        ("2026-08-12", 1200),
        ("2026-09-11", 1290),
        ("2026-10-11", 1380),
        ("2026-11-10", 1470),
    )
)
SEASON = """season: {name: T, pair_from: 2026-11-20, pair_to: 2027-03-31, as_of: 2026-11-15}
assume: {goes: 0.8, eggs: 5, fertile: 0.9, hatched: 0.95}
values: {base: 30, wanted: [{morph: Clown, value: 100}]}
costs: {pairing: 5, egg: 1, hatchling: 10}
"""


@pytest.fixture
def prepared(tmp_path: Path) -> Prepared:
    return prepare(season_folder(tmp_path, animals=ANIMALS, weights=WEIGHTS, season=SEASON))


def test_a_provisional_pair_is_worth_its_chance(prepared: Prepared) -> None:
    start = prepared.starts["F1"]
    assert start.provisional
    assert 0.8 <= start.chance < 1
    season = solve_season(prepared)
    plan = plan_of(season)
    values = {pair.dam: pair for pair in plan.pairs}
    for dam, chance in (("F1", start.chance), ("F2", 1.0)):
        eggs = 0.8 * chance * 5
        young = eggs * 0.9 * 0.95
        assert values[dam].young == pytest.approx(young, abs=1e-8)
        assert values[dam].value == pytest.approx(young * (100 - 10) - 5 - eggs, abs=1e-5)
    assert values["F1"].start == start.day
    assert values["F2"].start == date(2026, 11, 20)
    assert (values["F1"].provisional, values["F2"].provisional) == (True, False)
    luck = simulate(season)
    assert plan.objective is not None
    assert luck.money.mean == pytest.approx(plan.objective, abs=4 * luck.error)


def test_no_visit_is_set_down_before_the_weight_is_recorded(prepared: Prepared) -> None:
    season = solve_season(prepared)
    plan = plan_of(season)
    outlook = look_ahead(season, plan)
    visits = {each.dam: each.visits for each in outlook.clutches}
    assert not visits["F1"]
    assert visits["F2"]
    (task,) = [each for each in outlook.tasks if each.kind is TaskKind.WEIGH_FIRST]
    day = prepared.starts["F1"].day
    assert (task.animals, task.start, task.grams) == (("F1",), day, 1500.0)
    assert not outlook.short
    told = plan_calendar(plan, outlook).decode("utf-8").replace("\r\n ", "")
    assert "SUMMARY:Weigh Ember (F1): at least 1\\,500 g before any visit" in told
    assert "visits Ember (F1)" not in told
    cards = plan_cards(plan, outlook)
    assert "none before the weight below is recorded" in cards
    assert "at least 1,500 g" in cards


def test_the_weight_recorded_on_its_day_sets_visits_down(tmp_path: Path) -> None:
    before = prepare(season_folder(tmp_path, animals=ANIMALS, weights=WEIGHTS, season=SEASON))
    day = before.starts["F1"].day
    assert day is not None
    season_folder(
        tmp_path,
        animals=ANIMALS,
        weights=f"{WEIGHTS}F1,{day},1500\n",
        season=SEASON.replace("as_of: 2026-11-15", f"as_of: {day}"),
    )
    season = solve_season(read(tmp_path))
    plan = plan_of(season)
    outlook = look_ahead(season, plan)
    visits = {each.dam: each.visits for each in outlook.clutches}
    assert not any(pair.provisional for pair in plan.pairs)
    assert min(visit.start for hers in visits.values() for visit in hers) >= day
    assert visits["F1"]
