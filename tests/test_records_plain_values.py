"""Numbers and dates as keepers write them, against the plain form worked out by hand."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brumal.records.plain_values import parse_day, parse_grams, parse_number, plain_number


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("1520", 1520),
        ("1520 g", 1520),
        ("1520g", 1520),
        ("1520.5", 1520.5),
        ("1520,5", 1520.5),
        ("1 520", 1520),
        ("1\u00a0520 gr.", 1520),
        ("1,5 kg", 1500),
        ("1.520 kg", 1520),
        ("1.520,5", 1520.5),
        ("1,520.5 g", 1520.5),
        ("0.625", 0.625),
        ("-5", -5),
        ("152.125", 152.125),
    ],
)
def test_a_weight_with_one_reading_is_read(text: str, grams: float) -> None:
    assert parse_grams(text) == (pytest.approx(grams), "")


@pytest.mark.parametrize("text", ["1.520", "1,520", "1.520 g", "1,520 grams"])
def test_a_weight_with_two_readings_is_asked_back_in_its_plain_form(text: str) -> None:
    assert parse_grams(text) == (None, "Write 1520 if that is the weight in grams.")


@pytest.mark.parametrize("text", ["3 lb", "heavy", "1500-1600", "", "1.2.3", "12 oz"])
def test_a_weight_that_is_none_is_no_number(text: str) -> None:
    assert parse_grams(text)[0] is None


@pytest.mark.parametrize(
    ("text", "value", "repair"),
    [
        ("2,5", 2.5, ""),
        ("6", 6.0, ""),
        ("6 eggs", None, "Write 6."),
        ("4-6", None, ""),
        ("five", None, ""),
        ("5.125", 5.125, ""),
    ],
)
def test_counts_and_scores(text: str, value: float | None, repair: str) -> None:
    assert parse_number(text) == (value, repair)


@given(st.floats(min_value=10_001, max_value=1e9) | st.floats(min_value=0, max_value=1))
def test_a_plain_number_reads_back(value: float) -> None:
    text = f"{value:.6f}"
    assert parse_number(text)[0] == pytest.approx(value, abs=1e-6)
    assert parse_grams(text)[0] == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    "text",
    ["2026-12-03", "2026-12-3", "2026/12/03", "2026.12.03", "20261203", "2026-12-03 00:00:00"],
)
def test_a_date_with_the_year_first_is_read(text: str) -> None:
    assert parse_day(text) == (date(2026, 12, 3), "")


@pytest.mark.parametrize(
    ("text", "repair"),
    [
        ("03.12.2025", "Write 2025-12-03."),
        ("25/12/2025", "Write 2025-12-25."),
        ("12/25/25", "Write 2025-12-25."),
        ("5/5/25", "Write 2025-05-05."),
        (
            "3/12/25",
            "It may mean 2025-12-03 (day first) or 2025-03-12 (month first); "
            "write the one that is meant.",
        ),
        ("3 March 2024", "Write 2024-03-03."),
        ("Mar 3rd, 2024", "Write 2024-03-03."),
        ("2024", "Where only the year is known, write its middle: 2024-07-01."),
        ("2024-6", "Where only the month is known, write its middle: 2024-06-15."),
        ("2026-02-30", "There is no such day."),
        ("31.11.2026", "There is no such day."),
        ("soon", ""),
    ],
)
def test_any_other_date_is_asked_back_in_iso_form(text: str, repair: str) -> None:
    assert parse_day(text) == (None, repair)


def test_a_spreadsheets_day_number_is_recognised() -> None:
    # The 1900 date system of spreadsheets: serial 45658 is 2025-01-01.
    assert "2025-01-01" in parse_day("45658")[1]


@given(st.dates(min_value=date(1950, 1, 1), max_value=date(2100, 1, 1)))
def test_every_iso_date_reads_back(day: date) -> None:
    assert parse_day(day.isoformat()) == (day, "")
    assert day.isoformat() in parse_day(day.strftime("%d.%m.%Y"))[1] or day.year >= 2100
    assert parse_day((day + timedelta(days=1)).isoformat())[0] != day


def test_numbers_are_written_without_a_needless_fraction() -> None:
    assert [plain_number(v) for v in (1520.0, 2.5, 0.0625)] == ["1520", "2.5", "0.0625"]
