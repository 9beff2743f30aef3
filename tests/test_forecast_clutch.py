"""The clutch forecast: exact means, stated figures, whole distributions, what it learns from."""

from __future__ import annotations

import dataclasses
import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from brumal.forecast.clutch import (
    ClutchForecast,
    clutch_for,
    forecast_clutches,
    young_table,
)
from brumal.forecast.history import past_clutches, proven_dams
from brumal.forecast.weight import all_series
from brumal.records.animals import Animal, Clutch
from records_by_hand import female, male, records, weighed

DAM, SIRE = female("F1", weight_g=1900.0), male("M1")


def clutches_of(dam: str, *laid: tuple[int, int, int], sire: str = "M1") -> list[Clutch]:
    """Return one clutch a year from 2023: (eggs, slugs, hatched)."""
    return [
        Clutch(dam=dam, sire=sire, laid=date(2023 + at, 4, 20), eggs=eggs, slugs=slugs, hatched=out)
        for at, (eggs, slugs, out) in enumerate(laid)
    ]


def forecast(
    dam: Animal = DAM, clutches: list[Clutch] | None = None, **sections: object
) -> ClutchForecast:
    season = records([dam, SIRE], clutches=clutches or [], sections=sections)
    return clutch_for(forecast_clutches(season), dam, SIRE)


def test_stated_figures_replace_the_forecast_each_alone() -> None:
    usual = forecast()
    stated = forecast(assume={"goes": 0.8, "fertile": 0.9, "hatched": 0.95, "eggs": 6})
    assert (stated.goes, stated.eggs, stated.fertile, stated.hatched) == (0.8, 6, 0.9, 0.95)
    assert stated.expected_young == pytest.approx(0.8 * 6 * 0.9 * 0.95)
    assert stated.eggs_p90 == 6
    assert stated.fertile_strength == stated.hatched_strength == math.inf
    for piece in ("goes", "fertile", "hatched", "eggs"):
        one = forecast(assume={piece: 0.5})
        for other in ("goes", "fertile", "hatched", "eggs"):
            expected = 0.5 if other == piece else getattr(usual, other)
            assert getattr(one, other) == expected


def test_expected_eggs_of_an_animal_go_before_the_assumption() -> None:
    her = female("F1", expected_eggs=7.25)
    found = forecast(her, assume={"eggs": 6})
    assert found.eggs == found.eggs_p90 == 7.25
    assert found.eggs_pmf[7] == pytest.approx(0.75)
    assert found.eggs_pmf[8] == pytest.approx(0.25)


def test_more_eggs_stated_than_any_clutch_holds_still_sum_up() -> None:
    found = forecast(female("F1", expected_eggs=26.0))
    assert len(found.eggs_pmf) == len(found.young_pmf) == 27
    assert found.young_pmf.sum() == pytest.approx(1)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.floats(0.5, 18), st.integers(0, 12))
def test_distribution_of_young_has_the_stated_mean(
    goes: float, fertile: float, hatched: float, eggs: float, slugs: int
) -> None:
    assume = {"goes": goes, "fertile": fertile, "hatched": hatched, "eggs": eggs}
    found = forecast(assume=assume)
    assert found.young_pmf.sum() == pytest.approx(1)
    assert found.young_pmf @ np.arange(21) == pytest.approx(found.expected_young, abs=1e-9)
    assert found.expected_young == found.goes * found.eggs * found.fertile * found.hatched


def test_distribution_of_young_equals_summing_every_case_with_scipy() -> None:
    history = clutches_of("F1", (8, 2, 5), (9, 1, 8), (7, 0, 7))
    found = forecast(clutches=history)
    expected = np.zeros(21)
    expected[0] = 1 - found.goes
    for eggs in range(21):
        a, b = found.fertile * found.fertile_strength, (1 - found.fertile) * found.fertile_strength
        for fertile in range(eggs + 1):
            c = found.hatched * found.hatched_strength
            d = (1 - found.hatched) * found.hatched_strength
            chance = found.goes * found.eggs_pmf[eggs] * stats.betabinom(eggs, a, b).pmf(fertile)
            expected[: fertile + 1] += chance * stats.betabinom(fertile, c, d).pmf(
                np.arange(fertile + 1)
            )
    assert found.young_pmf == pytest.approx(expected, abs=1e-10)


def test_table_of_many_pairs_equals_each_pair_alone() -> None:
    dams = [female(f"F{at}", weight_g=1500.0 + 100 * at) for at in range(6)]
    sires = [male(f"M{at}") for at in range(4)]
    history = [
        *clutches_of("F1", (8, 2, 5), (9, 1, 8), sire="M2"),
        *clutches_of("F3", (5, 5, 0), sire="M0"),
    ]
    forecasts = forecast_clutches(records([*dams, *sires], clutches=history))
    pairs = [clutch_for(forecasts, dam, sire) for dam in dams for sire in sires]
    table = young_table(pairs)
    for row, pair in zip(table, pairs, strict=True):
        assert row == pytest.approx(pair.young_pmf)
        assert row @ np.arange(21) == pytest.approx(pair.expected_young)
    assert len({round(pair.fertile, 9) for pair in pairs}) > 3


def test_boxes_are_counted_at_the_ninetieth_percentile() -> None:
    found = forecast()
    below = found.eggs_pmf[: int(found.eggs_p90)].sum()
    assert below < 0.9 <= below + found.eggs_pmf[int(found.eggs_p90)]
    assert found.eggs == pytest.approx(found.eggs_pmf @ np.arange(21))


def test_a_record_of_slugs_lowers_fertility_not_eggs() -> None:
    good = forecast(clutches=clutches_of("F1", (7, 0, 7), (7, 0, 7)))
    poor = forecast(clutches=clutches_of("F1", (7, 5, 2), (7, 6, 1)))
    assert poor.eggs == good.eggs
    assert poor.fertile < good.fertile
    assert poor.slugs > good.slugs


def test_past_clutches_know_first_mass_and_shares() -> None:
    her = female("F1", hatched=date(2021, 7, 1))
    history = clutches_of("F1", (6, 1, 5), (8, 0, 8))
    scales = weighed("F1", 1600, 1650, last=date(2022, 12, 20))
    season = records([her], scales, history)
    first, second = past_clutches(season, all_series(season))
    assert (first.first, first.mass_g, first.eggs, first.fertile) == (True, 1650, 6, 5)
    assert (second.first, second.fertile, second.hatched) == (False, 8, 8)
    assert second.mass_g is None


def test_unweighed_clutches_of_a_heavy_female_count_as_laid() -> None:
    """A vet's borderline folder: 2,800 g today, laid 6 and 7, never weighed before a clutch.

    Her forecast lies between her own mean and what is usual at her mass, and not above both.
    """
    heavy = female("F1", weight_g=2800.0, weighed=date(2026, 11, 14))
    usual = forecast(heavy).eggs
    found = forecast(heavy, clutches=clutches_of("F1", (6, 0, 6), (7, 0, 7)))
    assert 6.5 < found.eggs < usual
    long = forecast(heavy, clutches=clutches_of("F1", (6, 0, 6), (7, 0, 7), (6, 0, 6), (7, 0, 7)))
    assert 6.5 < long.eggs < found.eggs
    light = female("F1", weight_g=1800.0, weighed=date(2026, 11, 14))
    assert abs(found.eggs - forecast(light, clutches_of("F1", (6, 0, 6), (7, 0, 7))).eggs) < 1


def test_deformed_young_do_not_count_as_come_through() -> None:
    sound = Clutch(dam="F1", sire="M1", laid=date(2025, 4, 1), eggs=6, slugs=0, hatched=5)
    noted = dataclasses.replace(sound, note="2 kinked")
    season = records([female("F1")], clutches=[sound, noted])
    assert [each.hatched for each in past_clutches(season, {})] == [5, 3]
    assert forecast(clutches=[noted]).hatched < forecast(clutches=[sound]).hatched


def test_a_forecast_knows_how_many_of_her_clutches_it_stands_on() -> None:
    scales = weighed("F1", 1600, 1650, last=date(2022, 12, 20))
    season = records([DAM], scales, clutches_of("F1", (6, 1, 5), (8, 0, 8)))
    hers = forecast_clutches(season).dams["F1"]
    assert (hers.own_clutches, hers.own_weighed) == (2, 1)


def test_slugs_follow_where_every_egg_hatched_and_stay_unknown_elsewhere() -> None:
    history = [
        Clutch(dam="F1", sire="M1", laid=date(2025, 4, 1), eggs=6, hatched=6),
        Clutch(dam="F1", sire="M1", laid=date(2026, 4, 1), eggs=6, hatched=4),
    ]
    season = records([female("F1")], clutches=history)
    all_out, some = past_clutches(season, {})
    assert all_out.fertile == 6
    assert (some.fertile, some.hatched) == (None, None)


def test_who_is_proven() -> None:
    young = Animal(id="Y", dam="F2", sire="M1")
    herd = [female("F1"), female("F2"), female("F3", last_laid=date(2026, 4, 1)), female("F4")]
    history = [Clutch(dam="F1", eggs=5), Clutch(dam="F4", eggs=0)]
    season = records([*herd, young, male("M1")], clutches=history)
    assert proven_dams(season) == {"F1", "F2", "F3"}


def test_order_of_rows_changes_nothing() -> None:
    history = [*clutches_of("F1", (8, 2, 5), (9, 1, 8)), *clutches_of("F2", (5, 0, 4))]
    herd = [female("F1", weight_g=1900.0), female("F2", weight_g=1700.0), male("M1")]
    one = forecast_clutches(records(herd, clutches=history))
    other = forecast_clutches(records(herd[::-1], clutches=history[::-1]))
    for dam in herd[:2]:
        first, second = clutch_for(one, dam, herd[2]), clutch_for(other, dam, herd[2])
        assert first.eggs == pytest.approx(second.eggs)
        assert first.fertile == pytest.approx(second.fertile)


def test_a_male_is_no_dam() -> None:
    forecasts = forecast_clutches(records([DAM, SIRE]))
    with pytest.raises(KeyError):
        clutch_for(forecasts, SIRE, SIRE)
