"""The ledger of rest years: what each season was, and what is not known of it."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.forecast.ledger import Ledger, PastState, ledgers, season_year, seasons_ago
from brumal.records.animals import Animal, Clutch
from records_by_hand import PAIR_FROM, female, male, records

LAID, PAIRED = PastState.LAID, PastState.PAIRED
RESTED, NOT_PAIRED, UNKNOWN = PastState.RESTED, PastState.NOT_PAIRED, PastState.UNKNOWN


def row(year: int | None, eggs: int | None = 6, dam: str = "F1") -> Clutch:
    return Clutch(dam=dam, laid=date(year, 4, 20) if year else None, eggs=eggs)


def ledger(
    *clutches: Clutch, her: Animal | None = None, failures: bool = False, dam: str = "F1"
) -> Ledger:
    herd = [her or female("F1"), female("F2"), male("M1")]
    sections = {"records": {"failures": failures}}
    return ledgers(records(herd, clutches=clutches, sections=sections))[dam]


def states(found: Ledger) -> dict[int, PastState]:
    return {season.year: season.state for season in found.seasons}


def test_a_season_without_a_row_is_rest_only_where_failures_are_recorded() -> None:
    rows = [row(2023), row(2025, 0), row(2026)]
    assert states(ledger(*rows)) == {2026: LAID, 2025: PAIRED, 2024: UNKNOWN, 2023: LAID}
    assert states(ledger(*rows, failures=True)) == {
        2026: LAID,
        2025: PAIRED,
        2024: RESTED,
        2023: LAID,
    }


def test_before_her_first_clutch_a_season_without_a_row_is_one_not_paired() -> None:
    rows = [row(2023, dam="F2"), row(2025)]
    assert states(ledger(*rows, failures=True)) == {
        2026: RESTED,
        2025: LAID,
        2024: NOT_PAIRED,
        2023: NOT_PAIRED,
    }


def test_it_begins_when_she_was_two_years_old_or_came_in() -> None:
    rows = [row(2021, dam="F2")]
    young = female("F1", hatched=date(2022, 7, 1))
    bought = female("F1", hatched=date(2015, 7, 1), arrived=date(2024, 9, 1))
    assert list(states(ledger(*rows, her=young))) == [2026, 2025]
    assert list(states(ledger(*rows, her=bought))) == [2026, 2025]
    early = ledger(*rows, row(2023), her=young)
    assert states(early)[2023] is LAID


def test_last_laid_of_the_animals_table_counts_and_an_undated_clutch_may_be_the_same() -> None:
    her = female("F1", last_laid=date(2026, 4, 20))
    assert ledger(row(None), her=her).undated_laid == 0
    assert ledger(row(None), row(None), her=her).undated_laid == 1
    assert ledger(row(None), row(None, 0)).undated_paired == 1
    assert ledger(row(None), her=her).in_a_row == (2026,)


def test_runs_are_broken_by_any_season_without_a_clutch() -> None:
    assert ledger(row(2024), row(2025), row(2026)).in_a_row == (2024, 2025, 2026)
    assert ledger(row(2024), row(2025, 0), row(2026)).in_a_row == (2026,)
    assert ledger(row(2024), row(2025)).in_a_row == ()
    assert not ledger(row(2024), row(2025)).laid_last


@pytest.mark.parametrize(
    ("rows", "most"),
    [
        ((row(2026), row(None)), 2),
        ((row(2026), row(2025, 0), row(None)), 1),
        ((row(None), row(None)), 2),
        ((row(2026), row(2024), row(None)), 3),
        ((row(2026),), 1),
        ((), 0),
    ],
)
def test_clutches_without_a_day_may_fill_seasons_not_accounted_for(
    rows: tuple[Clutch, ...], most: int
) -> None:
    assert ledger(*rows).most_in_a_row == most


@given(
    st.lists(
        st.tuples(st.integers(2019, 2026), st.sampled_from([0, 6])),
        max_size=6,
        unique_by=lambda each: each[0],
    ),
    st.integers(0, 5),
)
def test_forgetting_the_day_of_a_clutch_never_shortens_the_run(
    seasons: list[tuple[int, int]], at: int
) -> None:
    """What is not known never counts as rest."""
    rows = [row(year, eggs) for year, eggs in seasons]
    known = ledger(*rows).most_in_a_row
    if at < len(rows) and rows[at].eggs:
        rows[at] = row(None)
        assert ledger(*rows).most_in_a_row >= known


def test_the_year_of_a_season_is_that_of_its_middle() -> None:
    assert [season_year(ago, PAIR_FROM) for ago in (0, 1, 2)] == [2026, 2025, 2024]
    assert season_year(0, date(2026, 9, 15)) == 2026
    assert seasons_ago(date(2026, 4, 20), PAIR_FROM) == 0
    assert seasons_ago(date(2025, 12, 2), PAIR_FROM) == 0
    assert seasons_ago(date(2025, 4, 20), PAIR_FROM) == 1


def test_males_and_animals_outside_have_none() -> None:
    assert set(ledgers(records([female("F1"), male("M1")]))) == {"F1"}
