"""A plan counted by its calendar, against seasons lived day by day, and every start week."""

from __future__ import annotations

import itertools
import re
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from brumal.pipeline import Prepared, prepare
from brumal.planner.recount import by_calendar, visit_notes
from brumal.planner.season import SolvedSeason, solve_season
from brumal.planner.second_choice import second_choices
from brumal.planner.solver.answer import EXACT
from brumal.planner.visiting import Visiting
from brumal.rules.start import PairStart

ANIMALS = """id,name,sex,hatched,morph,weight_g,weighed,condition,status,expected_eggs,max_pairings
F1,Thaw,female,2020-07-10,Clown,1900,2026-11-15,3,breeder,6,
F2,Dew,female,2020-07-05,het Clown,1850,2026-11-15,3,breeder,7,
F3,Fern,female,2020-08-01,Pastel,1800,2026-11-15,3,breeder,6,
M1,Hail,male,2019-06-30,Clown,900,2026-11-15,3,breeder,,{limit}
M2,Dusk,male,2019-08-12,Pastel het Clown,950,2026-11-15,3,breeder,,{limit}
"""
SEASON = """season: {{name: T, pair_from: {start}, pair_to: 2027-03-31, as_of: 2026-11-20}}
assume: {{fertile: 0.9, hatched: 0.9}}
values: {{base: 40, wanted: [{{morph: Clown, value: 150}}]}}
costs: {{pairing: 5, egg: 1, hatchling: 10}}
"""


def season(folder: Path, start: str = "2026-12-01", limit: int = 3, more: str = "") -> Prepared:
    folder.mkdir(exist_ok=True)
    (folder / "animals.csv").write_text(ANIMALS.format(limit=limit))
    (folder / "season.yaml").write_text(SEASON.format(start=start) + more)
    return prepare(folder)


def lived(solved: SolvedSeason, runs: int, seed: int) -> list[float]:
    """Money of seasons lived day by day: who ovulates, which visits have reached her, what hatches.

    Each visit serves with chance 0.6 if it ends at most 59 days before her ovulation and has begun
    by then; she cycles with 0.7 / 0.936 (never laid before), six visits or one.
    """
    rng = np.random.default_rng(seed)
    prepared = solved.prepared
    visits = solved.laid_out.calendar.visits
    hatchling = {p.pair: solved.found.pricing.value(*p.pair) for p in solved.pairs}
    money = []
    for _ in range(runs):
        total = 0.0
        for pair in solved.pairs:
            total -= 5
            if rng.random() >= 0.7 / 0.936:
                continue
            days = prepared.ovulations.of(pair.dam).days
            ovulation = days.first + timedelta(int(rng.choice(len(days.chances), p=days.chances)))
            served, day = False, date(2026, 11, 1)
            while day <= ovulation:
                for visit in visits:
                    ends_today = day == min(visit.end, ovulation)
                    if visit.female == pair.dam and visit.start <= day and ends_today:
                        served |= (ovulation - visit.end).days < 60 and rng.random() < 0.6
                day += timedelta(days=1)
            if not served:
                continue
            eggs = int(prepared.animals[pair.dam].expected_eggs or 0)
            young = rng.binomial(rng.binomial(eggs, 0.9), 0.9)
            total += young * (hatchling[pair.pair] - 10) - eggs
        money.append(total)
    return money


@pytest.mark.parametrize("limit", [1, 3])
def test_a_plan_is_worth_what_its_calendar_brings_day_by_day(tmp_path: Path, limit: int) -> None:
    solved = solve_season(season(tmp_path, limit=limit))
    money = lived(solved, 1_000, seed=limit)
    error = np.std(money) / len(money) ** 0.5
    worth = by_calendar(solved)
    assert worth is not None
    assert abs(np.mean(money) - worth) < 4 * error
    # Ordinary visits, by which pairs are priced, are near what a calendar with room has.
    assert worth == pytest.approx(solved.solution.objective, rel=0.06)


def test_every_start_week_by_brute_force(tmp_path: Path) -> None:
    """The plan of each start is the best of all assignments; a later one never brings more."""
    before = float("inf")
    for weeks in range(0, 16, 5):
        start = date(2026, 12, 1) + timedelta(weeks=weeks)
        prepared = season(tmp_path / str(weeks), start=start.isoformat(), limit=2)
        solved = solve_season(prepared, EXACT)
        visiting = Visiting.of(prepared)
        value = {}
        for pair in itertools.product(("F1", "F2", "F3"), ("M1", "M2")):
            days = visiting.ovulation(pair[0])
            served = 0.0
            for at, chance in enumerate(days.chances.tolist()):
                day = days.first + timedelta(at)
                last = min(day, visiting.last_day(pair[0]))
                first = max(day - timedelta(59), start)
                served += chance * (1 - 0.4 ** (max((last - first).days + 1, 0) / 20))
            eggs = float(prepared.animals[pair[0]].expected_eggs or 0)
            goes = 0.7 / 0.936 * served
            each = solved.found.pricing.value(*pair) - 10
            value[pair] = goes * eggs * (0.81 * each - 1) - 5
        best = 0.0
        for sires in itertools.product(("M1", "M2", None), repeat=3):
            if max(sires.count("M1"), sires.count("M2")) <= 2:
                pairs = zip(("F1", "F2", "F3"), sires, strict=True)
                best = max(best, sum(value[dam, sire] for dam, sire in pairs if sire))
        assert solved.solution.objective == pytest.approx(best, abs=1e-5)
        assert solved.solution.objective <= before + 1e-9
        before = solved.solution.objective


def test_a_pairs_chance_never_rises_with_a_later_start(tmp_path: Path) -> None:
    visiting = Visiting.of(season(tmp_path))
    chances = [
        visiting.goes(("F1", "M1"), PairStart(day=date(2026, 12, 1) + timedelta(days)))
        for days in range(0, 140, 3)
    ]
    assert all(later <= sooner + 1e-12 for sooner, later in itertools.pairwise(chances))
    assert chances[0] == pytest.approx(0.7, rel=0.03) and chances[-1] < 0.1


def test_a_stated_chance_is_not_lowered_by_dates(tmp_path: Path) -> None:
    prepared = season(tmp_path, start="2027-03-01")
    again = season(tmp_path / "s", start="2027-03-01")
    text = (tmp_path / "s" / "season.yaml").read_text().replace("assume: {", "assume: {goes: 0.8, ")
    (tmp_path / "s" / "season.yaml").write_text(text)
    again = prepare(tmp_path / "s")
    solved = solve_season(again)
    assert {clutch.goes for clutch in solved.laid_out.clutches.values()} == {0.8}
    assert by_calendar(solved) == pytest.approx(solved.solution.objective)
    assert all(clutch.goes < 0.5 for clutch in solve_season(prepared).found.clutches.values())


def test_a_male_who_cannot_reach_all_is_told(tmp_path: Path) -> None:
    more = "visits: {weekdays: [Saturday], male_rest_days: 20, least: 1}\n"
    solved = solve_season(
        season(tmp_path, limit=3, more=more + "locks: {must_pair: [[F1, M1], [F2, M1]]}\n")
    )

    told = " ".join(visit_notes(solved, {}))
    assert "Too few visits of Hail (M1), who has 2 females, reach these before they ovulate" in told
    assert "Counted by the visits of its calendar the plan is worth" in told


def test_another_sire_is_told_by_what_his_calendar_brings(tmp_path: Path) -> None:
    more = "visits: {weekdays: [Saturday], male_rest_days: 20, least: 1}\n"
    solved = solve_season(season(tmp_path, limit=3, more=more))
    told = " ".join(visit_notes(solved, second_choices(solved)))
    found = re.search(
        r"With \w+ \((M\d)\) for \w+ \((F\d)\) instead of .* calendar brings ([\d,.]+) EUR", told
    )
    assert found is not None, told
    # The same exchange fixed by the keeper, all other pairs as they are.
    mates = solved.mates | {found[2]: found[1]}
    pairs = ", ".join(f"[{dam}, {sire}]" for dam, sire in mates.items())
    again = solve_season(
        season(tmp_path / "again", limit=3, more=more + f"locks: {{must_pair: [{pairs}]}}\n")
    )
    assert again.mates == mates
    gained = (by_calendar(again) or 0.0) - (by_calendar(solved) or 0.0)
    assert gained == pytest.approx(float(found[3].replace(",", "")), rel=0.06)
