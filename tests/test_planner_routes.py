"""Wishes that may wait: the solver against every plan, the season against every policy.

The best adaptive policy of small collections is worked out by ``routes_by_hand``, which shares no
code with the tool, for every way to pair the animals this season.
"""

from __future__ import annotations

import itertools
import json
import random
from fractions import Fraction
from pathlib import Path

import pytest

from brumal.cli import main
from brumal.pipeline import prepare
from brumal.planner.problem import Problem
from brumal.planner.season import solve_season
from brumal.planner.solver.answer import EXACT, SolveOptions
from brumal.planner.solver.solve import solve
from brumal.planner.solver.worth import is_allowed
from long_forms import thinned
from routes_by_hand import Case, first_seasons
from season_folders import season_folder
from small_seasons import agree, random_problem, risky, waiting

HEAD = "id,sex,hatched,dam,sire,morph,weight_g,weighed,condition,status\n"
GROWN = "1900,2026-11-01,3,breeder"


def agrees(seed: int, solver: str = "highs") -> None:
    problem = waiting(random_problem(seed), seed)
    agree(problem, solve(problem, SolveOptions(solver=solver, gap=0)))


@pytest.mark.parametrize("seed", thinned(range(60), 3))
def test_the_plan_with_routes_equals_brute_force(seed: int) -> None:
    agrees(seed)


@pytest.mark.parametrize("seed", range(60, 70))
def test_cbc_finds_the_same_with_routes(seed: int) -> None:
    agrees(seed, "cbc")


@pytest.mark.slow
def test_many_plans_with_routes_equal_brute_force() -> None:
    for seed in range(100, 500):
        agrees(seed)


@pytest.mark.parametrize("seed", range(10))
def test_what_a_route_adds_does_not_vary_with_the_season(seed: int) -> None:
    problem = waiting(risky(random_problem(seed, 4), seed), seed)
    agree(problem, solve(problem, SolveOptions(gap=0)))


# Every policy of small collections ----------------------------------------------------------

ALLELES = ("Clown", "Piebald")
VALUE = 1000


def morph(carried: tuple[int, int], maybe: bool) -> str:
    shown = [name for name, copies in zip(ALLELES, carried, strict=True) if copies == 2]
    hets = [f"het {name}" for name, copies in zip(ALLELES, carried, strict=True) if copies == 1]
    if maybe:
        hets.append("50% het Piebald")
    return " ".join([*(shown or ["Normal"]), *hets])


def small_case(number: int) -> tuple[Case, str, str]:
    """Return a collection of three or four as the by-hand code and as files of a folder know it."""
    draw = random.Random(number)
    seasons = 2 + number % 2
    sexes = ("f", "m", *(draw.choice("fm") for _ in range(1 + (number % 3 > 0))))
    maybe = number % 4 == 0
    carried = [(draw.choice((0, 1, 2, 2)), draw.choice((0, 1, 2, 2))) for _ in sexes]
    carried = [(1, 2) if both == (2, 2) else both for both in carried]
    if maybe:
        carried[0] = (carried[0][0], 0)
    animals, worlds = HEAD, [((), Fraction(1))]
    for at, (sex, both) in enumerate(zip(sexes, carried, strict=True)):
        unsure = maybe and at == 0
        words = morph(both, unsure)
        animals += f"A{at},{'female' if sex == 'f' else 'male'},2020-06-01,,,{words},{GROWN}\n"
        kinds = [both, (both[0], 1)] if unsure else [both]
        worlds = [
            ((*sofar, (sex, *kind)), chance / len(kinds))
            for sofar, chance in worlds
            for kind in kinds
        ]
    serves, rest = draw.choice((1, 2)), draw.choice((0, 0, 1))
    in_a_row = draw.choice((0, 1, 2))
    case = Case(
        sexes=sexes,
        beliefs=tuple(sorted(worlds)),
        young=((0, Fraction(1, 5)), (1, Fraction(4, 5))),
        seasons=seasons,
        hold=3,
        serves=serves,
        # With a pairing window of a year a male of ten months is in time for the next season.
        lag=(3, 1),
        rest=rest,
        in_a_row=in_a_row,
        discount=Fraction(1, 10),
    )
    season = f"""season: {{name: Test, pair_from: 2026-12-01, pair_to: 2027-11-30}}
assume: {{goes: 0.8, fertile: 1, hatched: 1, eggs: 1}}
limits: {{max_F: 1, pairings_per_male: {serves}}}
rules:
  male_age_months: 10
  male_weight_g: 400
  max_seasons_in_a_row: {in_a_row}
  rest_seasons: {rest}
values:
  discount: 0.1
  wanted:
    - {{morph: Clown Piebald, value: {VALUE}, by: {2026 + seasons}}}
"""
    return case, animals, season


SMALL = (0, 1, 3, 6, 8, 11, 14, 20, 22, 25, 27, 33, 35, 37, 39, 43)
"""Two and three seasons; in most of them this season's pairs matter to a later one."""


@pytest.mark.parametrize("number", thinned(SMALL, 3, 2))
def test_the_season_is_worth_what_the_best_policy_makes_of_it(number: int, tmp_path: Path) -> None:
    case, animals, season = small_case(number)
    solved = solve_season(prepare(season_folder(tmp_path, animals=animals, season=season)), EXACT)
    by_hand = first_seasons(case)
    none = by_hand[()][1]
    (route,) = solved.problem.routes
    for pairs, (_, later) in by_hand.items():
        named = [(f"A{dam}", f"A{sire}") for dam, sire in pairs]
        assert route.money(named) == pytest.approx(float(VALUE * (later - none)), abs=1e-6)
    best = max(now + later for now, later in by_hand.values()) - none
    assert solved.solution.objective == pytest.approx(float(VALUE * best), abs=1e-4)


@pytest.mark.slow
def test_the_small_collections_are_not_all_hopeless() -> None:
    adds = []
    for number in SMALL:
        by_hand = first_seasons(small_case(number)[0])
        adds.append(max(later for _, later in by_hand.values()) - by_hand[()][1])
    assert sum(each > Fraction(1, 100) for each in adds) >= 6


# What the keeper reads ----------------------------------------------------------------------

FOUR = f"""{HEAD}F1,female,2020-06-01,,,Clown,{GROWN}
F2,female,2020-06-01,,,Piebald,{GROWN}
M1,male,2020-06-01,,,Clown,{GROWN}
M2,male,2020-06-01,,,Piebald,{GROWN}
"""
SEASON = """season: {name: Test, pair_from: 2026-12-01, pair_to: 2027-03-31, as_of: 2026-11-15}
assume: {goes: 0.8, fertile: 1, hatched: 0.8, eggs: 6}
costs: {pairing: 5, egg: 1, hatchling: 10}
values:
  base: 30
  wanted:
    - {morph: Clown, value: 250}
    - {morph: Piebald, value: 250}
    - {morph: Clown Piebald, value: 12000%s}
"""


@pytest.fixture
def waits(tmp_path: Path) -> Path:
    """Return a season that makes double hets this year for a Clown Piebald by 2031."""
    folder = tmp_path / "season"
    (folder / "what-if").mkdir(parents=True)
    season_folder(folder, animals=FOUR, season=SEASON % ", by: 2031")
    text = "values: {wanted: {Clown Piebald: {by: null}}}\n"
    (folder / "what-if" / "this-year-only.yaml").write_text(text, encoding="utf-8")
    return folder


def test_the_plan_says_what_the_season_does_for_a_later_year(
    waits: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert main(["plan", str(waits), "--out", str(out)]) == 0
    printed = capsys.readouterr().out
    assert all(len(line) <= 80 for line in printed.splitlines())
    told = " ".join(printed.split())
    assert "Clown Piebald by 2031: not this year; this season works towards it" in told
    assert "hold back a female het Clown het Piebald (1 in 2 of the young)" in told
    data = json.loads((out / "plan.json").read_text("utf-8"))
    (route,) = data["routes"]
    assert {(pair["dam"], pair["sire"]) for pair in route["pairs"]} == {("F1", "M2"), ("F2", "M1")}
    assert data["money"]["routes"] == route["money"] > 0
    parts = [amount for name, amount in data["money"].items() if name != "keeping"]
    assert sum(parts) == pytest.approx(data["objective"], abs=1e-4)
    discounted = [
        12000 * 0.9**late * ((now["chance"] - had["chance"]) - (before - had_before))
        for late, (now, had, before, had_before) in enumerate(_steps(route))
        if late
    ]
    assert sum(discounted) == pytest.approx(route["money"], abs=1e-3)
    assert "Wishes that may wait" in (out / "plan.html").read_text("utf-8")


def _steps(route: dict) -> list[tuple]:  # type: ignore[type-arg]
    befores = [0.0, *(each["chance"] for each in route["chance"])]
    had = [0.0, *(each["chance"] for each in route["without"])]
    return list(zip(route["chance"], route["without"], befores, had, strict=False))


def test_why_names_the_route_where_it_decides(
    waits: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["why", str(waits), "F1", "M2", "--out", str(tmp_path / "out")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "for the route to Clown Piebald in it: that decides" in told
    assert "if Clown Piebald brought" in told


def test_a_comparison_shows_the_season_with_and_without_it(
    waits: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", str(waits), "--out", str(tmp_path / "out")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "values.wanted.Clown Piebald.by: 2031 -> not given" in told
    data = json.loads((tmp_path / "out" / "compare.json").read_text("utf-8"))
    pairs = [
        {(pair["dam"], pair["sire"]) for pair in scenario["pairs"]}
        for scenario in data["scenarios"]
    ]
    assert pairs == [{("F1", "M2"), ("F2", "M1")}, {("F1", "M1"), ("F2", "M2")}]


def test_without_a_year_nothing_is_counted(tmp_path: Path) -> None:
    plain = solve_season(prepare(season_folder(tmp_path, animals=FOUR, season=SEASON % "")))
    assert plain.problem.routes == ()
    assert {pair.pair for pair in plain.pairs} == {("F1", "M1"), ("F2", "M2")}


@pytest.mark.parametrize(
    ("entry", "told"),
    [(", by: 2026", "2027"), (", by: 2050", "2036"), (", by: 2031, chance: 0.5", "chance")],
)
def test_years_that_cannot_be_are_faults(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], entry: str, told: str
) -> None:
    folder = season_folder(tmp_path, animals=FOUR, season=SEASON % entry)
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 1
    assert told in " ".join(capsys.readouterr().err.split())


def test_a_target_that_nothing_leads_to_is_told(tmp_path: Path) -> None:
    season = SEASON.replace("Clown Piebald", "Albino") % ", by: 2031"
    solved = solve_season(prepare(season_folder(tmp_path, animals=FOUR, season=season)))
    (route,) = solved.routes
    assert route.policy is None
    assert route.worth.gains == {frozenset(): 0.0}


def test_locks_and_room_share_what_is_known_of_a_route(tmp_path: Path) -> None:
    """What a lock or a limit changes is which pairs are made, not what they would add."""
    season = SEASON % ", by: 2031"
    prepared = prepare(season_folder(tmp_path, animals=FOUR, season=season))
    plain = solve_season(prepared)
    for more, pairs in (
        ("locks: {must_pair: [[F1, M1]]}\n", {("F1", "M1"), ("F2", "M1")}),
        ("locks: {sit_out: [F1]}\n", {("F2", "M1")}),
        ("limits: {boxes: 1}\nbox: {clutches: 1}\n", {("F1", "M2")}),
    ):
        files = season_folder(tmp_path, animals=FOUR, season=season + more)
        changed = solve_season(prepare(files), EXACT)
        assert changed.problem.routes[0].gains == plain.problem.routes[0].gains
        money = changed.solution.objective
        every = [
            changed.problem.routes_money(chosen)
            + sum(changed.problem.candidates[at].worth for at in chosen)
            for chosen in _plans(changed.problem)
        ]
        assert money == pytest.approx(max(every), abs=1e-4)
        assert len(changed.pairs) == len(pairs)


def _plans(problem: Problem) -> list[tuple[int, ...]]:
    """Return every plan of at most two pairs that keeps the limits and locks."""
    places = range(len(problem.candidates))
    plans = [(), *((at,) for at in places), *itertools.combinations(places, 2)]
    return [plan for plan in plans if is_allowed(problem, plan)]
