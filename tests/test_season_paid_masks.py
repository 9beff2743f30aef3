"""White snakes whose possible hets are sold by label: prices against a walk over every young."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

from brumal.forecast.sheets import expected_values
from brumal.insight.simulate.seasons import simulate
from brumal.pipeline import Prepared, prepare
from brumal.planner.describe import plan_of
from brumal.planner.pairs.looks import outcomes_of_many
from brumal.planner.pairs.pricing import pricing_of, telling_prices
from brumal.planner.risk.parent_draws import draw_parents
from brumal.planner.risk.young_draws import draw_young, whole_prices
from brumal.planner.season import solve_season
from price_walk import walked
from season_folders import season_folder

DAMS, SIRES = ("F1", "F2", "F3", "F4"), ("M1", "M2", "M3")
ANIMALS = """id,sex,hatched,morph,weight_g,weighed,condition,status
F1,female,2021-06-01,Lesser Pastel Piebald het Clown,1800,2026-11-01,3,breeder
F2,female,2021-06-01,Ivory 66% het Piebald,1800,2026-11-01,3,breeder
F3,female,2021-06-01,Mojave Fire 50% het Clown het Piebald,1800,2026-11-01,3,breeder
F4,female,2021-06-01,Cinnamon Pastel het Clown,1800,2026-11-01,3,breeder
M1,male,2021-06-01,Mojave Piebald 50% het Clown,900,2026-11-01,3,breeder
M2,male,2021-06-01,Yellow Belly het Piebald,900,2026-11-01,3,breeder
M3,male,2021-06-01,Lesser Fire Cinnamon Pastel het Clown 66% het Piebald,900,2026-11-01,3,breeder
"""
SEASON = """season: {name: White, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2026-11-15}
values:
  base: {female: 30, male: 20}
  possible_hets: by_label
  wanted:
    - {morph: Piebald, value: 300}
    - {morph: het Piebald, value: {female: 90, male: 60}}
    - {morph: Blue Eyed Leucistic, value: 200, chance: 0.1}
    - {morph: Lesser Mojave het Clown het Piebald, value: 900}
  combinations: {Pastel Clown: 400, Lesser Mojave Piebald: {female: 800, male: 700}}
  extra:
    visual: {Pastel: {female: 20, male: 10}, Yellow Belly: 15, Fire: 8}
    het: {Clown: 40, Piebald: {female: 25, male: 12}}
"""


@pytest.fixture(scope="module")
def white(tmp_path_factory: pytest.TempPathFactory) -> Prepared:
    folder = tmp_path_factory.mktemp("white")
    return prepare(season_folder(folder, animals=ANIMALS, season=SEASON))


def test_labels_under_white_looks_price_every_pair_as_a_walk_does(white: Prepared) -> None:
    pricing = pricing_of(white)
    groups = frozenset(pricing.tables.groups)
    pairs = list(itertools.product(DAMS, SIRES))
    together = pricing.look(pairs).expected.values
    alone = expected_values(pricing.sheets, [pricing.tables.of(*pair) for pair in pairs])
    for pair, one, many in zip(pairs, alone.tolist(), together.tolist(), strict=True):
        expected = walked(white, *pair, groups)
        assert one == pytest.approx(expected, abs=1e-9), pair
        assert many == pytest.approx(expected, abs=1e-9), pair


def test_harmed_and_dead_young_bring_nothing_under_white_looks_either(tmp_path: Path) -> None:
    """Half of them Spiders, with a rule lifted; two copies do not live, unseen or not."""
    animals = ANIMALS.replace("Lesser Pastel", "Lesser Pastel Spider").replace(
        "Mojave Piebald 50%", "Mojave Spider Piebald 50%"
    )
    lifted = "rules: {accept_welfare: [Spider, Super Spider]}\n"
    prepared = prepare(season_folder(tmp_path, animals=animals, season=SEASON + lifted))
    pricing = pricing_of(prepared)
    groups = frozenset(pricing.tables.groups)
    assert "spider" in groups
    for pair in itertools.product(("F1", "F4"), SIRES):
        assert pricing.value(*pair) == pytest.approx(walked(prepared, *pair, groups), abs=1e-9)


def test_looks_are_worth_what_the_young_are(white: Prepared) -> None:
    """By hand: a white young of F1 and M1 is a Piebald for certain, and 62 % carry Clown.

    That is sold as 50 % het, at 0.3 of 40; one that does not hide anything is a 57 % het unless it
    shows Clown. Of the white ones females bring 800 and males 700.
    """
    telling, pricing = telling_prices(white), pricing_of(white)
    pairs = list(itertools.product(DAMS, SIRES))
    found = outcomes_of_many(white, telling.sheets, pairs)
    for pair, looks in zip(pairs, found, strict=True):
        assert sum(look.chance for look in looks) == pytest.approx(1.0)
        mean = sum(look.chance * look.value for look in looks)
        assert mean == pytest.approx(pricing.value(*pair), abs=1e-9)
    snow = next(look for look in found[0] if look.morph.startswith("Lesser Mojave Piebald "))
    assert snow.chance == pytest.approx(1 / 4)
    # As a 50 % het Clown het Piebald it would bring 0.3 of 900, less than its own price.
    assert snow.value == pytest.approx((800 + 700) / 2 + 0.3 * 40)


def test_drawn_white_young_sell_as_those_expected(white: Prepared) -> None:
    rng = np.random.default_rng(5)
    prices, seasons = whole_prices(white), 4000
    for pair in (("F1", "M1"), ("F3", "M3"), ("F4", "M3"), ("F2", "M2")):
        groups = [odds.group for odds in white.cross(*pair).groups]
        parents = draw_parents(white, [pair], groups, 16, seasons)
        young = draw_young(white, prices, parents, pair, np.full(seasons, 5), rng)
        worth = young.value[young.kind].reshape(seasons, 5).mean(axis=1)
        error = worth.std() / np.sqrt(seasons)
        assert abs(worth.mean() - pricing_of(white).value(*pair)) < 5 * error + 1e-9


def test_simulated_seasons_average_to_the_plan(white: Prepared) -> None:
    season = solve_season(white)
    found, plan = simulate(season, 4000, seed=3), plan_of(season)
    assert found.expected == pytest.approx(plan.by_calendar, abs=1e-6)
    assert abs(found.money.mean - found.expected) < 4 * found.error
