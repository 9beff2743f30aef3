"""Prices as they are paid: by hand against ``plan.json``, and by a walk over every young."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from brumal.forecast.sheets import expected_values
from brumal.insight.simulate.seasons import draw_seasons, money_of, simulate
from brumal.pipeline import Prepared, prepare, prepare_records
from brumal.planner.describe import plan_of
from brumal.planner.pairs.pricing import pricing_of
from brumal.planner.plan import Plan
from brumal.planner.season import solve_season
from brumal.records.faults import InputError, Severity
from brumal.records.settings import BySex
from brumal.report.plan.files import plan_json
from price_walk import walked
from season_folders import faults_in, season_folder, told

DEMO = Path(__file__).parent.parent / "scenarios" / "demo"
ONE_PAIR = """id,name,sex,hatched,morph,weight_g,weighed,condition,status
F01,Rime,female,2022-07-01,het Clown,1840,2026-11-01,3,breeder
M01,Sleet,male,2020-07-01,Pastel het Clown,900,2026-11-01,3,breeder
"""
SURE = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
assume: {goes: 1, fertile: 1, hatched: 1, eggs: 8}
locks: {must_pair: [[F01, M01]]}
"""


def planned(folder: Path, season: str, animals: str = ONE_PAIR) -> Plan:
    folder.mkdir(exist_ok=True)
    return plan_of(
        solve_season(prepare(season_folder(folder, animals=animals, season=SURE + season)))
    )


def as_json(plan: Plan) -> dict[str, Any]:
    found = json.loads(plan_json(plan))
    assert isinstance(found, dict)
    return found


PAID = """
values:
  base: {female: 40, male: 20}
  wanted: [{morph: Clown, value: 200}]
  combinations: {Pastel Clown: 300}
  extra: {visual: {Pastel: {female: 30, male: 10}}, het: {Clown: 60}}
  possible_hets: by_label
costs: {pairing: 5, egg: 1, hatchling: 5, adult_feed: 50, adult_place: 10}
sale: {fee: 0.1, unsold: 0.2, delay_days: 30, day_cost: 0.1}
"""


def test_a_price_list_worked_by_hand_stands_in_the_plan(tmp_path: Path) -> None:
    """Eight young of a het by a Pastel het, sexes even; the labels' shares are the usual ones.

    Normal (3 of 8): base 30, and a 66 % het at half of 60: 60. Pastel (3 of 8): 20 more. Clown (1
    of 8): 200. Pastel Clown (1 of 8): its own 300, over 200 + 20. On average 115; of it come in
    0.9 x 0.8 = 0.72. Eight young bring 662.40, less 5 for the pairing, 8 for eggs, 8 x 5 to raise
    and 8 x 30 x 0.10 to wait: 585.40. Two adults cost 120 a year: 465.40.
    """
    told_plan = as_json(planned(tmp_path, PAID))
    (pair,) = told_plan["pairs"]
    looks = {each["morph"]: each["value"] for each in pair["outcomes"]}
    assert looks == pytest.approx(
        {
            "Pastel Clown": 300 * 0.72,
            "Clown": 200 * 0.72,
            "Pastel 66% het Clown": 80 * 0.72,
            "66% het Clown": 60 * 0.72,
        }
    )
    assert pair["value"] == pytest.approx(585.4)
    assert told_plan["objective"] == pytest.approx(465.4)
    assert told_plan["money"]["keeping"] == pytest.approx(-120)
    (target,) = told_plan["targets"]
    assert target["expected"] == pytest.approx(1)  # the Pastel Clown is sold as a combination


PERHAPS = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
assume: {goes: 0.8, fertile: 0.6, hatched: 1, eggs: 3}
locks: {must_pair: [[F01, M01]]}
values: {base: {female: 40, male: 20}, wanted: [{morph: Clown, value: 200}]}
costs: {pairing: 7, egg: 2, hatchling: 5}
"""


@pytest.mark.parametrize(("fee", "unsold"), [(0, 0), (0.1, 0.3), (0, 0.9)])
def test_young_without_a_buyer_widen_the_spread_as_every_outcome_says(
    tmp_path: Path, fee: float, unsold: float
) -> None:
    """Every way three eggs of a 50 % het Clown by a Clown may end, one by one.

    She goes or not, is het or not; each egg is a slug or a young, which is female or male, Clown
    or a het, and sells or not.
    """
    folder = season_folder(
        tmp_path,
        animals=ONE_PAIR.replace(",het Clown,1840", ",50% het Clown,1840").replace(
            "Pastel het Clown", "Clown"
        ),
        season=PERHAPS + f"sale: {{fee: {fee}, unsold: {unsold}}}\n",
    )
    (pair,) = plan_of(solve_season(prepare(folder))).pairs
    ends = [(0.2, -7.0)]
    for clown in (0.5, 0.0):
        egg = [(0.4, -2.0)]
        for price, chance in [(200, clown), (40, (1 - clown) / 2), (20, (1 - clown) / 2)]:
            brings = price * (1 - fee) - 5 - 2
            egg += [(0.6 * chance * (1 - unsold), brings), (0.6 * chance * unsold, -7.0)]
        for three in itertools.product(egg, repeat=3):
            chance = 0.8 * 0.5 * math.prod(each for each, _ in three)
            ends.append((chance, -7.0 + sum(money for _, money in three)))
    mean = sum(chance * money for chance, money in ends)
    assert pair.value == pytest.approx(mean)
    square = sum(chance * (money - mean) ** 2 for chance, money in ends)
    assert pair.sd == pytest.approx(math.sqrt(square))


def test_drawn_seasons_spread_as_the_unsold_share_says(tmp_path: Path) -> None:
    """The mean within four standard errors, the spread of the seasons near that of the plan."""
    folder = season_folder(tmp_path, animals=ONE_PAIR, season=PERHAPS + "sale: {unsold: 0.6}\n")
    season = solve_season(prepare(folder))
    seasons = 20_000
    money = money_of(season, draw_seasons(season, seasons, 3), seasons)
    (pair,) = plan_of(season).pairs
    assert abs(float(money.mean()) - pair.value) < 4 * pair.sd / math.sqrt(seasons)
    assert float(money.std()) == pytest.approx(pair.sd, rel=0.03)


@pytest.mark.parametrize(
    ("dam", "labels", "value"),
    [
        ("het Clown", "by_label", (1 * 100 + 3 * max(50, 20)) / 4),
        ("het Clown", "linear", (1 * 100 + 2 * 100 + 1 * 20) / 4),
        ("het Clown", "{66: 0.1}", (1 * 100 + 3 * max(10, 20)) / 4),
        ("Normal", "by_label", max(30, 20)),
        ("Normal", "{66: 0.5}", 20),  # a 50 % het that nobody pays for
        ("50% het Clown", "by_label", (0.125 * 100 + 0.875 * max(30, 20))),
    ],
)
def test_a_possible_het_sells_by_its_label(
    tmp_path: Path, dam: str, labels: str, value: float
) -> None:
    """By a het Clown: 66 % hets of a het, 50 % hets of a Normal.

    Of a 50 % het, 1/8 are Clown and 3/7 + ... = (1/2 x 1/2 + 1/2 x 1/2) / (7/8) = 57 % of the rest
    are het: sold as 50 %.
    """
    animals = ONE_PAIR.replace("Pastel ", "").replace(",het Clown,1840", f",{dam},1840")
    wanted = f"{{base: 20, possible_hets: {labels}, wanted: [{{morph: het Clown, value: 100}}]}}"
    plan = planned(tmp_path, f"values: {wanted}\n", animals)
    assert plan.objective == pytest.approx(8 * value)


def test_what_is_not_sure_fills_no_need(tmp_path: Path) -> None:
    """Of het by het only the Clowns are sure to be what is asked; the chance of one goes by truth.

    E max(N - 1, 0) of N Clowns in eight is 8/4 - 1 + (3/4)^8; each costs 100 - 20.
    """
    wish = "{morph: het Clown, value: 100, need: 1, value_after: 20, chance: 0.5}"
    season = f"values: {{base: 20, possible_hets: by_label, wanted: [{wish}]}}\n"
    plan = planned(tmp_path, season, ONE_PAIR.replace("Pastel ", ""))
    (target,) = plan.targets
    assert target.expected == pytest.approx(2)
    assert target.chance == pytest.approx(1 - (1 / 4) ** 8)
    assert plan.money.saturation == pytest.approx(-80 * (2 - 1 + 0.75**8))
    assert plan.money.pairs == pytest.approx(8 * (100 / 4 + 50 * 3 / 4))


@pytest.mark.parametrize(
    ("keep", "each"),
    [
        ("{count: 1, worth: 500}", {"female": 380, "male": 300}),
        ("{count: 1, worth: 150}", {"female": 30, "male": 0}),
        ("{count: 1, sex: male, worth: 500}", {"male": 300}),
        ("{count: 1, extra: 60}", {"female": 60, "male": 60}),
    ],
)
def test_a_holdback_is_worth_what_it_brings_beyond_a_sale(
    tmp_path: Path, keep: str, each: dict[str, float]
) -> None:
    """A Clown in four young, sexes even, sold at 120 or 200; the one that gains most is kept."""
    value = "{female: 120, male: 200}"
    season = f"values: {{wanted: [{{morph: Clown, value: {value}, keep: {keep}}}]}}\n"
    plan = planned(tmp_path, season, ONE_PAIR.replace("Pastel ", ""))
    gains = {name: each.get(name, 0.0) for name in ("female", "male")}
    expected = 0.0
    for females, males in itertools.product(range(9), repeat=2):
        if females + males > 8:
            continue
        rest = 8 - females - males
        ways = math.comb(8, females) * math.comb(8 - females, males)
        chance = ways * (1 / 8) ** (females + males) * (3 / 4) ** rest
        best = [gains["female"]] * females + [gains["male"]] * males
        expected += chance * max(best, default=0.0)
    assert plan.money.holdbacks == pytest.approx(expected)
    assert plan.money.saturation == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ("base: -5", "values.base: found '-5'; expected a number of 0 or more"),
        ("extra: {het: {Clown: -5}}", "values.extra.het.Clown: found '-5'; expected a number of 0"),
        (
            "wanted: [{morph: Clown, value: {female: -1}}]",
            "values.wanted[1].value.female: found '-1'; expected a number of 0 or more",
        ),
        (
            "wanted: [{morph: Clown, value: 9, need: 1, value_after: -2}]",
            "values.wanted[1].value_after: found '-2'; expected a number of 0 or more",
        ),
        (
            "wanted: [{morph: Clown, value: 9, keep: {count: 1, extra: 5, worth: 9}}]",
            "values.wanted[1].keep.worth: found both worth and extra",
        ),
        (
            "combinations: {clown: 7}\n  wanted: [{morph: Clown, value: 9}]",
            "values.combinations.clown: found 'clown', which is wanted already",
        ),
        (
            "possible_hets: {66: 0.2, 50: 0.3}",
            "values.possible_hets: found 50% at 0.3, 66% at 0.2; expected no larger share",
        ),
        (
            "possible_hets: {166: 0.2}",
            "values.possible_hets.166: found ",
        ),
        (
            "possible_hets: label",
            "found 'label'; expected linear or by_label",
        ),
    ],
)
def test_wrong_prices_are_faults(tmp_path: Path, values: str, said: str) -> None:
    season = SURE.split("assume")[0] + f"values:\n  {values}\n"
    faults = told(faults_in(tmp_path, season=season), Severity.ERROR)
    assert len(faults) == 1
    assert said in faults[0]


def test_unknown_combinations_are_told(tmp_path: Path) -> None:
    season = SURE.split("locks")[0] + "values: {combinations: {Clwn: 7}}\n"
    with pytest.raises(InputError) as stopped:
        prepare(season_folder(tmp_path, season=season))
    fault = stopped.value.faults[0]
    assert str(fault).startswith("season.yaml, values.combinations.Clwn: found 'Clwn'")


def changed_demo(**values: object) -> Prepared:
    records = prepare(DEMO).records
    settings = records.settings
    new = replace(settings.values, **values)
    return prepare_records(replace(records, settings=replace(settings, values=new)))


HETS = {"Clown": 45.0, "Piebald": BySex(female=60.0, male=25.0), "Albino": 15.0}
WISHES = ("Pastel het Clown", "het Piebald", "het Clown het Piebald")


def by_label() -> Prepared:
    """Return the demo with possible hets by label, extras by sex and wishes for hets."""
    wanted = prepare(DEMO).records.settings.values.wanted
    prices = zip(WISHES, (90.0, 80.0, 260.0), strict=True)
    more = [replace(wanted[3], morph=morph, value=price) for morph, price in prices]
    extra = replace(prepare(DEMO).records.settings.values.extra, het=dict(HETS))
    return changed_demo(
        possible_hets="by_label",
        extra=extra,
        wanted=(*wanted, *more),
        combinations={"Mojave Lesser": BySex(female=210.0), "Enchi Pastel": 95.0},
    )


def test_labels_price_every_pair_as_a_walk_over_its_looks_does() -> None:
    prepared = by_label()
    pricing = pricing_of(prepared)
    groups = frozenset(pricing.tables.groups)
    own = prepared.records.collection
    dams = [animal.id for animal in own if animal.sex == "female"]
    sires = [animal.id for animal in own if animal.sex == "male"]
    pairs = list(itertools.product(dams, sires))
    together = pricing.look(pairs).expected.values
    alone = expected_values(pricing.sheets, [pricing.tables.of(*pair) for pair in pairs])
    assert together == pytest.approx(alone, abs=1e-9)
    for place in range(0, len(pairs), 5):
        assert alone[place] == pytest.approx(walked(prepared, *pairs[place], groups), abs=1e-9)


def test_drawn_young_sell_as_those_expected() -> None:
    """Simulated seasons average to the plan's expectation, within four standard errors."""
    prepared = by_label()
    season = solve_season(prepared)
    found, plan = simulate(season, 10_000, seed=3), plan_of(season)
    assert found.expected == pytest.approx(plan.by_calendar, abs=1e-6)
    assert abs(found.money.mean - found.expected) < 4 * found.error
    for luck, target in zip(found.targets, plan.targets, strict=True):
        assert luck.sold.mean == pytest.approx(target.expected, abs=0.2), target.morph


def test_prices_by_probability_are_the_default() -> None:
    before = pricing_of(prepare(DEMO))
    after = pricing_of(changed_demo(possible_hets="linear"))
    assert before.sheets.prices.labels is None
    assert before.sheets.prices.entries == after.sheets.prices.entries
    assert np.array_equal(
        [line.value for line in before.sheets.prices.entries][1:],
        [
            (w.value.female, w.value.male) if isinstance(w.value, BySex) else (w.value, w.value)
            for w in before.prepared.records.settings.values.wanted
        ],
    )
