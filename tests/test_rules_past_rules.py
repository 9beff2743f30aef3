"""Her past speaks: one borderline folder for each sign that a vet should look at."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from brumal.forecast.her_past import deformed_young
from brumal.records.animals import Clutch, Event, EventKind
from brumal.rules.table import judge_animal, rule_context
from brumal.rules.verdict import Rank
from records_by_hand import female, male, records, verdict_on


def clutch(year: int = 2025, **columns: object) -> Clutch:
    return Clutch(dam="F1", laid=date(year, 4, 20), **columns)  # type: ignore[arg-type]


BAD = {
    "all slugs": {"eggs": 6, "slugs": 6, "hatched": 0},
    "half dead in the egg": {"eggs": 7, "slugs": 1, "hatched": 3},
    "half gone, slugs not counted": {"eggs": 6, "hatched": 3},
    "none hatched": {"eggs": 5, "slugs": 0, "hatched": 0},
    "deformed young": {"eggs": 6, "slugs": 0, "hatched": 6, "note": "one kinked, put down"},
    "deformed, told as trouble": {"eggs": 6, "slugs": 0, "hatched": 6, "trouble": "2 deformed"},
    "egg binding in a note": {"eggs": 6, "slugs": 0, "hatched": 6, "note": "was egg-bound"},
    "prolapse in a note": {"eggs": 6, "slugs": 0, "hatched": 6, "note": "Prolapse after"},
}
SOUND = {
    "five of six slugs": {"eggs": 6, "slugs": 5, "hatched": 1},
    "fewer than half dead": {"eggs": 7, "slugs": 0, "hatched": 4},
    "not told what hatched": {"eggs": 6, "slugs": 1},
    "nothing wrong": {"eggs": 6, "slugs": 0, "hatched": 6, "note": "no kinks, no deformities"},
    "told to be well": {"eggs": 6, "slugs": 0, "hatched": 6, "note": "laid without straining"},
    "did not lay": {"eggs": 0, "slugs": 0, "hatched": 0, "note": "resorbed"},
}


@pytest.mark.parametrize("columns", BAD.values(), ids=list(BAD))
def test_a_vet_looks_first(columns: dict[str, object]) -> None:
    verdict = verdict_on(female(name="Ivy"), "past-clutches", clutches=[clutch(**columns)])
    assert verdict is not None
    assert (verdict.passed, verdict.caution, verdict.rank) == (True, True, Rank.HARM)
    assert verdict.text.startswith("Clutches of Ivy: 2025-04-20 ")
    assert "Have a vet look at her before she is paired again" in verdict.text


@pytest.mark.parametrize("columns", SOUND.values(), ids=list(SOUND))
def test_no_sign_no_question(columns: dict[str, object]) -> None:
    assert verdict_on(female(), "past-clutches", clutches=[clutch(**columns)]) is None


def test_a_clutch_that_came_through_since_answers_slugs_and_dead_eggs_only() -> None:
    well = clutch(2026, eggs=6, slugs=0, hatched=5)
    for name, stands in (("all slugs", False), ("none hatched", False), ("deformed young", True)):
        rows = [clutch(**BAD[name]), well]
        assert (verdict_on(female(), "past-clutches", clutches=rows) is not None) is stands
        turned = [clutch(2026, **BAD[name]), clutch(2025, eggs=6, slugs=0, hatched=5)]
        assert verdict_on(female(), "past-clutches", clutches=turned) is not None


@pytest.mark.parametrize(
    ("cleared", "caution"),
    [(date(2025, 4, 19), True), (date(2025, 4, 20), False), (date(2026, 12, 2), True)],
)
def test_a_vets_clearance_since_then_answers_it(cleared: date, caution: bool) -> None:
    her = female(vet_cleared=cleared)
    verdict = verdict_on(her, "past-clutches", clutches=[clutch(**BAD["all slugs"])])
    assert verdict is not None
    assert verdict.caution is caution


@pytest.mark.parametrize(
    ("note", "young"),
    [
        ("2 kinked", 2),
        ("one small deformed male", 1),
        ("kinked tail on a female", 1),
        ("3 badly malformed", 3),
        ("no deformities", 0),
        ("all well", 0),
    ],
)
def test_deformed_young_are_counted_from_the_note(note: str, young: int) -> None:
    assert deformed_young(clutch(eggs=6, note=note)) == young


@pytest.mark.parametrize(
    ("hatched", "cleared", "caution"),
    [
        (date(2011, 12, 2), None, None),
        (date(2011, 12, 1), None, True),
        (date(2011, 12, 1), date(2025, 11, 1), True),
        (date(2011, 12, 1), date(2026, 10, 1), False),
        (None, None, None),
    ],
)
def test_at_fifteen_years_a_vet_looks_each_year(
    hatched: date | None, cleared: date | None, caution: bool | None
) -> None:
    her = female(hatched=hatched, vet_cleared=cleared)
    verdict = verdict_on(her, "great-age")
    assert (None if verdict is None else verdict.caution) == caution
    assert verdict_on(male(hatched=hatched), "great-age") is None


def test_the_age_is_the_keepers_to_set() -> None:
    her = female(name="Ivy", hatched=date(2016, 6, 1))
    verdict = verdict_on(her, "great-age", rules={"great_age_years": 10})
    assert verdict is not None
    assert verdict.text == (
        "Ivy is 10.5 years old on 2026-12-01 (hatched 2016-06-01); from 10 years on a vet should "
        "look at her before she is paired. Enter the day she is cleared as vet_cleared, or as an "
        "event (cleared, about laying)."
    )


@pytest.mark.parametrize(
    ("about", "day", "caution"),
    [
        ("laying", date(2026, 9, 1), False),
        ("laying", date(2025, 4, 19), True),
        ("illness", date(2026, 9, 1), True),
    ],
)
@pytest.mark.parametrize("rule", ["past-clutches", "great-age"])
def test_a_clearance_about_laying_among_the_events_answers_as_vet_cleared_does(
    rule: str, about: str, day: date, caution: bool
) -> None:
    her = female(hatched=date(2008, 6, 1))
    season = replace(
        records([her], clutches=[clutch(**BAD["all slugs"])]),
        events=(Event(kind=EventKind.CLEARED, date=day, animal="F1", about=about),),
    )
    verdicts = judge_animal(her, rule_context(season))
    assert [each.caution for each in verdicts if each.rule == rule] == [caution]
