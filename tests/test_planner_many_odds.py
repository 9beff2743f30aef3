"""Odds and figures of all pairs at once: those of each pair by itself."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest

from brumal.forecast.layouts import layouts_of
from brumal.forecast.odds import odds_of
from brumal.forecast.sheets import expected_value, hatchling_shares
from brumal.pipeline import prepare
from brumal.planner.pairs.columns import FIGURES, Pairs, columns_of
from brumal.planner.pairs.first_look import first_look
from brumal.planner.pairs.many_odds import odds_of_many
from brumal.planner.pairs.pricing import Pricing, pricing_of
from brumal.planner.season import SolvedSeason, solve_season
from kin_seasons import kin_season, solved_kin

SCENARIOS = Path(__file__).parent.parent / "scenarios"


@pytest.fixture(scope="module", params=["demo", "small", "kin"])
def season(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> SolvedSeason:
    """A shipped season, or one whose uncertain parents are kin of each other."""
    if request.param == "kin":
        return solved_kin(tmp_path_factory.mktemp("kin"), kin_season(3))
    return solve_season(prepare(SCENARIOS / request.param))


@pytest.fixture(scope="module")
def pricing(season: SolvedSeason) -> Pricing:
    return pricing_of(season.prepared)


def test_odds_of_all_pairs_are_those_of_each(season: SolvedSeason, pricing: Pricing) -> None:
    pairs = list(season.problem.columns.pairs)
    tables = [pricing.tables.of(*pair) for pair in pairs]
    many, each = odds_of_many(pricing.tables, pairs), odds_of(tables)
    assert many.odds.common == pytest.approx(each.common, abs=1e-12)
    for number, own in enumerate(tables):
        place = np.array([number])
        alike = many.alike[many.place[number]]
        assert [t.code for t in own] == [t.code for t in alike]
        for table in own:
            size = table.outcomes.sex.size
            one, other = (
                odds.at(np.array([odds.groups[table.group]]), place, size)
                for odds in (many.odds, each)
            )
            assert one == pytest.approx(other, abs=1e-12)
            assert one.sum() == pytest.approx(1.0)


def test_a_first_look_sees_what_each_pair_brings(season: SolvedSeason, pricing: Pricing) -> None:
    pairs = list(season.problem.columns.pairs)
    look = first_look(pricing.tables, pricing.sheets, pairs)
    tables = [pricing.tables.of(*pair) for pair in pairs]
    layouts = layouts_of(pricing.sheets, tables)
    for number, (own, layout) in enumerate(zip(tables, layouts, strict=True)):
        shares = hatchling_shares(pricing.sheets, own)
        taken = (shares.taken * shares.weights).sum(axis=(1, 2))
        value = expected_value(pricing.sheets, own)
        assert look.expected.values[number] == pytest.approx(value, abs=1e-9)
        assert look.expected.taken[number] == pytest.approx(taken, abs=1e-12)
        assert look.sights[look.sight[number]] == layout.sight


def test_columns_say_the_same_as_the_records(season: SolvedSeason) -> None:
    problem = season.problem
    assert isinstance(problem.candidates, Pairs)
    told, made = problem.columns, columns_of(tuple(problem.candidates), len(problem.wish_terms))
    assert list(told.pairs) == made.pairs
    assert (told.dams, told.sires) == (made.dams, made.sires)
    for name in (*FIGURES, "dam", "sire", "worth", "means"):
        assert np.array_equal(getattr(told, name), getattr(made, name)), name


def test_a_part_has_the_records_of_the_whole(season: SolvedSeason) -> None:
    problem = season.problem
    keep = list(range(0, len(problem.candidates), 3))
    part = problem.only(keep)
    assert all(part.candidates[at] is problem.candidates[n] for at, n in enumerate(keep))
    assert {part.columns.dams[at] for at in part.columns.dam} == set(part.columns.dams)
    assert [each.pair for each in part.candidates] == list(part.columns.pairs)
    copy = pickle.loads(pickle.dumps(part.candidates))
    assert [(each.pair, each.worth) for each in copy] == [
        (each.pair, each.worth) for each in part.candidates
    ]
