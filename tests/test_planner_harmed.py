"""Young that do not live or are harmed: worth nothing, whatever the keeper lifts or pays.

Expectations by Mendel's law, worked out by hand: Spider x Spider gives 1/4 without the gene, 1/2
with one copy (harmed) and 1/4 with two (they do not live): 1/3 of those that live have a price.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from brumal.insight.simulate.seasons import simulate
from brumal.planner.describe import plan_of
from brumal.planner.season import SolvedSeason
from solved_seasons import female, male, solved

SEASON = """season: {name: T, pair_from: 2026-12-01, pair_to: 2027-03-31}
assume: {goes: 1, fertile: 1, hatched: 1, eggs: 8}
costs: {pairing: 5, egg: 1, hatchling: 10}
limits: {max_F: 0.5}
values:
  base: 100
  wanted:
    - {morph: Pastel, value: 160}
    - {morph: Spider, value: 900}
  extra: {visual: {Spider: 400, Pastel: 20}}
"""
LIFTED = "rules: {accept_welfare: [Spider, Super Spider]}\n"


def season(folder: Path, dam: str, sire: str, more: str = LIFTED) -> SolvedSeason:
    return solved(folder, [female("F1", dam), male("M1", sire)], SEASON + more)


def test_without_the_keepers_word_the_pair_is_out(tmp_path: Path) -> None:
    assert not season(tmp_path, "Spider", "Spider", "").problem.candidates


def test_a_super_that_does_not_live_is_neither_counted_nor_paid(tmp_path: Path) -> None:
    """8 eggs: 6 live, 2 of them worth 100, each of the 6 costs 10 to raise: 200 - 60 - 5 - 8."""
    (pair,) = season(tmp_path, "Spider", "Spider").problem.candidates
    assert pair.young == pytest.approx(6)
    assert pair.value == pytest.approx(200 - 60 - 5 - 8)


def test_harmed_young_live_and_are_worth_nothing(tmp_path: Path) -> None:
    """Half the young are Spiders: 8 live, 4 of them worth 100; no wish or extra pays for them."""
    (pair,) = season(tmp_path, "Spider", "Normal").problem.candidates
    assert pair.young == pytest.approx(8)
    assert pair.value == pytest.approx(400 - 80 - 5 - 8)


def test_other_wishes_are_told_of_unharmed_young_alone(tmp_path: Path) -> None:
    """Pastel x Spider: a quarter Pastel alone at 160, a quarter normal at 100, half harmed."""
    (pair,) = season(tmp_path, "Pastel", "Spider").problem.candidates
    assert pair.value == pytest.approx(8 * (160 + 100) / 4 - 80 - 5 - 8)


def test_the_looks_of_a_plan_say_so(tmp_path: Path) -> None:
    found = season(tmp_path, "Spider", "Pastel Spider")
    plan = plan_of(found)
    (pair,) = plan.pairs
    assert sum(look.chance for look in pair.outcomes) == pytest.approx(1)
    assert all(look.value == 0 for look in pair.outcomes if "Spider" in look.morph)
    whole = sum(look.chance * look.value for look in pair.outcomes)
    assert pair.young * whole - 10 * pair.young - 13 == pytest.approx(pair.value)


def test_simulated_seasons_agree(tmp_path: Path) -> None:
    luck = simulate(season(tmp_path, "Spider", "Pastel Spider"), seasons=4000)
    assert luck.money.mean == pytest.approx(luck.expected, abs=4 * luck.error)
    assert luck.young.mean == pytest.approx(6, abs=0.2)


def test_a_pair_already_made_is_priced_the_same(tmp_path: Path) -> None:
    made = season(tmp_path, "Spider", "Spider", "locks: {already_paired: [[F1, M1]]}\n")
    (pair,) = made.problem.candidates
    assert pair.value == pytest.approx(200 - 60 - 5 - 8)


def test_where_nothing_is_lifted_nothing_changes(tmp_path: Path) -> None:
    """A collection with a Spider in it prices its other pairs as if there were none."""
    herd = [female("F1", "Pastel"), male("M1"), male("M2", "Spider")]
    with_one = solved(tmp_path, herd, SEASON)
    (pair,) = with_one.problem.candidates
    assert (pair.dam, pair.sire) == ("F1", "M1")
    assert pair.value == pytest.approx(8 * (160 + 100) / 2 - 80 - 5 - 8)
