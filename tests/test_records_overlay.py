"""Overlays: what they change, old to new, and every way in which one can be wrong."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.records.animals import Animal, Clutch, Sex, Weighing
from brumal.records.folder import SeasonRecords
from brumal.records.overlay_tree import settings_tree
from brumal.records.overlays import overlays_of
from brumal.records.read import read_season
from brumal.records.season_file import settings_from_mapping
from brumal.records.sweep_range import axis_of_text
from brumal.records.variant import Variant, variant_of
from season_folders import season_folder

ANIMALS = """id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,last_laid
F01,Frost,female,2021-06-10,,,Clown,1820,2026-11-01,3,breeder,
F02,Rime,female,2022-07-01,F01,M01,het Clown,,,3,breeder,
M01,Sleet,male,2020-07-01,,,Pastel,900,2026-11-01,3,breeder,
"""
WEIGHTS = """animal,date,grams
F02,2026-09-01,1450
F02,2026-11-05,1520
"""
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
limits: {boxes: 9, tubs: 60}
values:
  base: 30
  wanted:
    - {morph: Clown, value: 200, need: 2, value_after: 90}
    - {morph: Pastel Clown, value: {female: 420, male: 350}, chance: 0.5}
  extra: {visual: {Pastel: 20}}
locks: {sit_out: [F01]}
"""


@pytest.fixture
def season(tmp_path: Path) -> SeasonRecords:
    folder = season_folder(tmp_path, animals=ANIMALS, weights=WEIGHTS, season=SEASON)
    records, _ = read_season(folder)
    assert records is not None
    return records


def under(season: SeasonRecords, *names: str, **texts: str) -> Variant:
    """Return the season under overlays given as text; all of them unless names are given."""
    records = replace(season, what_if=texts)
    return variant_of(records, overlays_of(records), names or tuple(texts))


def told(variant: Variant) -> list[str]:
    return [str(change) for change in variant.changes]


def faults(variant: Variant) -> list[str]:
    return [str(fault) for fault in variant.faults]


CHANGES = {
    "limits: {boxes: 16}": "limits.boxes: 9 -> 16",
    "limits: {boxes: }": "limits.boxes: 9 -> no limit",
    "limits: {weekly: false}": "limits.weekly: 0.9 -> false",
    "limits: {max_F: 0.125}": "limits.max_F: 0.0625 -> 0.125",
    "season: {pair_from: 2026-11-15}": "season.pair_from: 2026-12-01 -> 2026-11-15",
    "values: {wanted: {clown: {value: 145}}}": "values.wanted.Clown.value: 200 -> 145",
    "values: {wanted: {Clown: 145}}": "values.wanted.Clown.value: 200 -> 145",
    "values: {wanted: {Pastel Clown: {chance: }}}": (
        "values.wanted.Pastel Clown.chance: 0.5 -> not given"
    ),
    "values: {wanted: {Pastel  Clown: {value: {male: 300}}}}": (
        "values.wanted.Pastel Clown.value.male: 350 -> 300"
    ),
    "values: {wanted: {Clown: drop}}": (
        "values.wanted.Clown: value 200, need 2, value_after 90 -> not there"
    ),
    "values: {wanted: {Pastel: 60}}": "values.wanted.Pastel: not there -> value 60",
    "values: {extra: {visual: {pastel: 25}}}": "values.extra.visual.Pastel: 20 -> 25",
    "values: {extra: {visual: {Pastel: }}}": "values.extra.visual.Pastel: 20 -> not given",
    "locks: {sit_out: [F02]}": "locks.sit_out: [F01] -> [F02]",
    "locks: {sit_out: []}": "locks.sit_out: [F01] -> none",
    "animals: {M01: {status: outside}}": "animals.M01.status: breeder -> outside",
    "animals: {F02: {morph: 66% het Clown}}": "animals.F02.morph: het Clown -> 66% het Clown",
    "animals: {F01: {weight_g: 1900}}": "animals.F01.weight_g: 1820 -> 1900",
    "animals: {F01: {weight_g: -120}}": "animals.F01.weight_g: 1820 -> 1700",
    "animals: {F02: {weight_g: 1600}}": ("animals.F02.weight_g: 1520 (weighed 2026-11-05) -> 1600"),
    "animals: {F02: {weight_g: +50}}": "animals.F02.weight_g: 1520 (weighed 2026-11-05) -> 1570",
    "animals: {F01: {condition: }}": "animals.F01.condition: 3 -> not known",
    "animals: {M02: {sex: m, morph: Clown, status: loan}}": (
        "animals.M02: not there -> added (m, Clown, loan)"
    ),
}


@pytest.mark.parametrize("text", CHANGES)
def test_a_change_is_told_old_to_new(season: SeasonRecords, text: str) -> None:
    before = copy.deepcopy(season)
    variant = under(season, a=text)
    assert faults(variant) == []
    assert told(variant) == [CHANGES[text]]
    assert variant.changes[0].by == "a"
    assert variant.records is not None
    assert season == before


def test_a_list_takes_the_place_of_the_list(season: SeasonRecords) -> None:
    variant = under(season, a="values: {wanted: [{morph: Pastel Clown, value: 300}]}")
    assert told(variant) == [
        "values.wanted.Clown: value 200, need 2, value_after 90 -> not there",
        "values.wanted.Pastel Clown.value: female 420, male 350 -> 300",
        "values.wanted.Pastel Clown.chance: 0.5 -> not given",
    ]


def test_a_difference_moves_every_weighing_since_she_last_laid(season: SeasonRecords) -> None:
    variant = under(season, a="animals: {F02: {weight_g: +50}}")
    assert variant.records is not None
    assert [w.grams for w in variant.records.weighings] == [1500, 1570]
    laid = replace(season, clutches=(Clutch(dam="F02", laid=date(2026, 9, 20), eggs=5),))
    variant = under(laid, a="animals: {F02: {weight_g: -20}}")
    assert variant.records is not None
    assert [w.grams for w in variant.records.weighings] == [1450, 1500]


def test_a_weight_takes_the_place_of_the_weighing_that_counts(season: SeasonRecords) -> None:
    variant = under(season, a="animals: {F02: {weight_g: 1600}}")
    assert variant.records is not None
    assert [w.grams for w in variant.records.weighings] == [1450, 1600]
    dated = under(season, a="animals: {F02: {weight_g: 1600, weighed: 2026-11-20}}")
    assert dated.records is not None
    assert dated.records.weighings == season.weighings
    assert dated.records.animals[1].weighed == date(2026, 11, 20)


def test_money_that_passes_once_is_summed(season: SeasonRecords) -> None:
    variant = under(
        season,
        a="paid: 350\nlimits: {boxes: 12}",
        b="animals:\n  M02: {sex: male, morph: Clown, status: loan, paid: 150}\n"
        "  F02: {status: outside, received: 400}",
    )
    assert faults(variant) == []
    assert (variant.paid, variant.received) == (500, 400)
    assert variant.fees == {"M02": (150, 0), "F02": (0, 400)}
    assert variant.joined == ("M02",)


def test_one_extends_another(season: SeasonRecords) -> None:
    variant = under(
        season, "b", a="limits: {boxes: 12}\npaid: 9", b="extends: a\nlimits: {tubs: 90}"
    )
    assert told(variant) == ["limits.boxes: 9 -> 12", "limits.tubs: 60 -> 90"]
    assert [change.by for change in variant.changes] == ["a", "b"]
    assert variant.paid == 9


FAULTS = {
    "limits: {boxes: 9}": (
        "what-if/a.yaml, line 1, limits.boxes: found limits.boxes: 9; expected something other "
        "than what season.yaml and its defaults say already. It touches nothing: remove it."
    ),
    "# nothing": "what-if/a.yaml: found no keys; expected what the scenario changes, such as "
    "`limits: {boxes: 16}`",
    "\nlimits: {boxs: 12}": (
        "what-if/a.yaml, line 2, limits.boxs: found an unknown key 'boxs'; expected one of boxes, "
        "tubs, weekly, pairings_per_male, max_F, spend, resting, sire_share. Did you mean 'boxes'?"
    ),
    "limits: {boxes: many}": (
        "what-if/a.yaml, line 1, limits.boxes: found 'many'; expected a whole number of 0 or more"
    ),
    "values: {wanted: {Clwn: drop}}": (
        "what-if/a.yaml, line 1, values.wanted.Clwn: found 'Clwn' to be dropped; expected a morph "
        "of values.wanted (Clown, Pastel Clown). Did you mean 'Clown'?"
    ),
    "values: {wanted: {Clwn: {need: 3}}}": (
        "what-if/a.yaml, line 1, values.wanted.Clwn: found 'Clwn' without a value; expected a "
        "morph of values.wanted (Clown, Pastel Clown). Did you mean 'Clown'?"
    ),
    "values: {wanted: {Pastel Clown: {chanse: 0.4}}}": (
        "what-if/a.yaml, line 1, values.wanted.Pastel Clown.chanse: found an unknown key "
        "'chanse'; expected one of morph, value, need, value_after, keep, chance, by. Did you mean "
        "'chance'?"
    ),
    "animals:\n  F1: {status: outside}": (
        "what-if/a.yaml, line 2, animals.F1: found 'F1'; expected an id of the animals table, or "
        "a new animal with sex and morph. Did you mean 'F01'?"
    ),
    "animals:\n  F01:\n    statu: outside": (
        "what-if/a.yaml, line 3, animals.F01.statu: found an unknown key 'statu'; expected one of "
        "name, sex, hatched, dam, sire, morph, weight_g, weighed, condition, status, last_laid, "
        "max_pairings, expected_eggs, arrived, vet_cleared, notes, paid, received. Did you mean "
        "'status'?"
    ),
    "animals: {F01: {condition: 7}}": (
        "what-if/a.yaml, line 1, animals.F01.condition: found '7'; expected a number from 1 to 5"
    ),
    "animals: {F02: {weight_g: 1600, weighed: 2026-10-01}}": (
        "what-if/a.yaml, line 1, animals.F02.weighed: found a weight of 2026-10-01; expected a "
        "day after the last weighing on record (2026-11-05). It would touch nothing. Without "
        "`weighed` it takes that weighing's place."
    ),
    "animals: {F01: {weighed: 2028-01-01}}": (
        "what-if/a.yaml, line 1, animals.F01.weighed: found '2028-01-01'; expected a date not "
        "after the season's pair_to (2027-03-31). Is it the right year?"
    ),
    "locks:\n  must_pair: [[F01, M9]]": (
        "what-if/a.yaml, line 2, locks.must_pair[1][2]: found 'M9'; expected an id of the animals "
        "table"
    ),
    "paid: -20\nlimits: {boxes: 12}": (
        "what-if/a.yaml, line 1, paid: found '-20'; expected money of 0 or more, such as 900. "
        "Money that goes the other way is `received`."
    ),
    "extends: b\nlimits: {boxes: 12}": (
        "what-if/a.yaml, line 1, extends: found 'b'; expected the name of a file in what-if"
    ),
    "extends: a\nlimits: {boxes: 12}": (
        "what-if/a.yaml, line 1, extends: found 'a'; expected the name of another scenario, not "
        "its own"
    ),
    "option: perhaps\nlimits: {boxes: 12}": (
        "what-if/a.yaml, line 1, option: found 'perhaps'; expected true or false"
    ),
    "sweep: {limits.boxes: {from: 10, till: 40}}": (
        "what-if/a.yaml, line 1, sweep.limits.boxes: found an unknown key 'till'; expected numbers "
        "{from: 10, to: 40, by: 2}, from the smaller to the larger, or a list"
    ),
    "sweep: {limit.boxes: {from: 10, to: 40}}": (
        "what-if/a.yaml, line 1, sweep.limit.boxes: found the key 'limit.boxes'; expected a key "
        "such as limits.boxes, values.wanted.Clown.value or animals.F01.weight_g. Did you mean "
        "'limits'?"
    ),
}


@pytest.mark.parametrize("text", FAULTS)
def test_a_fault_is_told_by_line(season: SeasonRecords, text: str) -> None:
    variant = under(season, a=text)
    assert variant.records is None
    assert faults(variant) == [FAULTS[text]]


def test_all_faults_at_once(season: SeasonRecords) -> None:
    variant = under(
        season, a="limits: {boxes: nine}\nanimals: {F01: {condition: x, status: outsid}}"
    )
    assert [fault.where.column for fault in variant.faults] == [
        "limits.boxes",
        "animals.F01.status",
        "animals.F01.condition",
    ]


def test_two_that_fight_are_both_named(season: SeasonRecords) -> None:
    expected = [
        "what-if/b.yaml, line 2, limits.boxes: found limits.boxes: 14, against limits.boxes: 12 in "
        "a (what-if/a.yaml, line 1); expected scenarios that do not set the same thing "
        "differently. Take it out of a or of b."
    ]
    texts = {"a": "limits: {boxes: 12}", "b": "limits:\n  boxes: 14"}
    assert faults(under(season, "a", "b", **texts)) == expected
    assert faults(under(season, "b", "a", **texts)) == expected
    chained = {**texts, "b": "limits:\n  boxes: 14\nextends: a"}
    assert faults(under(season, "b", **chained)) == expected


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ("values: {wanted: [{morph: Clown, value: 10}]}", "values: {wanted: {clown: 145}}"),
        ("values: {wanted: {Clown: drop}}", "values: {wanted: {Clown: {value: 5}}}"),
        ("limits: ", "limits: {boxes: 12}"),
        ("animals: {F01: {status: outside}}", "animals: {F01: {status: retired}}"),
    ],
)
def test_a_whole_and_its_part_fight(season: SeasonRecords, one: str, two: str) -> None:
    assert under(season, a=one, b=two).records is None


def test_the_same_change_twice_is_no_fight_unless_one_extends_the_other(
    season: SeasonRecords,
) -> None:
    same = "limits: {boxes: 12}"
    assert under(season, "a", "b", a=same, b=same).faults == ()
    assert faults(under(season, "b", a=same, b=f"extends: a\n{same}")) == [
        "what-if/b.yaml, line 2, limits.boxes: found limits.boxes: 12, which a (what-if/a.yaml, "
        "line 1) sets already; expected a change. It touches nothing: remove it here or there."
    ]


def test_a_circle_is_told(season: SeasonRecords) -> None:
    variant = under(
        season,
        "a",
        a="extends: b\nlimits: {boxes: 12}",
        b="extends: a\nlimits: {tubs: 90}",
    )
    assert faults(variant) == [
        "what-if/b.yaml, line 1, extends: found a circle: a -> b -> a; expected an end to it"
    ]


def test_an_unknown_name_is_told_with_the_nearest(season: SeasonRecords) -> None:
    variant = under(season, "more-boxs", **{"more-boxes": "limits: {boxes: 12}"})
    assert faults(variant) == [
        "what-if: found no scenario 'more-boxs'; expected one of the scenarios in the folder "
        "(more-boxes). Did you mean 'more-boxes'?"
    ]


def test_faults_of_the_season_itself_are_not_told_again(season: SeasonRecords) -> None:
    stranger = replace(season.animals[0], id="F09", dam="Z9", row=9)
    records = replace(season, animals=(*season.animals, stranger))
    assert under(records, a="limits: {boxes: 12}").faults == ()


SECTIONS = {
    "limits: {boxes: 12}": "limits",
    "values: {wanted: {Clown: 145}}": "values",
    "locks: {sit_out: [F02]}": "locks",
    "animals: {F01: {condition: 2}}": "animals.F01",
    "animals: {M02: {sex: male, morph: Clown}}": "animals.M02",
    "animals: {F02: {weight_g: +40}}": "animals.F02",
}


@settings(deadline=None, max_examples=50)
@given(st.permutations(sorted(SECTIONS)))
def test_the_order_of_overlays_does_not_matter(order: list[str]) -> None:
    records = _fixed()
    texts = {f"o{n}": text for n, text in enumerate(sorted(SECTIONS))}
    names = [f"o{sorted(SECTIONS).index(text)}" for text in order]
    first = under(records, *sorted(texts), **texts)
    other = under(records, *names, **texts)
    assert first.faults == other.faults == ()
    assert first.records == other.records
    assert first.changes == other.changes


def _fixed() -> SeasonRecords:
    settings, _ = settings_from_mapping(_mapping(), "season.yaml", {})
    assert settings is not None
    return SeasonRecords(
        animals=(
            Animal(id="F01", sex=Sex.FEMALE, morph="Clown", condition=3, row=2),
            Animal(id="F02", sex=Sex.FEMALE, row=3),
            Animal(id="M01", sex=Sex.MALE, row=4),
        ),
        weighings=(Weighing(animal="F02", date=date(2026, 11, 1), grams=1500, row=2),),
        settings=settings,
    )


def _mapping() -> Mapping[str, object]:
    return {
        "season": {"name": "Test", "pair_from": "2026-12-01", "pair_to": "2027-03-31"},
        "limits": {"boxes": 9},
        "values": {"wanted": [{"morph": "Clown", "value": {"female": 9, "male": 8}}]},
        "locks": {"sit_out": ["F01"]},
        "kin": {"exceptions": [["F01", "M01", "asked"]]},
    }


def test_settings_as_a_tree_read_back_to_themselves() -> None:
    settings = _fixed().settings
    again, found = settings_from_mapping(settings_tree(settings), "season.yaml", {})
    assert found == ()
    assert again == settings


def test_a_sweep_is_stepped_in_decimals() -> None:
    axis, found = axis_of_text("limits.max_F=0:0.3:0.1")
    assert found == []
    assert axis is not None
    assert axis.steps == ("0", "0.1", "0.2", "0.3")
    assert axis.path == ("limits", "max_F")


@pytest.mark.parametrize("text", ["limits.boxes", "=1:2", "a=1", "a=4:2", "a=1:2:0", "a=1:9999"])
def test_a_sweep_that_cannot_be_is_told(text: str) -> None:
    axis, found = axis_of_text(text)
    assert axis is None
    assert len(found) == 1
    assert str(found[0]).startswith(f"--sweep, {text}: found ")
