"""Whether she goes: two beta-binomial steps, kinds of season, and what a lone failure may do."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.forecast.clutch import forecast_clutches
from brumal.forecast.goes import OWN_GOES_WORTH, Goes, forecast_goes
from brumal.forecast.history import SeasonKind, SeasonsPaired
from brumal.records.animals import Animal, Clutch
from brumal.records.settings import ClutchPrior
from records_by_hand import female, male, records

PRIOR = ClutchPrior()
FIRST, LATER, AGAIN = SeasonKind.FIRST, SeasonKind.LATER, SeasonKind.AFTER_LAYING
STATED = {
    FIRST: PRIOR.goes_first,
    LATER: PRIOR.goes,
    AGAIN: PRIOR.goes_after_laying,
}


def hers(laid: int, *kinds: SeasonKind) -> SeasonsPaired:
    return SeasonsPaired(laid=laid, kinds=kinds)


def chance(
    seasons: dict[str, SeasonsPaired], dam: str, kind: SeasonKind = LATER, recorded: bool = True
) -> float:
    return forecast_goes(PRIOR, seasons, dam, kind, recorded=recorded).chance


def test_seasons_of_one_kind_are_two_beta_binomial_steps() -> None:
    """By hand: (worth x stated + laid) / (worth + paired), then the same with hers."""
    seasons = {"F1": hers(0, LATER, LATER, LATER), "F2": hers(5, *[LATER] * 6)}
    pooled = (PRIOR.worth * PRIOR.goes + 5) / (PRIOR.worth + 9)
    expected = OWN_GOES_WORTH * pooled / (OWN_GOES_WORTH + 3)
    assert chance(seasons, "F1") == pytest.approx(expected)
    assert chance(seasons, "F9") == pytest.approx(pooled)


@pytest.mark.parametrize("kind", SeasonKind)
def test_without_records_what_is_stated_of_the_kind_stands(kind: SeasonKind) -> None:
    for recorded in (True, False):
        assert chance({}, "F9", kind, recorded) == pytest.approx(STATED[kind])


def test_seasons_are_brought_to_one_footing_by_what_is_stated_of_their_kind() -> None:
    """Ten first seasons of which seven laid are as usual: they lift and lower nobody."""
    usual = {f"F{at}": hers(int(at < 7), FIRST) for at in range(10)}
    assert chance(usual, "new") == pytest.approx(PRIOR.goes)
    assert chance(usual, "new", AGAIN) == pytest.approx(PRIOR.goes_after_laying)


kinds = st.lists(st.sampled_from(list(SeasonKind)), max_size=8)


@given(st.lists(st.tuples(kinds, st.integers(0, 8)), max_size=5), st.sampled_from(list(SeasonKind)))
def test_it_is_a_chance_and_one_more_failure_never_raises_it(
    rows: list[tuple[list[SeasonKind], int]], kind: SeasonKind
) -> None:
    seasons = {f"F{at}": hers(min(laid, len(each)), *each) for at, (each, laid) in enumerate(rows)}
    failed = dict(seasons)
    own = seasons.get("F0", hers(0))
    failed["F0"] = hers(own.laid, *own.kinds, LATER)
    for recorded in (True, False):
        for dam in ("F0", "F1", "new"):
            before, after = (chance(each, dam, kind, recorded) for each in (seasons, failed))
            assert 0 < after <= before + 1e-12 <= 1 + 1e-9


@given(st.lists(st.tuples(kinds, st.integers(0, 8)), max_size=5), st.sampled_from(list(SeasonKind)))
def test_where_failures_are_not_recorded_no_row_lifts_anyone_or_moves_another(
    rows: list[tuple[list[SeasonKind], int]], kind: SeasonKind
) -> None:
    seasons = {f"F{at}": hers(min(laid, len(each)), *each) for at, (each, laid) in enumerate(rows)}
    assert chance(seasons, "new", kind, recorded=False) == pytest.approx(STATED[kind])
    for dam in seasons:
        assert chance(seasons, dam, kind, recorded=False) <= STATED[kind] + 1e-12


def laid(dam: str, *years: int) -> list[Clutch]:
    return [Clutch(dam=dam, sire="M1", laid=date(year, 4, 20), eggs=6) for year in years]


def goes_of(
    clutches: list[Clutch], herd: list[Animal] | None = None, **sections: object
) -> dict[str, Goes]:
    animals = [*(herd or [female("F1"), female("F2"), female("F3")]), male("M1")]
    found = forecast_clutches(records(animals, clutches=clutches, sections=sections))
    return {dam: each.goes_on for dam, each in found.dams.items()}


def test_the_first_failed_season_written_down_lifts_nobody() -> None:
    """A keeper's book of clutches alone, then one row more: the others stay where they were."""
    book = [*laid("F1", 2024, 2025), *laid("F2", 2023, 2024, 2025)]
    failed = [*book, Clutch(dam="F3", sire="M1", eggs=0)]
    before, after = goes_of(book), goes_of(failed)
    assert {before[dam].chance for dam in ("F1", "F2")} == {PRIOR.goes}
    assert {after[dam].chance for dam in ("F1", "F2")} == {PRIOR.goes}
    assert after["F3"].chance < before["F3"].chance == PRIOR.goes_first
    assert (after["F3"].own_laid, after["F3"].own_paired, after["F3"].recorded) == (0, 1, False)


def test_stated_records_of_failures_count_for_all() -> None:
    book = [*laid("F1", 2024, 2025), *laid("F2", 2023, 2024, 2025)]
    failed = [*book, *[Clutch(dam="F3", sire="M1", eggs=0)] * 3]
    stated = goes_of(failed, records={"failures": True})
    assert stated["F1"].chance != PRIOR.goes
    assert (stated["F1"].seasons, stated["F1"].own_laid, stated["F1"].own_paired) == (8, 2, 2)
    assert stated["F3"].chance < stated["F2"].chance


def test_last_years_laying_counts_in_whether_she_goes() -> None:
    found = goes_of([*laid("F1", 2026), *laid("F2", 2025)])
    assert (found["F1"].kind, found["F1"].chance) == (AGAIN, PRIOR.goes_after_laying)
    assert (found["F2"].kind, found["F2"].chance) == (LATER, PRIOR.goes)
    same = goes_of(laid("F1", 2026), clutch={"goes_after_laying": 0.8})
    assert same["F1"].chance == 0.8


@pytest.mark.parametrize(
    ("hatched", "trouble", "doubtful"),
    [
        (date(2011, 12, 2), "", False),
        (date(2011, 12, 1), "", True),
        (date(2018, 7, 1), "egg binding", True),
    ],
)
def test_great_age_and_trouble_at_laying_hold_it_down(
    hatched: date, trouble: str, doubtful: bool
) -> None:
    clutch = Clutch(dam="F1", laid=date(2024, 4, 1), eggs=6, trouble=trouble)
    found = goes_of([clutch], [female("F1", hatched=hatched)])["F1"]
    assert found.doubtful is doubtful
    assert found.chance == (PRIOR.goes_doubtful if doubtful else PRIOR.goes)


def test_what_the_keeper_states_stands_whatever_the_records_say() -> None:
    old = [female("F1", hatched=date(2001, 7, 1))]
    found = goes_of(laid("F1", 2025, 2026), old, assume={"goes": 0.9})["F1"]
    assert (found.chance, found.stated) == (0.9, True)
