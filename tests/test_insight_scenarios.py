"""What-ifs against plans of folders with the change written in by hand, and laws they must keep."""

from __future__ import annotations

import itertools
import json
import shutil
from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brumal.insight.compare.columns import Answer, Column
from brumal.insight.compare.comparison import Comparison, Request, compare
from brumal.insight.compare.decisions import Decisions, Pays, decide
from brumal.insight.compare.differences import moves, steady_pairs
from brumal.insight.compare.parallel import Bench, Question
from brumal.insight.compare.since_last import since_last
from brumal.insight.compare.sweeps import bend_of, flat_from, lay_out, run_sweep
from brumal.insight.compare.workbench import Workbench
from brumal.insight.simulate.seasons import simulate
from brumal.pipeline import prepare, prepare_records
from brumal.planner.pairs.candidate import Candidate
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.plan import Plan
from brumal.planner.season import solve_season
from brumal.planner.solver.answer import EXACT, SolveOptions
from brumal.records.folder import SeasonRecords
from brumal.records.last_plan import LastPlan, read_last_plan
from brumal.records.overlay import overlay_of
from brumal.records.overlays import overlays_of, resolve
from brumal.records.read import read_season
from brumal.records.sweep_range import axis_of_text
from brumal.records.variant import lay_over, variant_of
from brumal.report.compare.files import compare_json
from brumal.report.plan.files import plan_json
from long_forms import thinned
from solved_seasons import best_plan
from what_if_seasons import OVERLAYS, by_hand, put, season, write_season

DEMO = Path(__file__).parent.parent / "scenarios" / "demo"


def bench(records: SeasonRecords, workers: int = 1) -> Bench:
    return Bench(base=records, options=EXACT, workers=workers)


def told(plan: Plan) -> dict[str, object]:
    """Return all that plan.json says, save which files the plan was made from."""
    content = json.loads(plan_json(plan))
    del content["inputs"]["fingerprints"]
    return content


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> SeasonRecords:
    return season(tmp_path_factory.mktemp("season"))


@pytest.fixture(scope="module")
def compared(records: SeasonRecords) -> Comparison:
    return compare(bench(records), Request())


def column(comparison: Comparison, name: str) -> Column:
    return next(each for each in comparison.columns if each.name == name)


@pytest.mark.parametrize("name", ["base", *OVERLAYS])
def test_a_column_is_the_plan_with_the_change_written_in(
    compared: Comparison, tmp_path: Path, name: str
) -> None:
    planned = column(compared, name).planned
    assert planned is not None
    assert told(planned.plan) == told(by_hand(tmp_path, *([] if name == "base" else [name])))


@pytest.mark.slow
def test_with_the_usual_gap_too_a_column_is_the_plan_with_the_change_written_in(
    records: SeasonRecords, tmp_path: Path
) -> None:
    """All but how near the proof came: a column starts from what the base season taught."""
    usual = SolveOptions()
    comparison = compare(Bench(base=records, options=usual, workers=1), Request())
    for each in comparison.columns:
        assert each.planned is not None
        folder, names = tmp_path / each.name, [] if each.name == "base" else [each.name]
        fresh = by_hand(folder, *names, options=usual)
        best = by_hand(folder, *names).objective
        content = told(each.planned.plan), told(fresh)
        for plan in content:
            proof = (plan.pop("gap"), plan.pop("bound"))
            assert proof[0] <= usual.gap
            assert proof[1] >= best - 1e-4
        assert content[0] == content[1], each.name


def test_the_changes_of_the_test_matter(compared: Comparison) -> None:
    values = {each.plan.objective for each in compared.columns if each.plan}
    assert len(values) >= 8


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "file", "old", "new"),
    [
        ("boxes-16", "season.yaml", "boxes: 9 ", "boxes: 16 "),
        ("sell-altair", "animals.csv", "(?m)^(M03,.*),breeder,", r"\1,outside,"),
    ],
)
def test_columns_of_the_demo_are_its_plans(
    tmp_path: Path, name: str, file: str, old: str, new: str
) -> None:
    demo, _ = read_season(DEMO)
    assert demo is not None
    variant = variant_of(demo, overlays_of(demo), [name])
    assert variant.records is not None
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    put(folder / file, old, new)
    planned = Workbench(demo, EXACT).planned(variant.records)
    column, fresh = told(planned.plan), told(best_plan(prepare(folder)))
    for key in ("bound", "gap"):  # two proofs of the same plan end within the solver's tolerance
        assert column.pop(key) == pytest.approx(fresh.pop(key), rel=1e-6, abs=1e-6)
    assert column == fresh


@pytest.mark.parametrize(
    "pair", thinned([("boxes", "cheap"), ("buy", "heavy"), ("sell", "morph")], 3)
)
def test_the_order_of_overlays_does_not_matter(
    records: SeasonRecords, tmp_path: Path, pair: tuple[str, str]
) -> None:
    overlays = overlays_of(records)
    plans = []
    for names in (pair, pair[::-1]):
        variant = variant_of(records, overlays, names)
        assert variant.records is not None
        plans.append(told(Workbench(records, EXACT).planned(variant.records).plan))
    assert plans[0] == plans[1] == told(by_hand(tmp_path, *pair))


@settings(max_examples=25, deadline=None)
@given(names=st.sets(st.sampled_from(sorted(OVERLAYS)), min_size=2, max_size=4), data=st.data())
def test_any_order_of_overlays_that_do_not_touch_is_the_same_season(
    records: SeasonRecords, names: set[str], data: st.DataObject
) -> None:
    overlays, _ = resolve(overlays_of(records), sorted(names))
    other = data.draw(st.permutations(overlays))
    one, two = (lay_over(records, tuple(each), "") for each in (overlays, other))
    assert (one.records is None) == (two.records is None)
    if one.records is None or two.records is None:
        return
    assert one.records.settings == two.records.settings
    assert set(one.records.animals) == set(two.records.animals)
    assert set(one.records.weighings) == set(two.records.weighings)
    assert {*map(str, one.changes)} == {*map(str, two.changes)}
    assert (one.paid, one.received, one.joined) == (two.paid, two.received, two.joined)


LOOSER = {
    "boxes": ("limits.boxes", st.integers(0, 4), 1),
    "tubs": ("limits.tubs", st.integers(3, 30), 1),
    "pairings": ("limits.pairings_per_male", st.integers(0, 4), 1),
    "F": ("limits.max_F", st.sampled_from([0.0, 0.0625, 0.125, 0.2]), 1),
    "weight": ("rules.female_weight_g", st.sampled_from([1400, 1500, 1700]), -1),
    "age": ("rules.female_age_months", st.sampled_from([26, 60, 66]), -1),
}


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_a_looser_limit_never_lowers_the_optimum(data: st.DataObject) -> None:
    base = _loose_base()
    key, strategy, sign = LOOSER[data.draw(st.sampled_from(sorted(LOOSER)))]
    first = data.draw(strategy)
    step = data.draw(st.sampled_from([1, 2] if isinstance(first, int) and first < 50 else [50]))
    second = first + sign * (step if isinstance(first, int) else 0.05)
    if key == "rules.female_age_months":
        second = max(second, 24)  # no limit is looser than its floor
    others = data.draw(
        st.dictionaries(st.sampled_from(["limits.boxes", "limits.tubs"]), st.integers(2, 12))
    )
    others.pop(key, None)
    tight, loose = (
        _value(base, {key: str(value), **{k: str(v) for k, v in others.items()}})
        for value in (first, second)
    )
    assert loose >= tight - 1e-5 * max(1.0, abs(tight))


_LOOSE: list[Workbench] = []


def _loose_base() -> Workbench:
    if not _LOOSE:
        folder = Path(__file__).parent.parent / "scenarios" / "small"
        small, _ = read_season(folder)
        assert small is not None
        _LOOSE.append(Workbench(small, EXACT))
    return _LOOSE[0]


def _value(work: Workbench, keys: Mapping[str, str]) -> float:
    overlays = tuple(
        overlay_of(key, {key.split(".")[0]: {key.split(".")[1]: value}})
        for key, value in keys.items()
    )
    folder = Path(__file__).parent.parent / "scenarios" / "small"
    small, _ = read_season(folder)
    assert small is not None
    variant = lay_over(small, overlays, "", idle=True)
    assert variant.records is not None, variant.faults
    objective = work.answer(variant.records).objective
    assert objective is not None
    return objective


def test_the_spread_is_that_of_simulated_seasons_whatever_was_drawn_before(
    records: SeasonRecords,
) -> None:
    work = Workbench(records, EXACT)
    for name in ("boxes", "sit", "cheap", "rule", "sell", "morph", "boxes"):
        variant = variant_of(records, overlays_of(records), [name])
        assert variant.records is not None
        spread = work.planned(variant.records).spread
        money = simulate(solve_season(prepare_records(variant.records), EXACT)).money
        assert spread is not None
        assert (spread.p10, spread.p50, spread.p90) == pytest.approx(
            (money.p10, money.p50, money.p90)
        )


@pytest.mark.slow
def test_shared_work_leaves_no_trace(records: SeasonRecords) -> None:
    """The answer to one season does not depend on which were asked before it."""
    overlays = overlays_of(records)
    seasons = [variant_of(records, overlays, [name]).records for name in OVERLAYS]
    fresh = [Workbench(records, EXACT).answer(each) for each in seasons if each is not None]
    used = Workbench(records, EXACT)
    for order in (seasons, seasons[::-1]):
        answers = {id(each): used.answer(each) for each in order if each is not None}
        assert [answers[id(each)] for each in seasons if each is not None] == fresh


def test_a_scenario_with_faults_stops_no_other(tmp_path: Path) -> None:
    texts = {
        "good": "limits: {boxes: 3}",
        "misspelt": "limits: {boxs: 3}",
        "no-gene": "animals:\n  F5:\n    morph: Mojav",
        "impossible": "locks: {must_pair: [[F4, M1]]}",
        "circle": "extends: gone\nlimits: {boxes: 3}",
    }
    comparison = compare(bench(season(tmp_path, texts)), Request())
    assert {each.name: each.verdict for each in comparison.columns} == {
        "base": "proven",
        "circle": "faults",
        "good": "proven",
        "impossible": "impossible",
        "misspelt": "faults",
        "no-gene": "faults",
    }
    assert comparison.failed
    (fault,) = column(comparison, "no-gene").faults
    assert str(fault).startswith("what-if/no-gene.yaml, line 3, animals.F5.morph: found 'Mojav'")
    assert column(comparison, "impossible").planned is not None


def test_what_an_animal_earns_is_the_plan_less_the_plan_without_it(
    compared: Comparison, tmp_path: Path
) -> None:
    for name, animal, cost in (("buy", "M9", 100.0), ("borrow", "M3", 40.0)):
        found = column(compared, name)
        assert found.plan is not None
        assert found.planned is not None
        (earning,) = found.planned.earnings
        assert earning.animal == animal
        base = by_hand(tmp_path / name)
        assert base.objective is not None
        assert found.plan.objective is not None
        assert earning.earns == pytest.approx(found.plan.objective - base.objective, abs=1e-4)
        assert found.over_its_cost(earning) == pytest.approx((earning.earns or 0) - cost)
        assert found.net == pytest.approx(found.plan.objective - cost)


@pytest.mark.parametrize("name", ["base", "sit", "sell"])
@pytest.mark.parametrize("limit", ["boxes: 2, ", "tubs: 10, "])
def test_a_limit_costs_what_the_season_brings_more_without_it(
    compared: Comparison, tmp_path: Path, name: str, limit: str
) -> None:
    found = column(compared, name)
    assert found.planned is not None
    costs = {binding.id: binding.costs for binding in found.planned.binding}
    by_hand(tmp_path, *([] if name == "base" else [name]))
    put(tmp_path / "season.yaml", limit, "")
    free = best_plan(prepare(tmp_path))
    assert free.objective is not None
    assert found.plan is not None
    assert found.plan.objective is not None
    more = free.objective - found.plan.objective
    assert costs.get(limit.split(":")[0], 0.0) == pytest.approx(more, abs=1e-4)


def test_the_limits_that_bind_are_named(compared: Comparison) -> None:
    bound = {
        each.name: [binding.id for binding in each.planned.binding]
        for each in compared.columns
        if each.planned
    }
    assert bound["sit"] == ["boxes", "chance[3: Super Mojave]"]
    assert bound["sell"] == ["pairings_per_male[M2]"]
    assert bound["base"] == []


def test_safe_pairs_stand_in_every_plan(compared: Comparison) -> None:
    plans = [{(p.dam, p.sire) for p in each.plan.pairs} for each in compared.columns if each.plan]
    assert set(compared.safe) == set.intersection(*plans)
    assert steady_pairs(compared.columns[:1]) == ()
    for each in compared.steady:
        assert each.plans == len(plans)
        assert each.stands == sum(each.pair in plan for plan in plans)
    assert {each.pair for each in compared.steady} == set.union(*plans)


def test_moves_turn_one_plan_into_the_other(compared: Comparison) -> None:
    base = column(compared, "base").plan
    for each in compared.columns:
        assert base is not None
        assert each.plan is not None
        sires = {pair.dam: pair.sire for pair in base.pairs}
        for move in moves(base, each.plan):
            assert sires.pop(move.dam, None) == move.before
            if move.after is not None:
                sires[move.dam] = move.after
            assert bool(move.reason) == (move.before is None or move.after is None)
        assert sires == {pair.dam: pair.sire for pair in each.plan.pairs}


@pytest.mark.slow
def test_one_worker_and_two_give_the_same_bytes(records: SeasonRecords) -> None:
    axis, _ = axis_of_text("limits.boxes=0:3:1")
    assert axis is not None
    request = Request(names=("cheap", "buy"), axes=(axis,), options=("boxes", "sell"))
    bytes_of = []
    for workers in (1, 2):
        with bench(records, workers) as one:
            bytes_of.append(compare_json(compare(one, request)))
    assert bytes_of[0] == bytes_of[1]


def test_a_sweep_is_the_fresh_optimum_at_each_step_and_never_falls(
    records: SeasonRecords, tmp_path: Path
) -> None:
    axis, _ = axis_of_text("limits.boxes=0:5:1")
    assert axis is not None
    sweep = run_sweep(bench(records), lay_out(records, "s", (), [axis]))
    values = [step.objective for step in sweep.steps]
    assert sweep.base == ("2",)
    fresh = []
    for boxes in range(6):
        folder = write_season(tmp_path / str(boxes))
        put(folder / "season.yaml", "boxes: 2", f"boxes: {boxes}")
        fresh.append(best_plan(prepare(folder)).objective)
    assert values == fresh
    solved = [value for value in values if value is not None]
    assert solved == sorted(solved)
    again = run_sweep(bench(records), lay_out(records, "s", (), [axis]))
    assert again == sweep


def test_a_grid_steps_through_both_axes(records: SeasonRecords) -> None:
    axes = [axis_of_text(text)[0] for text in ("limits.boxes=1:3:2", "limits.tubs=5:9:4")]
    plan = lay_out(records, "g", (), [axis for axis in axes if axis])
    sweep = run_sweep(bench(records), plan)
    assert [step.at for step in sweep.steps] == [("1", "5"), ("1", "9"), ("3", "5"), ("3", "9")]
    assert sweep.bend is None
    assert sweep.flat is None


def test_a_sweep_with_an_overlay_under_it_and_one_that_fights(tmp_path: Path) -> None:
    texts = {
        "over": "values: {wanted: {Clown: {value: 80}}}\nsweep: {limits.boxes: [1, 2]}",
        "fights": "limits: {boxes: 4}\nsweep: {limits.boxes: {from: 1, to: 2}}",
        "unknown": "sweep: {limits.boxs: {from: 1, to: 2}}",
    }
    comparison = compare(bench(season(tmp_path, texts)), Request())
    (sweep,) = comparison.sweeps
    assert [step.verdict for step in sweep.steps] == ["proven", "proven"]
    cheap = by_hand(tmp_path / "cheap", "cheap")
    assert sweep.steps[1].objective == cheap.objective
    assert {each.name: each.verdict for each in comparison.columns} == {
        "base": "proven",
        "fights": "faults",
        "unknown": "faults",
    }


@pytest.mark.parametrize(
    ("money", "bend", "flat"),
    [
        ([0, 10, 20, 22, 24], 2, None),
        ([0, 10, 20, 20, 20], 2, 2),
        ([5, 5, 5], None, 0),
        ([0, 1, 2, 3], None, None),
        ([0, 1, 4], None, None),
        ([7], None, None),
        ([], None, None),
    ],
)
def test_where_a_curve_bends_and_goes_flat(
    money: list[float], bend: int | None, flat: int | None
) -> None:
    curve = tuple((place, float(place), net) for place, net in enumerate(money))
    assert bend_of(curve) == bend
    assert flat_from(curve) == flat


def test_the_bend_takes_uneven_steps_into_account() -> None:
    """By hand: slopes 10, 10, 1 over steps of 1, 9 and 10."""
    curve = ((0, 0.0, 0.0), (1, 1.0, 10.0), (2, 10.0, 100.0), (3, 20.0, 110.0))
    assert bend_of(curve) == 2


OPTIONS = ("boxes", "buy", "sell", "cheap")


@pytest.mark.slow
def test_every_set_of_the_sheet_is_a_fresh_plan(records: SeasonRecords, tmp_path: Path) -> None:
    sheet = decide(bench(records), overlays_of(records), OPTIONS)
    assert not sheet.searched
    assert sheet.possible == len(sheet.choices) == 16
    for choice in sheet.choices:
        name = "-".join(choice.options) or "none"
        fresh = by_hand(tmp_path / name, *choice.options).objective
        once = 150.0 * ("sell" in choice.options) - 100.0 * ("buy" in choice.options)
        assert choice.objective == fresh
        assert choice.net == pytest.approx((fresh or 0.0) + once)
        base = next(each for each in sheet.choices if not each.options)
        assert (choice.pays is Pays.YES) == ((choice.gain or 0) > 0.02) or not choice.options
        assert choice.gain == pytest.approx((choice.net or 0) - (base.net or 0))
    nets = [choice.net for choice in sheet.choices]
    assert nets == sorted(nets, reverse=True)  # type: ignore[type-var]


@pytest.mark.slow
def test_a_search_ends_where_no_single_step_is_better(records: SeasonRecords) -> None:
    whole = decide(bench(records), overlays_of(records), OPTIONS)
    sheet = decide(bench(records), overlays_of(records), OPTIONS, most_sets=15)
    assert sheet.searched
    assert sheet.best is not None
    assert whole.best is not None
    every = {choice.options: choice.net or 0.0 for choice in whole.choices}
    best = set(sheet.best.options)
    for option in OPTIONS:
        assert every[tuple(sorted(best ^ {option}))] <= every[tuple(sorted(best))] + 0.01
    assert {choice.options: choice.net for choice in sheet.choices}.items() <= every.items()


def test_sets_that_clash_are_left_out_and_named(tmp_path: Path) -> None:
    texts = {
        "three": "option: true\nlimits: {boxes: 3}",
        "four": "option: true\nlimits: {boxes: 4}",
        "sell": "option: true\nexcludes: four\nanimals: {M1: {status: outside}}",
    }
    records = season(tmp_path, texts)
    comparison = compare(bench(records), Request(options=()))
    sheet = comparison.decisions
    assert isinstance(sheet, Decisions)
    assert [(each.first, each.second) for each in sheet.clashing] == [
        ("four", "sell"),
        ("four", "three"),
    ]
    assert {choice.options for choice in sheet.choices} == {
        (),
        ("four",),
        ("sell",),
        ("three",),
        ("sell", "three"),
    }


def _last(folder: Path, old: tuple[tuple[str, str, str], ...]) -> tuple[LastPlan, SeasonRecords]:
    write_season(folder)
    for file, now, then in old:
        put(folder / file, now, then)
    path = folder / "plan.json"
    path.write_text(plan_json(best_plan(prepare(folder))), encoding="utf-8")
    records, _ = read_season(folder)
    assert records is not None
    return read_last_plan(path), records


THEN = (
    ("season.yaml", "boxes: 2", "boxes: 3"),
    ("season.yaml", "Clown, value: 120, need: 3", "Clown, value: 150, need: 4"),
    ("season.yaml", "Pastel: 10", "Pastel: 30"),
    ("animals.csv", "F6.*\n", ""),
    ("animals.csv", "1450", "1550"),
    ("weights.csv", "1655", "1350"),
)


def test_since_last_puts_each_input_back_alone(records: SeasonRecords, tmp_path: Path) -> None:
    last, old = _last(tmp_path / "then", THEN)
    plan = best_plan(prepare(write_season(tmp_path / "now")))
    since = since_last(bench(records), plan, last, old)
    assert [each.change.where for each in since.swaps] == [
        "limits.boxes",
        "values.wanted.Clown",
        "values.extra.visual.Pastel",
        "animals.F4.weight_g",
        "animals.F6",
        "weights.F2",
    ]
    one_back = [THEN[0], THEN[1], THEN[2], THEN[4], THEN[3], THEN[5]]
    for swap, (file, now, then) in zip(since.swaps, one_back, strict=True):
        folder = write_season(tmp_path / f"back-{swap.change.where}")
        put(folder / file, now, then)
        fresh = best_plan(prepare(folder))
        assert plan.objective is not None
        assert fresh.objective is not None
        assert swap.effect == pytest.approx(plan.objective - fresh.objective, abs=1e-5)
        back = {pair.dam: pair.sire for pair in fresh.pairs}
        assert all(back.get(dam) == last.sires.get(dam) for dam in swap.restores)
    assert since.effect == pytest.approx(since.after - since.before)
    assert since.together == pytest.approx(since.effect, abs=1e-5)
    assert since.rest == pytest.approx(0.0, abs=1e-5)
    assert since.untold == ()


def test_without_the_earlier_folder_the_rest_is_named(
    records: SeasonRecords, tmp_path: Path
) -> None:
    last, _ = _last(tmp_path / "then", THEN)
    plan = best_plan(prepare(write_season(tmp_path / "now")))
    since = since_last(bench(records), plan, last)
    assert [each.change.where for each in since.swaps] == [
        "limits.boxes",
        "values.wanted.Clown",
        "values.extra.visual.Pastel",
        "animals.F6",
    ]
    assert since.untold == ("animals.csv", "weights.csv")
    assert since.together is not None
    assert since.rest == pytest.approx(since.effect - since.together)


def test_nothing_changed_since_last(records: SeasonRecords, tmp_path: Path) -> None:
    last, old = _last(tmp_path / "then", ())
    plan = best_plan(prepare(write_season(tmp_path / "now")))
    for folder in (None, old):
        since = since_last(bench(records), plan, last, folder)
        assert (since.effect, since.moves, since.swaps, since.rest) == (0, (), (), 0)
        assert since.untold == ()


def test_a_question_is_answered_alike_whole_or_in_short(records: SeasonRecords) -> None:
    with bench(records) as one:
        whole, short = one.ask(
            [Question(name="", records=records, whole=each) for each in (True, False)]
        )
    assert isinstance(short, Answer)
    assert not isinstance(whole, tuple | Answer)
    assert short.objective == whole.plan.objective
    assert short.pairs == tuple((pair.dam, pair.sire) for pair in whole.plan.pairs)
    assert short.boxes == whole.plan.room.boxes


def test_neighbours_of_a_season_share_what_no_overlay_touches(records: SeasonRecords) -> None:
    work = Workbench(records, EXACT)
    more = replace(
        records,
        settings=replace(records.settings, limits=replace(records.settings.limits, boxes=3)),
    )
    work.answer(records)
    before = work._base
    work.answer(more)
    assert work._base is before
    assert work._last is None


@pytest.mark.parametrize("name", ["boxes", "kin", "rule", "sit", "sell", "heavy", "cheap"])
def test_pairs_taken_over_are_those_of_a_fresh_start(records: SeasonRecords, name: str) -> None:
    variant = variant_of(records, overlays_of(records), [name])
    assert variant.records is not None
    base = prepare_records(records)
    found = find_candidates(base)
    like = find_candidates(prepare_records(variant.records, like=base), found)
    fresh = find_candidates(prepare_records(variant.records))
    assert like.verdicts == fresh.verdicts
    assert like.barred == fresh.barred
    for one, two in zip(like.open, fresh.open, strict=True):
        assert _plain(one) == _plain(two)
        for term, law in two.counts.items():
            # How many pairs are worked out at once shows in the last digit.
            assert np.allclose(one.counts[term], law, rtol=0, atol=1e-12)
    taken = {id(each) for each in found.open} & {id(each) for each in like.open}
    assert taken, "what does not differ is not priced again"


def _plain(candidate: Candidate) -> dict[str, object]:
    """Return all of a candidate but its arrays."""
    told = {each.name: getattr(candidate, each.name) for each in fields(candidate)}
    means = {term: round(mean, 9) for term, mean in (candidate.means or {}).items()}
    own = {"counts": sorted(candidate.counts), "none": sorted(candidate.none), "means": means}
    return told | own | {"kept": round(candidate.kept, 9), "kin": round(candidate.kin, 9)}


def test_all_pairs_of_overlays_either_combine_or_fight(records: SeasonRecords) -> None:
    overlays = overlays_of(records)
    for first, second in itertools.combinations(OVERLAYS, 2):
        variant = variant_of(records, overlays, [first, second])
        assert (variant.records is None) == bool(variant.faults)
