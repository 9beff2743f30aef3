"""How steady a plan is, and what would flip a choice: against fresh plans of changed seasons."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from brumal.insight.why.counterfactuals import Questions
from brumal.insight.why.flips import price_flips, shifted
from brumal.insight.why.steadiness import redrawn, steadiness
from brumal.pipeline import prepare, prepare_records
from brumal.planner.risk.parent_draws import stream
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.solver.answer import EXACT
from brumal.records.settings import Ranges
from solved_seasons import best_plan

SCENARIOS = Path(__file__).parents[1] / "scenarios"


def season(name: str, ranges: Ranges | None = None) -> SolvedSeason:
    prepared = prepare(SCENARIOS / name)
    if ranges is not None:
        settings = replace(prepared.records.settings, ranges=ranges)
        prepared = prepare_records(replace(prepared.records, settings=settings))
    return solve_season(prepared, EXACT)


def test_without_any_spread_every_plan_is_the_same() -> None:
    small = season("small", Ranges(price=0, eggs=0, hatched=0))
    steady = steadiness(Questions(small), plans=4)
    assert (steady.plans, steady.same) == (4, 4)
    assert set(steady.pairs.values()) == {1.0}
    assert set(steady.resting.values()) == {1.0}
    assert steady.others == ()


def test_shares_count_plans_and_a_wider_range_is_no_steadier() -> None:
    narrow = steadiness(Questions(season("small", Ranges(price=0.01, eggs=0, hatched=0))), 40)
    wide = steadiness(Questions(season("small", Ranges(price=0.6, eggs=0.5, hatched=0.4))), 40)
    assert wide.same <= narrow.same
    for share in wide.pairs.values():
        assert 0 <= share <= 1
        assert share * wide.plans == pytest.approx(round(share * wide.plans))
    assert steadiness(Questions(season("small")), 10) == steadiness(Questions(season("small")), 10)


def test_eggs_that_were_laid_are_not_drawn_anew(tmp_path: Path) -> None:
    """F09 laid 7 eggs, 2 of them slugs; once 4 have hatched, they stand and take no box."""
    folder = shutil.copytree(SCENARIOS / "demo-march", tmp_path / "season")
    others: set[float] = set()
    for young in (5, 4):
        march = solve_season(prepare(folder))
        for number in range(3):
            drawn = redrawn(
                march, Ranges(eggs=0.5, hatched=0.3), stream(1, "test", f"{young} {number}")
            )
            laid = next(each for each in drawn.candidates if each.dam == "F09")
            assert laid.eggs == young
            assert (laid.young == 4, laid.box_eggs == 0) == (young == 4, young == 4)
            others |= {each.eggs for each in drawn.candidates if each.pair == ("F05", "M05")}
        with (folder / "events.csv").open("a", encoding="utf-8") as file:
            file.write("2027-04-30,F09,hatched,,4,,\n")
        text = (folder / "season.yaml").read_text(encoding="utf-8")
        text = text.replace("as_of: 2027-03-08", "as_of: 2027-05-02")
        (folder / "season.yaml").write_text(text, encoding="utf-8")
    assert len(others) > 1


def test_a_price_past_its_flip_changes_the_plan_and_one_short_of_it_does_not() -> None:
    """By hand the rival loses 7.50 (docs/small-season.md); each flip is checked by a plan."""
    small = season("small")
    rival = [("F1", "M1"), ("F3", "M2"), ("F5", "M2")]
    flips = price_flips(small, rival)
    assert {flip.morph for flip in flips} == {"Clown", "Pastel Clown", "Super Mojave"}
    for flip in flips:
        for factor, flipped in ((0.98, False), (1.02, True)):
            values = shifted(small, flip.entry, flip.change * factor)
            records = small.prepared.records
            changed = replace(records, settings=replace(records.settings, values=values))
            plan = best_plan(prepare_records(changed))
            made = [(pair.dam, pair.sire) for pair in plan.pairs]
            assert (made == rival) is flipped, (flip, factor)
