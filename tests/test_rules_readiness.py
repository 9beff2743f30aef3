"""Who is ready: states and the order of nearness."""

from __future__ import annotations

from datetime import date

from brumal.forecast.clutch import forecast_clutches
from brumal.records.animals import Animal, Clutch, Sex, Status
from brumal.records.folder import SeasonRecords
from brumal.rules.readiness import Readiness, State, readiness
from brumal.rules.table import rule_context
from records_by_hand import female, male, records, weighed

LAST = date(2026, 11, 14)
GROWN = {"hatched": date(2022, 7, 1), "condition": 3.0}


def judged(season: SeasonRecords) -> tuple[Readiness, ...]:
    return readiness(season, rule_context(season), forecast_clutches(season))


def herd() -> SeasonRecords:
    animals = [
        male("M1", weight_g=900.0, weighed=LAST, **GROWN),
        female("fit", weight_g=1800.0, weighed=LAST, **GROWN),
        female("look", weight_g=1800.0, weighed=LAST, hatched=date(2022, 7, 1)),
        female("near", **GROWN),
        female("far", **GROWN),
        female("light", weight_g=1400.0, weighed=LAST, **GROWN),
        female("lighter", weight_g=1100.0, weighed=LAST, **GROWN),
        female("held", status=Status.HOLDBACK, weight_g=1800.0, weighed=LAST, **GROWN),
        Animal(id="gone", status=Status.OUTSIDE, sex=Sex.FEMALE),
    ]
    scales = [
        *weighed("near", 1340, 1370, 1400, 1430, last=LAST),
        *weighed("far", 1210, 1240, 1270, 1300, last=LAST),
    ]
    return records(animals, scales)


def test_the_nearest_comes_first_and_animals_outside_are_left_out() -> None:
    found = judged(herd())
    assert [(one.animal.id, one.state) for one in found] == [
        ("near", State.NOT_READY),
        ("far", State.NOT_READY),
        ("light", State.NOT_READY),
        ("lighter", State.NOT_READY),
        ("look", State.LOOK_FIRST),
        ("M1", State.READY),
        ("fit", State.READY),
        ("held", State.NOT_PLANNED),
    ]


def test_the_day_of_readiness_is_the_last_of_all_rules() -> None:
    her = female("F1", hatched=date(2024, 9, 1), condition=3.0)
    (one,) = judged(records([her], weighed("F1", 1340, 1370, 1400, 1430, last=LAST)))
    # 70 g at a gram a day: likely by 23 January; 30 months old only on 1 March.
    assert one.ready_on == date(2027, 3, 1)
    assert len(one.failed) == 2


def test_a_rule_without_a_day_leaves_the_day_open() -> None:
    trouble = Clutch(dam="F1", laid=date(2025, 5, 1), eggs=5, trouble="straining")
    her = female("F1", weight_g=1800.0, weighed=LAST, arrived=LAST, **GROWN)
    (one,) = judged(records([her], clutches=[trouble]))
    assert {verdict.rule for verdict in one.failed} == {"quarantine", "laying-trouble"}
    assert one.ready_on is None


def test_figures_by_sex_and_locks() -> None:
    season = records(herd().animals, sections={"locks": {"sit_out": ["fit"]}})
    found = {one.animal.id: one for one in judged(season)}
    assert found["fit"].rests
    assert found["fit"].clutch is not None
    assert found["fit"].pairings is None
    assert found["M1"].pairings is not None
    assert found["M1"].clutch is None
    assert found["lighter"].missing_share == 1 - 1100 / 1500
    assert found["near"].missing_share == 1.0
