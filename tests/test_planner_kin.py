"""Uncertain kin in different pairs, from files to the plan, against every genotype there is."""

from __future__ import annotations

from pathlib import Path

import pytest

from brumal.insight.simulate.seasons import simulate
from brumal.planner.describe import plan_of
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import Verdict
from brumal.planner.solver.worth import true_value
from brumal.planner.wishes.surplus import all_terms
from kin_seasons import AFTER, CLOWN, kin_season, solved_kin, truth
from long_forms import thinned
from solved_seasons import SURE, female, male, solved

CENT = 1e-5
"""Money is rounded to six decimals by pair."""


def brothers(folder: Path, chance: float, need: int = 12) -> SolvedSeason:
    """Two possible-het sons of a 50 % het dam, each for a Clown female with six eggs."""
    old = {"status": "outside", "hatched": "2015-06-01"}
    rows = [
        female("D", "50% het Clown", **old),
        male("S", **old),
        female("F1", "Clown", expected_eggs=6),
        female("F2", "Clown", expected_eggs=6),
        male("M1", dam="D", sire="S", max_pairings=1),
        male("M2", dam="D", sire="S", max_pairings=1),
    ]
    wish = f"{{morph: Clown, value: 250, need: {need}, value_after: 30, chance: {chance}}}"
    return solved(folder, rows, SURE + f"values: {{base: 30, wanted: [{wish}]}}\n")


def test_a_chance_counts_brothers_together(tmp_path: Path) -> None:
    # Half of the time she is no het and neither are they; else each is with 1/2, by Mendel.
    chance = 0.5 * (1 - (1 - 0.5 * (1 - 0.5**6)) ** 2)
    assert chance == pytest.approx(0.3711, abs=1e-4)
    season = brothers(tmp_path, 0.37)
    plan = plan_of(season)
    assert plan.verdict is Verdict.PROVEN and not plan.notes
    assert plan.targets[0].chance == pytest.approx(chance, abs=1e-12)
    too_much = plan_of(brothers(tmp_path, 0.38))
    assert too_much.verdict is Verdict.IMPOSSIBLE


def test_sisters_are_told_apart_by_their_dam_alone(tmp_path: Path) -> None:
    old = {"status": "outside", "hatched": "2015-06-01"}
    rows = [female("D", "50% het Clown", **old), male("S", **old), male("M", "Clown")]
    rows += [female(f"F{n}", dam="D", sire="S", expected_eggs=2) for n in range(6)]
    wish = "values: {base: 30, wanted: [{morph: Clown, value: 250, chance: 0.05}]}\n"
    season = solved(tmp_path, rows, SURE + wish)
    assert {c.none[0].shape for c in season.problem.candidates} == {(2,)}
    plan = plan_of(season)
    each = 0.5 + 0.5 * 0.5**2
    assert len(plan.pairs) > 2
    chance = 0.5 * (1 - each ** len(plan.pairs))
    assert plan.targets[0].chance == pytest.approx(chance, abs=1e-12)


def agrees(folder: Path, seed: int) -> bool:
    """Hold a season against enumeration; say whether clutches of several sires were tied in it."""
    drawn = kin_season(seed)
    season = solved_kin(folder, drawn)
    true = truth(drawn, season)
    best = max((true.value(plan) for plan in true.plans() if true.is_allowed(plan)), default=None)
    following = season.found.pricing.following
    if following.apart:
        # Some tie needs more states than are followed: the notes are held to the truth below.
        return False
    assert (season.solution.verdict is Verdict.IMPOSSIBLE) == (best is None)
    if best is not None:
        made = [pair.pair for pair in season.pairs]
        assert true.is_allowed(made)
        assert season.solution.objective == pytest.approx(true.value(made), abs=CENT)
        assert season.solution.objective == pytest.approx(best, abs=CENT)
        targets = {target.morph: target for target in plan_of(season).targets}
        for morph, both in (("Piebald", False), ("Clown Piebald", True)):
            assert targets[morph].chance == pytest.approx(true.chance(made, both), abs=1e-9)
        wish, laws = season.problem.wish_terms, all_terms(season.problem)
        assert (wish[0].cost, wish[0].threshold) == (CLOWN - AFTER, drawn.need)
        for plan in list(true.plans())[::5]:
            places = {c.pair: n for n, c in enumerate(season.problem.candidates)}
            chosen = [places[pair] for pair in plan]
            value = true_value(season.problem, laws, chosen)
            assert value == pytest.approx(true.value(plan), abs=CENT)
    return any(ties.families for ties in following.ties.values())


@pytest.mark.parametrize("seed", thinned(range(32), 2))
def test_plans_of_kin_are_best_by_enumeration(tmp_path: Path, seed: int) -> None:
    agrees(tmp_path, seed)


@pytest.mark.slow
def test_the_seasons_of_the_check_have_ties(tmp_path: Path) -> None:
    assert sum(agrees(tmp_path, seed) for seed in range(100, 106)) >= 4


@pytest.mark.slow
def test_plans_of_kin_are_best_by_enumeration_in_many_seasons(tmp_path: Path) -> None:
    assert sum(agrees(tmp_path, seed) for seed in range(200, 700)) > 350


@pytest.mark.parametrize("seed", [0, 5, 8])
def test_simulated_seasons_agree_with_the_plan(tmp_path: Path, seed: int) -> None:
    season = solved_kin(tmp_path, kin_season(seed))
    assert any(ties.families for ties in season.found.pricing.following.ties.values())
    found = simulate(season, 20_000)
    assert abs(found.money.mean - season.solution.objective) < 4 * found.error


def test_a_chance_that_kin_break_is_not_called_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    season = brothers(tmp_path, 0.42)
    assert season.solution.verdict is Verdict.IMPOSSIBLE
    monkeypatch.setattr(
        "brumal.planner.pairs.following.most_states", lambda pairs: 1 if pairs > 2 else 64
    )
    season = brothers(tmp_path, 0.42)
    assert season.found.pricing.following.apart == (("M1", "M2"),)
    plan = plan_of(season)
    assert plan.targets[0].chance == pytest.approx(0.37106, abs=1e-5)
    (note,) = [note for note in plan.notes if note.startswith("Not kept")]
    assert "42%" in note and "37.11%" in note


def test_a_value_that_kin_change_is_told_with_both_figures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    exact = brothers(tmp_path, 0.1, need=2)
    monkeypatch.setattr(
        "brumal.planner.pairs.following.most_states", lambda pairs: 1 if pairs > 2 else 64
    )
    season = brothers(tmp_path, 0.1, need=2)
    assert {p.pair for p in season.pairs} == {p.pair for p in exact.pairs}
    assert season.solution.objective > exact.solution.objective + 1
    (note,) = plan_of(season).notes
    assert f"{exact.solution.objective:,.2f}, not {season.solution.objective:,.2f}" in note


def test_kin_too_many_even_for_the_plan_are_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("brumal.planner.pairs.following.most_states", lambda pairs: 1)
    plan = plan_of(brothers(tmp_path, 0.42))
    assert any(note.startswith("M1, M2 are kin of uncertain genotype") for note in plan.notes)


def test_the_same_season_leaves_the_same_kin_apart(tmp_path: Path) -> None:
    season = solved_kin(tmp_path, kin_season(9))
    again = solved_kin(tmp_path, kin_season(9))
    one, two = season.found.pricing.following, again.found.pricing.following
    assert one.apart == two.apart
    assert list(one.weights) == list(two.weights)
    names = [dict(c.count_families) for c in season.problem.candidates]
    assert names == [dict(c.count_families) for c in again.problem.candidates]


def test_a_part_of_the_season_counts_the_same(tmp_path: Path) -> None:
    season = solved_kin(tmp_path, kin_season(5))
    chosen = list(season.solution.chosen or ())
    part = season.problem.only(chosen)
    value = true_value(part, all_terms(part), range(len(chosen)))
    assert value == pytest.approx(season.solution.objective, abs=1e-9)
