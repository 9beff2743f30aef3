"""How many females a male may be given, and why."""

from __future__ import annotations

from datetime import date

import pytest

from brumal.records.animals import Animal
from brumal.rules.males import male_limit
from records_by_hand import male, records, weighed


def test_his_own_figure_goes_before_the_limit() -> None:
    him = male(max_pairings=0)
    season = records([him], sections={"limits": {"pairings_per_male": 4}})
    assert male_limit(him, season) == (0, "max_pairings in the animals table")
    other = male("M2")
    assert male_limit(other, season) == (4, "pairings_per_male in season.yaml")


@pytest.mark.parametrize(
    ("him", "limit"),
    [
        (male(hatched=date(2025, 7, 1), weight_g=800.0), 2),
        (male(hatched=date(2023, 7, 1), weight_g=690.0), 2),
        (male(hatched=date(2024, 8, 1), weight_g=1100.0), 4),
        (male(hatched=date(2021, 7, 1), weight_g=900.0), 4),
        (male(hatched=date(2021, 7, 1), weight_g=1100.0), 6),
        (male(), 6),
    ],
)
def test_age_and_weight_decide_otherwise(him: Animal, limit: int) -> None:
    """Common practice, no source."""
    assert male_limit(him, records([him]))[0] == limit


def test_the_reason_names_his_age_and_weight() -> None:
    him = male(hatched=date(2025, 7, 1))
    scales = weighed("M1", 640, 660, last=date(2026, 11, 1))
    assert male_limit(him, records([him], scales)) == (
        2,
        "common practice under 18 months or under 700 g (17 months old, 660 g)",
    )
