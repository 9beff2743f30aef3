"""Laws of welfare over all rules: no price buys an animal off, nothing unknown passes a bar."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from barred_seasons import BARRED, FIT, SEASON, Tables, barred_season, write
from brumal.forecast.before_eggs import weight_before_eggs
from brumal.forecast.weight import weight_series
from brumal.insight.why.outlook import look_ahead
from brumal.pipeline import Prepared, prepare
from brumal.planner.describe import plan_of
from brumal.planner.pairs.candidates import find_candidates
from brumal.planner.season import solve_season
from brumal.records.animals import Animal, Sex, Weighing
from brumal.records.faults import InputError
from brumal.report.plan.words import watch_lines
from brumal.rules.past_rules import PAST_RULES
from brumal.rules.season_rules import SEASON_RULES
from brumal.rules.table import ANIMAL_RULES, judge_animal, may_breed

PREFERENCES = {"in-a-row", "rest"}


@cache
def whole() -> Prepared:
    with TemporaryDirectory() as folder:
        return prepare(write(Path(folder), barred_season()))


def plannable(prepared: Prepared) -> set[str]:
    """Return the animals that stand in a pair left open."""
    return {animal for pair in find_candidates(prepared).clutches for animal in pair}


def test_each_rule_that_guards_health_bars_one_of_the_season() -> None:
    prepared = whole()
    fit = {name for name, start in prepared.starts.items() if may_breed(start.first)}
    assert fit == set(FIT)
    # Quarantine ends on a day of the season, and only that.
    assert plannable(prepared) == {*FIT, "new"}
    assert prepared.starts["new"].day == date(2027, 1, 18)
    bars = {
        verdict.rule
        for name in BARRED
        for verdict in judge_animal(prepared.animals[name], prepared.rules)
        if not verdict.passed
    }
    # An empty morph is what emptying that cell gives: it is met below.
    guards = {rule.id for rule in ANIMAL_RULES} - PREFERENCES
    # Cautions bar nobody, and what happened this season is no matter of health.
    guards -= {rule.id for rule in (*PAST_RULES, *SEASON_RULES)}
    assert bars == guards - {"look"}


ONLY_TRACE = {
    # The clutch row, or its word, is all that tells of egg binding.
    ("bound", "clutches", 3, None),
    ("bound", "clutches", 3, "trouble"),
    # Nothing else tells that she ever laid.
    ("undated", "clutches", 4, None),
    # One entry each: what was seen once and written once.
    ("ill", "events", 1, None),
    ("tested", "events", 3, None),
    # Without the weighing that he fell from, no loss is on record.
    ("wasting", "weights", 26, None),
}
"""(animal, table, row, column; ``None``: the whole row) that hold the only trace of the fact."""


def lessened() -> Iterator[tuple[str, int, str | None, Tables]]:
    """Yield the season with one row deleted or one cell emptied, and which."""
    tables = barred_season()
    for stem, rows in tables.items():
        for number in range(1, len(rows)):
            for column in (None, *range(len(rows[0]))):
                if column is not None and not rows[number][column]:
                    continue
                less = copy.deepcopy(tables)
                if column is None:
                    del less[stem][number]
                else:
                    less[stem][number][column] = ""
                yield stem, number, None if column is None else rows[0][column], less


@pytest.mark.parametrize("stem", ["animals", "weights", "clutches", "events"])
def test_deleting_or_emptying_lets_no_barred_animal_start_sooner(tmp_path: Path, stem: str) -> None:
    freed = set()
    for table, number, column, tables in lessened():
        if table != stem:
            continue
        try:
            prepared = prepare(write(tmp_path / "season", tables))
        except InputError:
            continue  # refused as a whole: nobody is planned for
        sooner = {
            animal.id
            for animal in prepared.records.collection
            if animal.id in BARRED and _day(prepared, animal.id) < _day(whole(), animal.id)
        }
        if sooner:
            sooner &= plannable(prepared)
        freed |= {(name, table, number, column) for name in sooner}
    assert freed == {trace for trace in ONLY_TRACE if trace[1] == stem}


def _day(prepared: Prepared, animal: str) -> date:
    return prepared.starts[animal].day or date.max


money = st.floats(0, 1e6)
names = st.sampled_from([*FIT, *BARRED])
pairs = st.lists(st.tuples(names, names), max_size=2)


@st.composite
def seasons(draw: st.DrawFn) -> str:
    """Draw prices, wants, locks and soft rules."""
    wanted = draw(st.lists(st.sampled_from(["Clown", "Desert", "Spider", "Pastel"]), unique=True))
    lines = [
        "season: {name: Any, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2026-11-15}",
        f"values: {{base: {draw(money):.2f}, wanted: [",
        *(f"  {{morph: {morph}, value: {draw(money):.2f}, need: 2}}," for morph in wanted),
        "]}",
        f"rules: {{soft: {{in-a-row: {draw(money):.2f}, rest: {draw(money):.2f}}}, "
        f"accept_welfare: [{draw(st.sampled_from(['', 'Desert', 'Spider']))}]}}",
        "locks:",
    ]
    for lock in ("must_pair", "never_pair", "already_paired"):
        listed = ", ".join(f"[{one}, {two}]" for one, two in draw(pairs))
        lines.append(f"  {lock}: [{listed}]")
    lines.append(f"  sit_out: [{', '.join(draw(st.lists(names, max_size=2, unique=True)))}]")
    return "\n".join(lines) + "\n"


@examples(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(seasons())
def test_no_price_want_lock_or_soft_rule_schedules_a_visit(tmp_path: Path, text: str) -> None:
    """Spider bars no animal but its pairs, and may be accepted by name."""
    try:
        prepared = prepare(write(tmp_path / "season", barred_season(), text))
    except InputError:
        return
    season = solve_season(prepared)
    plan = plan_of(season)
    if plan.objective is None:
        return
    outlook = look_ahead(season, plan)
    for each in outlook.clutches:
        for visit in each.visits:
            for animal in (each.dam, each.sire):
                assert _day(prepared, animal) <= visit.start
                assert animal in {*FIT, "new", "spider"}


def test_a_pair_already_made_of_a_barred_animal_stands_without_further_visits(
    tmp_path: Path,
) -> None:
    text = SEASON + "locks: {already_paired: [[thin, M1], [F1, M2]]}\n"
    prepared = prepare(write(tmp_path / "season", barred_season(), text))
    season = solve_season(prepared)
    plan = plan_of(season)
    outlook = look_ahead(season, plan)
    visits = {each.dam: len(each.visits) for each in outlook.clutches}
    assert visits["thin"] == 0
    assert visits["F1"] > 0
    made = next(pair for pair in plan.pairs if pair.dam == "thin")
    assert made.cautions[0].startswith(
        "No further visit of this pair is planned. First: thin has body condition 1.5"
    )
    assert "thin" not in {short.dam for short in outlook.short}
    (told,) = [line for line in watch_lines(plan, "thin", made) if "body condition" in line]
    assert told.startswith("No further visit of this pair is planned.")


days_before = st.integers(0, 420)
LAID = date(2026, 4, 20)


@given(st.dictionaries(days_before, st.integers(1200, 2600), min_size=2, max_size=6))
def test_no_weighing_deleted_lowers_what_she_must_be_back_at(weighed: dict[int, int]) -> None:
    """What is not known is taken for the most it may be, or bars."""

    def most(kept: dict[int, int]) -> float:
        her = Animal(id="F1", sex=Sex.FEMALE, last_laid=LAID)
        found = [
            Weighing(row=row, animal="F1", date=LAID - timedelta(days=ago), grams=grams)
            for row, (ago, grams) in enumerate(kept.items())
        ]
        before = weight_before_eggs(weight_series(her, found), LAID)
        return math.inf if before is None else before.grams

    whole = most(weighed)
    for ago in weighed:
        assert most({day: grams for day, grams in weighed.items() if day != ago}) >= whole - 1e-9
