"""Scaled prices, groups and differences against the same overlays written out by hand."""

from __future__ import annotations

import copy
from dataclasses import replace
from pathlib import Path

import pytest

from brumal.insight.compare.comparison import Request, compare
from brumal.insight.compare.parallel import Bench
from brumal.insight.compare.workbench import Workbench
from brumal.insight.compare.written_out import season_overlays
from brumal.planner.solver.answer import SolveOptions
from brumal.records.folder import SeasonRecords
from brumal.records.overlays import overlays_of
from brumal.records.read import read_season
from brumal.records.sweep_range import axis_of_text
from brumal.records.variant import Variant, lay_over, variant_of
from season_folders import season_folder

DEMO = Path(__file__).parents[1] / "scenarios" / "demo"
ANIMALS = """id,name,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status,max_pairings
F01,Frost,female,2021-06-10,,,Clown,1820,2026-11-01,3,breeder,
F02,Rime,female,2022-07-01,,,66% het Clown,,,3,breeder,
F03,Fern,female,2020-07-01,,,Pastel Spider,1700,2026-11-01,2.5,breeder,
F04,Moss,female,2020-07-01,,,Spider,1650,2026-11-01,3,outside,
M01,Sleet,male,2020-07-01,,,Pastel,900,2026-11-01,3,breeder,2
M02,Hail,male,2020-07-01,,,Bumble Bee,950,2026-11-01,3,breeder,3
"""
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31}
limits: {boxes: 9, tubs: 60}
values:
  base: 30
  wanted:
    - {morph: Clown, value: 200, need: 2, value_after: 90, keep: {count: 1, extra: 50}}
    - {morph: Pastel Clown, value: {female: 420, male: 350}, chance: 0.5}
    - {morph: Pastel het Clown, value: 60}
    - {morph: Pied, value: 100, keep: {count: 1, worth: 400}}
  combinations: {Enchi Clown: 300, Enchi: 50}
  extra: {visual: {Pastel: 20}, het: {clown: 40, Pied: 30}}
  markets:
    - {morphs: [Clown, Pied], need: 3, less: 80}
    - {morphs: [Pied], need: 3, less: 10}
costs: {pairing: 5}
"""


@pytest.fixture
def season(tmp_path: Path) -> SeasonRecords:
    records, _ = read_season(season_folder(tmp_path, animals=ANIMALS, season=SEASON))
    assert records is not None
    return records


def under(season: SeasonRecords, *names: str, **texts: str) -> Variant:
    records = replace(season, what_if=texts)
    return variant_of(records, season_overlays(records), names or tuple(texts))


def faults(variant: Variant) -> list[str]:
    return [str(fault) for fault in variant.faults]


BY_HAND = """
values:
  wanted:
    Clown: {value: 140, value_after: 63, keep: {extra: 35}}
    Pastel Clown: {value: {female: 294, male: 245}}
    Pastel het Clown: 42
  combinations: {Enchi Clown: 210}
  extra: {het: {Clown: 28}}
  markets:
    - {morphs: [Clown, Pied], need: 3, less: 56}
    - {morphs: [Pied], need: 3, less: 10}
"""


def test_a_scaled_gene_is_the_overlay_written_out(season: SeasonRecords) -> None:
    before = copy.deepcopy(season)
    scaled, written = under(season, a="scale: {clown: -30%}"), under(season, a=BY_HAND)
    assert faults(scaled) == faults(written) == []
    assert scaled.records is not None and written.records is not None
    assert scaled.records.settings == written.records.settings
    assert [str(each) for each in scaled.changes] == [str(each) for each in written.changes]
    assert season == before


def test_two_scaled_genes_that_one_price_names_multiply(season: SeasonRecords) -> None:
    scaled = under(season, a="scale: {Clown: -30%, Pastel: +10%}")
    assert scaled.records is not None
    values = scaled.records.settings.values
    assert values.wanted[2].value == pytest.approx(60 * 0.7 * 1.1)
    assert values.extra.visual["Pastel"] == pytest.approx(22)
    assert values.wanted[3] == season.settings.values.wanted[3]


def test_a_combination_scales_what_names_all_of_it(season: SeasonRecords) -> None:
    scaled = under(season, a="scale: {Pastel Clown: +50%}")
    assert [change.where for change in scaled.changes] == [
        "values.wanted.Pastel Clown.value.female",
        "values.wanted.Pastel Clown.value.male",
        "values.wanted.Pastel het Clown.value",
    ]


def test_what_a_file_sets_itself_stays_as_set(season: SeasonRecords) -> None:
    scaled = under(season, a="scale: {Pied: -50%}\nvalues: {wanted: {pied: {value: 95}}}")
    assert scaled.records is not None
    wish = scaled.records.settings.values.wanted[3]
    assert wish.value == 95
    assert wish.keep is not None and wish.keep.worth == 200


def test_the_demo_plans_a_scaled_gene_as_written_out() -> None:
    demo, _ = read_season(DEMO)
    assert demo is not None
    wanted = "Pastel Clown: {value: {female: 301, male: 238}, value_after: 147}, "
    wanted += "Enchi Clown: 252, Clown: 154"
    texts = {
        "a": "scale: {Clown: -30%}",
        "b": f"values: {{wanted: {{{wanted}}}, extra: {{het: {{Clown: 31.5}}}}}}",
    }
    one, two = (under(demo, name, **texts).records for name in texts)
    assert one is not None and two is not None
    assert one.settings == two.settings
    work = Workbench(demo)
    assert work.answer(one) == work.answer(two)


DIFFERENCES = {
    "limits: {boxes: +2}": "limits.boxes: 9 -> 11",
    "limits: {tubs: -10%}": "limits.tubs: 60 -> 54",
    "values: {base: +5}": "values.base: 30 -> 35",
    "values: {wanted: {Clown: -10%}}": "values.wanted.Clown.value: 200 -> 180",
    "values: {wanted: {Pastel Clown: {value: {male: +10}}}}": (
        "values.wanted.Pastel Clown.value.male: 350 -> 360"
    ),
    "values: {extra: {visual: {pastel: -5}}}": "values.extra.visual.Pastel: 20 -> 15",
    "values: {combinations: {enchi  clown: +20}}": ("values.combinations.Enchi Clown: 300 -> 320"),
    "values: {combinations: {Enchi: }}": "values.combinations.Enchi: 50 -> not given",
    "dates: {incubation: [50, 60]}": "dates.incubation: [55, 60] -> [50, 60]",
    "rules: {female_weight_g: -100}": "rules.female_weight_g: 1500 -> 1400",
    "animals: {F03: {condition: +0.5}}": "animals.F03.condition: 2.5 -> 3",
    "animals: {M01: {max_pairings: +1}}": "animals.M01.max_pairings: 2 -> 3",
    "animals: {F01: {weight_g: -10%}}": "animals.F01.weight_g: 1820 -> 1638",
    "groups: [{where: {line: Spider, sex: male}, set: {status: outside}}]": (
        "animals.M02.status: breeder -> outside"
    ),
}


@pytest.mark.parametrize("text", DIFFERENCES)
def test_a_difference_is_made_to_what_stands(season: SeasonRecords, text: str) -> None:
    variant = under(season, a=text)
    assert faults(variant) == []
    assert [str(change) for change in variant.changes] == [DIFFERENCES[text]]


GROUPS = {
    "{line: Spider}": ["F03", "M02"],
    "{line: Bumble Bee}": ["F03", "M02"],
    "{line: Spider, status: outside}": ["F04"],
    "{line: Clown}": ["F01", "F02"],
    "{sex: m}": ["M01", "M02"],
    "{sex: female, line: Pastel}": ["F03"],
    "{status: breeder}": ["F01", "F02", "F03", "M01", "M02"],
}


@pytest.mark.parametrize("where", GROUPS)
def test_a_group_is_every_animal_that_is_so(season: SeasonRecords, where: str) -> None:
    group = under(season, a=f"groups: [{{where: {where}, set: {{status: retired}}}}]")
    rows = ", ".join(f"{id}: {{status: retired}}" for id in GROUPS[where])
    single = under(season, a=f"animals: {{{rows}}}")
    assert faults(group) == []
    assert group.records is not None and single.records is not None
    assert group.records.animals == single.records.animals


def test_a_difference_passes_over_animals_without_the_figure(season: SeasonRecords) -> None:
    variant = under(season, a="groups: [{where: {sex: female}, set: {weight_g: +100}}]")
    assert [str(change) for change in variant.changes] == [
        "animals.F01.weight_g: 1820 -> 1920",
        "animals.F03.weight_g: 1700 -> 1800",
    ]


FAULTS = {
    "scale: {Clwn: -30%}": "scale.Clwn: found 'Clwn'; expected a gene or combination",
    "scale: {Clown: 30%}": "scale.Clown: found '30%'; expected a difference in per cent",
    "scale: {Clown: -130%}": "scale.Clown: found '-130%'; expected a difference in per cent",
    "scale: {Albino: -30%}": "scale.Albino: found 'Albino'; expected a gene that some price names",
    "scale: Clown": "scale: found 'Clown'; expected genes with a difference each, {Clown: -30%}",
    "\ngroups: [{where: {line: Clwn}, set: {status: outside}}]": (
        "line 2, groups[1].where.line: found 'Clwn'"
    ),
    "groups: [{where: {line: Albino}, set: {status: outside}}]": (
        "groups[1].where: found 'line: Albino'; expected animals that the group would change"
    ),
    "groups: [{where: {lines: Clown}, set: {status: outside}}]": "Did you mean 'line'?",
    "groups: [{where: {line: Clown}, set: {sex: male}}]": "found an unknown key 'sex'",
    "groups: [{where: {line: Clown}}]": "groups[1].set: found nothing",
    "limits: {pairings_per_male: +1}": (
        "limits.pairings_per_male: found '+1'; expected a figure: there is none yet"
    ),
    "limits: {tubs: +1%}": "limits.tubs: found '60.6'; expected a whole number",
    "values: {base: -31}": "values.base: found '-1'; expected a number of 0 or more",
    "animals: {F01: {max_pairings: +1}}": "found '+1'; expected a figure: there is none yet",
}


@pytest.mark.parametrize("text", FAULTS)
def test_what_is_wrong_is_told_at_its_line(season: SeasonRecords, text: str) -> None:
    variant = under(season, a=text)
    assert variant.records is None
    assert any(FAULTS[text] in fault for fault in faults(variant)), faults(variant)
    assert all("what-if/a.yaml, line" in fault for fault in faults(variant))


def test_an_overlay_that_speaks_of_genes_is_not_laid_unread(season: SeasonRecords) -> None:
    records = replace(season, what_if={"a": "scale: {Clown: -30%}"})
    with pytest.raises(ValueError, match="written out"):
        lay_over(records, (overlays_of(records).read["a"],), "a")


@pytest.mark.slow
def test_a_sweep_runs_over_a_scale() -> None:
    axis, wrong = axis_of_text("scale.Clown=-20%:20%:20")
    assert axis is not None and not wrong
    assert axis.steps == ("-20%", "+0%", "+20%")
    demo, _ = read_season(DEMO)
    assert demo is not None
    with Bench(base=replace(demo, what_if={}), options=SolveOptions()) as bench:
        found = compare(bench, Request(axes=(axis,)))
    (sweep,) = found.sweeps
    nets = [step.net for step in sweep.steps]
    base = found.columns[0].net
    assert None not in nets and nets == sorted(nets)
    assert nets[1] == pytest.approx(base)
