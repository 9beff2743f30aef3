"""What the season would bring with an animal heavy enough, males as well as females."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from brumal.insight.why.answers import State, why_animal
from brumal.insight.why.changed_seasons import heavier_records
from brumal.insight.why.counterfactuals import Questions
from brumal.pipeline import prepare, prepare_records
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.answer import SolveOptions

ROOT = Path(__file__).parents[1]


@cache
def demo() -> SolvedSeason:
    """Return the demo with a chance asked for that no grams still to come have."""
    records = prepare(ROOT / "scenarios" / "demo").records
    settings = replace(records.settings, rules=replace(records.settings.rules, start_chance=0.99))
    prepared = prepare_records(replace(records, settings=settings))
    return solve_season(prepared, SolveOptions(gap=0))


@pytest.mark.parametrize(("animal", "grams"), [("M08", 15), ("F23", 45)])
def test_the_grams_that_bar_an_animal_are_what_the_season_brings_with_them(
    animal: str, grams: float
) -> None:
    season = demo()
    why = why_animal(Questions(season), animal, quick=False, flips=False)
    assert why.state is State.RULE
    assert why.heavier is not None
    assert why.heavier.grams == grams
    fresh = solve_season(
        prepare_records(heavier_records(season, animal, grams)), SolveOptions(gap=0)
    )
    assert why.heavier.season.value == pytest.approx(fresh.solution.objective, abs=1e-4)


def test_an_animal_that_something_else_bars_is_not_asked_about() -> None:
    for animal in ("F13", "F25", "F01"):
        assert why_animal(Questions(demo()), animal, quick=False, flips=False).heavier is None
