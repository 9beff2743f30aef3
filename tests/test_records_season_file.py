"""season.yaml: every key by line, in the keeper's words; and YAML that cannot be read."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from brumal.records.faults import Severity
from brumal.records.read import read_season
from brumal.records.season_file import settings_from_mapping
from brumal.records.settings import BySex, Settings
from brumal.records.yaml_text import read_yaml, show_path
from season_folders import ANIMALS, SEASON, faults_in, season_folder, told


def settings_of(folder: Path, text: str) -> Settings:
    records, faults = read_season(season_folder(folder, season=text))
    assert records is not None, told(faults)
    return records.settings


FULL = """
season: {name: Example, pair_from: 2026-12-01, pair_to: 2027-03-31}
currency: EUR
assume: {goes: 0.8, fertile: 0.9, hatched: 0.95, eggs: 6}
limits: {boxes: 12, tubs: 90, pairings_per_male: 4, max_F: 0.0625}
box: {clutches: 2, small_clutch: 6}
rules: {female_weight_g: 1500, condition: [2, 4], recovered_share: 0.9}
values:
  base: 30
  wanted:
    - {morph: Clown, value: 250}
    - {morph: Pastel Clown, value: {female: 420, male: 350}, need: 3, value_after: 200}
    - {morph: Super Pastel, value: 110, keep: {count: 1, sex: female, extra: 150}, chance: 0.5}
  extra: {visual: {Pastel: 20}, het: {Clown: 60}}
costs: {pairing: 5, egg: 1, hatchling: 12}
locks: {must_pair: [[F01, M01]], never_pair: [], sit_out: [F02], already_paired: []}
"""


def test_the_documented_example_is_read(tmp_path: Path) -> None:
    settings = settings_of(tmp_path, FULL)
    assert settings.season.pair_from == date(2026, 12, 1)
    assert settings.limits.boxes == 12
    assert settings.values.wanted[1].value == BySex(female=420, male=350)
    assert settings.values.wanted[2].keep is not None
    assert settings.values.extra.het == {"Clown": 60}
    assert settings.locks.must_pair == (("F01", "M01"),)


def test_keys_left_out_or_left_empty_have_their_defaults(tmp_path: Path) -> None:
    bare = settings_of(tmp_path, SEASON)
    assert bare.limits.max_F == 0.0625
    assert settings_of(tmp_path, f"{SEASON}limits:\nassume: {{goes: }}\nlocks: ~\n") == bare


def test_ids_and_names_stay_as_written(tmp_path: Path) -> None:
    animals = "id,sex,morph\n007,f,Normal\nno,m,Normal\n"
    season = f"{SEASON.replace('Test', '2027')}locks: {{must_pair: [[007, no]]}}\n"
    records, faults = read_season(season_folder(tmp_path, animals=animals, season=season))
    assert records is not None, told(faults)
    assert records.settings.season.name == "2027"
    assert records.settings.locks.must_pair == (("007", "no"),)


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (
            "limits: {boxs: 12}",
            "season.yaml, line 2, limits.boxs: found an unknown key 'boxs'; expected one of boxes, "
            "tubs, weekly, pairings_per_male, max_F, spend, resting, sire_share. Did you mean "
            "'boxes'?",
        ),
        (
            "limits:\n  boxes: a few",
            "season.yaml, line 3, limits.boxes: found 'a few'; expected a whole number of 0 or "
            "more",
        ),
        (
            "limits: {boxes: -1}",
            "season.yaml, line 2, limits.boxes: found '-1'; expected a whole number of 0 or more",
        ),
        (
            "limits: {boxes: 2.5}",
            "season.yaml, line 2, limits.boxes: found '2.5'; expected a whole number of 0 or more",
        ),
        (
            "limits: {max_F: 6.25%}",
            "season.yaml, line 2, limits.max_F: found '6.25%'; expected a share from 0 to 1, such "
            "as 0.9. Write 0.0625.",
        ),
        (
            "assume:\n  goes: 0,8",
            "season.yaml, line 3, assume.goes: found '0,8'; expected a share from 0 to 1, such as "
            "0.9. Write 0.8.",
        ),
        (
            "assume: {goes: 0,8}",
            "season.yaml, line 2, assume.8: found an unknown key '8'; expected one of goes, "
            "fertile, hatched, eggs. A decimal comma? Write a point: 1.5.",
        ),
        (
            "costs: {egg: 1 EUR}",
            "season.yaml, line 2, costs.egg: found '1 EUR'; expected a number of 0 or more. Write "
            "1.",
        ),
        (
            "costs: 5",
            "season.yaml, line 2, costs: found '5'; expected a group of the keys pairing, egg, "
            "hatchling, adult_feed, adult_place",
        ),
        (
            "rules: {condition: [2]}",
            "season.yaml, line 2, rules.condition: found '[2]'; expected two numbers in brackets, "
            "the smaller first, such as [2, 4]",
        ),
        (
            "rules: {condition: [4, 2]}",
            "season.yaml, line 2, rules.condition: found '[4, 2]'; expected two numbers in "
            "brackets, the smaller first, such as [2, 4]",
        ),
        (
            "rules: {condition: [0, 4]}",
            "season.yaml, line 2, rules.condition: found 0; expected 2 or more. It guards the "
            "animals' health: 1 is thin and 3 ideal: under 2 is nearer thin (common practice, no "
            "source).",
        ),
        (
            "rules: {first_clutch_condition: [3, 9]}",
            "season.yaml, line 2, rules.first_clutch_condition: found 9; expected 4.5 or less. It "
            "guards the animals' health: as for a female that has laid (common practice, no "
            "source).",
        ),
        (
            "records: {failures: maybe}",
            "season.yaml, line 2, records.failures: found 'maybe'; expected true or false",
        ),
        (
            "values:\n  wanted:\n    - {morph: Clown}",
            "season.yaml, line 4, values.wanted[1].value: found nothing; expected a number of 0 "
            "or more or a group of the keys female, male",
        ),
        (
            "values:\n  wanted:\n    - {morph: Clown, value: {femal: 3}}",
            "season.yaml, line 4, values.wanted[1].value.femal: found an unknown key 'femal'; "
            "expected one of female, male. Did you mean 'female' or 'male'?",
        ),
        (
            "values: {wanted: [{morph: Clown, value: {female: }}]}",
            "season.yaml, line 2, values.wanted[1].value: found a value for neither sex; expected "
            "a number, or {female: number, male: number}",
        ),
        (
            "values: {wanted: [{morph: Clown, value: 9, keep: {count: 1, sex: femal}}]}",
            "season.yaml, line 2, values.wanted[1].keep.sex: found 'femal'; expected female or "
            "male. Did you mean 'female'?",
        ),
        (
            "values: {wanted: [{morph: Clown, value: 9, chance: 1}]}",
            "season.yaml, line 2, values.wanted[1].chance: found '1'; expected a share between 0 "
            "and 1, such as 0.5",
        ),
        (
            "values:\n  wanted:\n    - {morph: Clown, value: 9}\n    - {morph: clown, value: 8}",
            "season.yaml, line 5, values.wanted[2].morph: found 'clown' again (first as entry 1); "
            "expected each morph once. Put the two entries together.",
        ),
        (
            "values: {extra: {visual: {Pastel: }}}",
            "season.yaml, line 2, values.extra.visual.Pastel: found nothing; expected a number "
            "of 0 or more or a group of the keys female, male",
        ),
        (
            "values: {wanted: {morph: Clown, value: 9}}",
            "season.yaml, line 2, values.wanted: found a group with the keys morph, value; "
            "expected a list in which each entry is a group of the keys morph, value, need, "
            "value_after, keep, chance, by",
        ),
        (
            "locks: {must_pair: [[F01, M01, M02]]}",
            "season.yaml, line 2, locks.must_pair[1]: found '[F01, M01, M02]'; expected a pair in "
            "brackets, [dam, sire]",
        ),
        (
            "locks: {must_pair: [[M01, F01]]}",
            "season.yaml, line 2, locks.must_pair[1]: found [M01, F01]: sire and dam swapped; "
            "expected [dam, sire]. Write [F01, M01].",
        ),
        (
            "locks:\n  must_pair:\n    - [F01, F02]",
            "season.yaml, line 4, locks.must_pair[1][2]: found 'F02', a female; expected a male as "
            "sire",
        ),
        (
            "locks: {sit_out: [f-1]}",
            "season.yaml, line 2, locks.sit_out[1]: found 'f-1'; expected an id of the animals "
            "table. Did you mean 'F01'?",
        ),
        (
            "locks: {already_paired: [[F01, M01], [F01, M02]]}",
            "season.yaml, line 2, locks.already_paired[2]: found F01 x M02, and F01 x M01 before "
            "it; expected one male for a female in a season. Keep the male that is most likely the "
            "sire.",
        ),
        (
            "dates: {incubation: [60, 55]}",
            "season.yaml, line 2, dates.incubation: found '[60, 55]'; expected two whole numbers "
            "in brackets, the smaller first, such as [2, 4]",
        ),
        (
            "kin: {exceptions: [[F01, M01]]}",
            "season.yaml, line 2, kin.exceptions[1]: found '[F01, M01]'; expected two ids and a "
            "text in brackets",
        ),
        (
            "limits: {}\nlimits: {}",
            "season.yaml, line 3, limits: found the key 'limits' again (first in line 2); expected "
            "each key once. Remove one of them, or put both together.",
        ),
        (
            "costs: {egg: *all}",
            "season.yaml, line 2: found a reference (*all); expected plain values. Write the value "
            "out; a text that starts with * needs quotation marks.",
        ),
        (
            "costs:\n\tegg: 1",
            "season.yaml, line 3: found a tab; expected YAML: a key, a colon, a space and a value. "
            "Indent with spaces.",
        ),
        (
            "costs: {egg: 1",
            "season.yaml, line 3: found expected ',' or '}', but got '<stream end>'; expected "
            "YAML: a key, a colon, a space and a value. Look at this line and the one above: a "
            "colon, a bracket or a quotation mark is off.",
        ),
        (
            "  costs: {egg: 1}",
            "season.yaml, line 2: found a key or a bracket that does not fit the indent; expected "
            "YAML: a key, a colon, a space and a value. Indent keys of one group alike, with "
            "spaces.",
        ),
    ],
)
def test_each_wrong_key_is_told_by_line(tmp_path: Path, lines: str, said: str) -> None:
    animals = f"{ANIMALS}M02,Hail,male,2020-07-01,,,Normal,900,2026-11-01,3,breeder,\n"
    faults = faults_in(tmp_path, animals=animals, season=f"{SEASON}{lines}\n")
    assert told(faults, Severity.ERROR) == [said]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "season: {name: T, pair_from: 2026-12-01}",
            "season.yaml, line 1, season.pair_to: found nothing; expected a date as "
            "year-month-day, such as 2026-12-01",
        ),
        (
            "season: {name: T, pair_from: 2026-12-01, pair_to: 31.3.2027}",
            "season.yaml, line 1, season.pair_to: found '31.3.2027'; expected a date as "
            "year-month-day, such as 2026-12-01. Write 2027-03-31.",
        ),
        (
            "season:\n  name: T\n  pair_from: 2026-12-01\n  pair_to: 2026-03-31",
            "season.yaml, line 4, season.pair_to: found '2026-03-31'; expected a date not before "
            "pair_from (2026-12-01). Is it the right year?",
        ),
        (
            "limits: {boxes: 1}",
            "season.yaml, season: found nothing; expected a group of the keys name, pair_from, "
            "pair_to, as_of, keep_pairs_for",
        ),
        (
            "- a list",
            "season.yaml: found no keys; expected keys with a colon, such as `season:` and "
            "`limits:`. `brumal new FOLDER` makes a folder of templates to start from.",
        ),
        (
            "[" * 900 + "]" * 900,
            "season.yaml: found brackets nested without end; expected YAML text",
        ),
        (
            "a: \x07",
            "season.yaml: found unacceptable character #x0007: special characters are not "
            "allowed; expected YAML text",
        ),
    ],
)
def test_a_file_without_a_season_is_told(tmp_path: Path, text: str, said: str) -> None:
    assert said in told(faults_in(tmp_path, season=text), Severity.ERROR)


def test_a_value_after_without_need_is_warned_of(tmp_path: Path) -> None:
    lines = "values: {wanted: [{morph: Clown, value: 9, value_after: 3}]}"
    (said,) = told(faults_in(tmp_path, season=f"{SEASON}{lines}"))
    assert "Without need it is not used." in said


def test_all_faults_of_the_file_come_at_once(tmp_path: Path) -> None:
    lines = "limits: {boxs: 1, max_F: 2}\ncosts: {egg: x}\nlocks: {sit_out: [nobody]}\nprices: 1\n"
    faults = faults_in(tmp_path, season=SEASON + lines)
    assert [(f.where.row, f.where.column) for f in faults] == [
        (2, "limits.boxs"),
        (2, "limits.max_F"),
        (3, "costs.egg"),
        (4, "locks.sit_out[1]"),
        (5, "prices"),
    ]


def test_a_mapping_in_hand_becomes_settings_too() -> None:
    data = {
        "season": {"name": "T", "pair_from": date(2026, 12, 1), "pair_to": date(2027, 3, 31)},
        "limits": {"boxes": 3, "max_F": None},
    }
    settings, faults = settings_from_mapping(data, "what-if/x.yaml", {})
    assert faults == ()
    assert settings is not None
    assert (settings.limits.boxes, settings.limits.max_F) == (3, 0.0625)


def test_lines_of_every_key_and_entry() -> None:
    document, faults = read_yaml("a:\n  - b: 1\n  - c:\n      d: 2\n", "x.yaml")
    assert faults == []
    assert document is not None
    assert document.data == {"a": [{"b": "1"}, {"c": {"d": "2"}}]}
    assert document.lines == {
        ("a",): 1,
        ("a", 0): 2,
        ("a", 0, "b"): 2,
        ("a", 1): 3,
        ("a", 1, "c"): 3,
        ("a", 1, "c", "d"): 4,
    }
    assert show_path(("a", 1, "c", "d")) == "a[2].c.d"
