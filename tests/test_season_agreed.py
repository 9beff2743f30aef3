"""Agreed pairs in a running season: what a switch has to gain, and what changed since a plan."""

from __future__ import annotations

import json
import random
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from brumal import library
from brumal.cli import main
from brumal.insight.compare.parallel import Bench
from brumal.insight.compare.since_last import since_last
from brumal.pipeline import Prepared
from brumal.planner.describe import plan_of
from brumal.planner.limits.every import keeps_limits
from brumal.planner.problem import Problem
from brumal.planner.solver.answer import EXACT
from brumal.planner.solver.solve import solve
from brumal.planner.solver.worth import value_of
from brumal.records.last_plan import last_kept, read_last_plan
from brumal.report.plan.files import plan_json
from season_outputs import ROOT
from small_seasons import every_plan, random_problem, risky, waiting, worth

LATE = date(2028, 1, 1)
FIRST, SECOND = date(2026, 12, 5), date(2027, 1, 20)
HEAD = "date,animal,event,with,count,slugs\n"


def agreed_problem(seed: int) -> Problem:
    """Invent a small season in which some pairs, one a female at most, are agreed."""
    rng = np.random.default_rng([seed, 31])
    problem = waiting(risky(random_problem(seed, 4), seed), seed)
    pairs = {c.dam: c.pair for c in problem.candidates if rng.random() < 0.5}
    return replace(problem, agreed=frozenset(pairs.values()), keep_for=float(rng.uniform(1, 60)))


@pytest.mark.parametrize("seed", range(12))
def test_best_with_agreed_pairs_against_every_plan(seed: int) -> None:
    """Each agreed pair that a plan gives up counts, and the best by that is found (brute force)."""
    problem = agreed_problem(seed)
    values = [
        worth(problem, plan)
        - problem.keep_for * len(problem.agreed - {(c.dam, c.sire) for c in plan})
        for plan in every_plan(problem)
    ]
    solution = solve(problem, EXACT)
    if not values:
        assert solution.chosen is None
        return
    assert solution.objective == pytest.approx(max(values), abs=1e-3, rel=2e-6)
    assert solution.bound >= max(values) - 1e-3


def season(folder: Path, day: date, rows: list[str], agreed: dict[str, str]) -> Prepared:
    (folder / "events.csv").write_text(HEAD + "".join(f"{row}\n" for row in rows))
    prepared = library.read(folder, day, LATE)
    records = replace(prepared.records, agreed=frozenset(agreed.items()))
    return replace(prepared, records=records)


def some_rows(rng: random.Random, mates: dict[str, str]) -> list[str]:
    """Write down what may happen to a few animals of the small season."""
    rows = []
    for dam, sire in sorted(mates.items()):
        what = rng.choice(["refusal", "visit", "ovulation", "ill", "nothing"])
        mate = sire if what in ("refusal", "visit") else ""
        if what != "nothing":
            rows.append(f"2027-01-{rng.randint(5, 18):02d},{dam},{what},{mate},,")
    return rows


@pytest.mark.parametrize("seed", range(6))
def test_a_new_plan_is_never_worth_less_than_keeping_the_old(seed: int, tmp_path: Path) -> None:
    """By the same forecasts, with as much of the old plan as can still be had."""
    folder = shutil.copytree(ROOT / "scenarios" / "small", tmp_path / "season")
    start = ["2026-12-03,F1,visit,M2,,"]
    mates = library.solve(season(folder, FIRST, start, {}), EXACT).mates
    rows = start + some_rows(random.Random(seed), mates)
    again = library.solve(season(folder, SECOND, rows, mates), EXACT)
    problem = again.problem
    old = [
        at
        for at, pair in enumerate(problem.columns.pairs)
        if mates.get(pair[0]) == pair[1] or pair in problem.must
    ]
    assert keeps_limits(problem, old)
    assert again.solution.objective >= value_of(problem, old) - 1e-6
    assert value_of(replace(problem, agreed=frozenset()), sorted(again.solution.chosen or ())) >= (
        value_of(replace(problem, agreed=frozenset()), old) - 1e-6
    )


def test_a_switch_has_to_gain_more_than_is_stated(tmp_path: Path) -> None:
    folder = shutil.copytree(ROOT / "scenarios" / "small", tmp_path / "season")
    rows: list[str] = []
    best = library.solve(season(folder, FIRST, rows, {}), EXACT)
    problem = best.problem
    other = next(pair for pair in problem.columns.pairs if best.mates.get(pair[0]) != pair[1])
    loss = best.solution.objective - solve(replace(problem, must=(other,)), EXACT).objective
    assert loss > 1
    for keep, stands in ((loss + 1, True), (loss - 1, False)):
        told = season(folder, FIRST, rows, {other[0]: other[1]})
        dates = replace(told.records.settings.season, keep_pairs_for=keep)
        records = replace(told.records, settings=replace(told.records.settings, season=dates))
        again = library.solve(replace(told, records=records), EXACT)
        assert (again.mates.get(other[0]) == other[1]) is stands
        plan = plan_of(again)
        assert plan.money.switches == pytest.approx(0 if stands else -keep)


def test_an_event_is_a_cause_put_back_by_itself(tmp_path: Path) -> None:
    folder = shutil.copytree(ROOT / "scenarios" / "small", tmp_path / "season")
    rows = ["2026-12-03,F1,visit,M2,,"]
    before = plan_of(library.solve(season(folder, FIRST, rows, {}), EXACT))
    kept = tmp_path / "plan-2026-12-05.json"
    kept.write_text(plan_json(before))
    last = read_last_plan(kept)
    refused = next(p for p in before.pairs if p.dam != "F1")
    rows.append(f"2026-12-10,{refused.dam},refusal,{refused.sire},,")
    day = date(2026, 12, 12)
    today = season(folder, day, rows, dict(last.sires))
    plan = plan_of(library.solve(today, EXACT))
    old = library.read(folder, FIRST, LATE).records
    with Bench(base=today.records, options=EXACT, workers=1, prepared=today) as bench:
        since = since_last(bench, plan, last, old)
    assert refused.dam in [move.dam for move in since.moves]
    told = {swap.change.where: swap for swap in since.swaps}
    assert refused.dam in told[f"events.{refused.dam}"].restores
    assert since.days == 7
    assert since.effect == pytest.approx((since.together or 0.0) + (since.rest or 0.0))


def test_planned_again_on_a_day_comes_out_the_same(tmp_path: Path) -> None:
    folder = shutil.copytree(ROOT / "scenarios" / "small", tmp_path / "season")
    out = tmp_path / "out"
    (folder / "events.csv").write_text(HEAD + "2026-12-03,F1,visit,M2,,\n")
    text = (folder / "season.yaml").read_text().replace("as_of: 2026-11-15", "as_of: 2026-12-20")
    (folder / "season.yaml").write_text(text)
    for on in ("2026-12-05", "2026-12-12"):
        assert main(["plan", str(folder), "--on", on, "--out", str(out)]) == 0
    first = {path.name: path.read_bytes() for path in out.glob("plan*")}
    assert b"Since the earlier plan" in first["plan.html"]
    assert main(["plan", str(folder), "--on", "2026-12-12", "--out", str(out)]) == 0
    assert {path.name: path.read_bytes() for path in out.glob("plan*.[hj]*")} == {
        name: found for name, found in first.items() if not name.endswith(("csv", "xlsx"))
    }
    assert json.loads(first["plan.json"])["money"]["switches"] == 0
    assert last_kept(out, date(2026, 12, 12)) == out / "plan-2026-12-05.json"
    assert last_kept(out, date(2026, 12, 5)) is None
