"""Floors: limits that guard health cannot be set looser, and the defaults keep within them."""

from __future__ import annotations

from pathlib import Path

import pytest

from brumal.records.faults import Severity
from brumal.records.floors import FLOORS, Floor
from brumal.records.settings import RuleLimits
from season_folders import faults_in, told

HEAD = "season: {name: T, pair_from: 2026-12-01, pair_to: 2027-03-31}\n"


def written(floor: Floor, value: float) -> str:
    if floor.place is None:
        return f"{HEAD}rules: {{{floor.key}: {value:g}}}\n"
    ends = [2.5, 4.0]
    ends[floor.place] = value
    return f"{HEAD}rules: {{{floor.key}: [{min(ends):g}, {max(ends):g}]}}\n"


@pytest.mark.parametrize("floor", FLOORS, ids=lambda floor: f"{floor.key}{floor.place or ''}")
def test_a_limit_beyond_its_floor_is_a_fault_that_says_why(tmp_path: Path, floor: Floor) -> None:
    step = 0.1 if floor.key in ("condition", "recovered_share") else 1
    beyond = floor.bound + (step if floor.most else -step)
    errors = told(faults_in(tmp_path, season=written(floor, beyond)), Severity.ERROR)
    assert len(errors) == 1
    assert f"rules.{floor.key}: found {beyond:g}; expected {floor.words}" in errors[0]
    assert floor.why in errors[0]
    assert not told(faults_in(tmp_path, season=written(floor, floor.bound)), Severity.ERROR)


def test_one_gram_is_no_limit(tmp_path: Path) -> None:
    (error,) = told(
        faults_in(tmp_path, season=f"{HEAD}rules: {{female_weight_g: 1}}\n"), Severity.ERROR
    )
    assert "season.yaml, line 2, rules.female_weight_g: found 1; expected 1200 or more" in error


def test_defaults_keep_within_their_floors() -> None:
    for floor in FLOORS:
        value = floor.value(RuleLimits())
        assert value is None or (value <= floor.bound if floor.most else value >= floor.bound)


def test_no_less_is_asked_of_a_female_whose_clutch_is_not_on_record(tmp_path: Path) -> None:
    text = f"{HEAD}rules: {{female_weight_g: 1500, proven_female_weight_g: 1700}}\n"
    (error,) = told(faults_in(tmp_path, season=text), Severity.ERROR)
    assert "proven_female_weight_g: found 1700; expected at most female_weight_g (1500)" in error
