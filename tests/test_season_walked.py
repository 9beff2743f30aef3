"""Seasons carried out day by day by a simulator of its own, events fed to the tool week by week.

What truly happens (who cycles and when, refusals, illness, deaths, eggs) is drawn here and shares
no code with the tool; the week told decides who is put to whom. Days are drawn as docs/forecast.md
says that they fall, so that windows which are told to hold in eight cases of ten have to. Every
week is planned, in this process; once a season all that a plan is written as is made too, and
again when the season is over.
"""

from __future__ import annotations

import json
import os
import random
import shutil
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from scipy.stats import binomtest

from brumal import library
from brumal.forecast.dates import Window
from brumal.insight.week import Week, week_of
from brumal.insight.why.outlook import Days, days_of, look_ahead
from brumal.planner.describe import plan_of
from brumal.planner.limits.every import keeps_limits
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.worth import value_of
from brumal.report.plan.calendar_file import plan_calendar
from brumal.report.plan.cards import plan_cards
from brumal.report.plan.files import plan_csv, plan_json
from brumal.report.plan.page import plan_page
from brumal.report.plan.workbook import plan_workbook
from brumal.report.week.report import week_json, week_page
from season_outputs import ROOT

LATE = date(2028, 1, 1)
FEMALES = ("F1", "F2", "F3", "F5")
MALES = ("M1", "M2")
MIDDLE, SPREAD = date(2027, 3, 10), 28 / 1.2816
"""Eight in ten ovulate between 10 February and 7 April, by a normal law."""
HEAD = "date,animal,event,with,count,slugs,about"
MARCH = date(2027, 3, 1)
FIRST, WEEKS = date(2026, 12, 1), 35
BOXES = 3


@dataclass
class Life:
    """What becomes of one female."""

    cycles: bool
    ovulates: date
    shed: date
    lays: date
    hatches: date
    eggs: int
    slugs: int
    met: list[date] = field(default_factory=list)
    goes: bool = False


def life(rng: random.Random) -> Life:
    ovulates = MIDDLE + timedelta(days=round(rng.gauss(0, SPREAD)))
    shed = ovulates + timedelta(days=rng.randint(18, 24))
    lays = shed + timedelta(days=rng.randint(26, 33))
    eggs = rng.randint(3, 9)
    return Life(
        cycles=rng.random() < 0.85,
        ovulates=ovulates,
        shed=shed,
        lays=lays,
        hatches=lays + timedelta(days=rng.randint(55, 60)),
        eggs=eggs,
        slugs=rng.randint(0, eggs),
    )


@dataclass
class Walk:
    """One season as it goes: true lives, rows written so far, who is gone or ill.

    ``met`` holds for each female the males that were with her and not refused since, with what was
    seen of the two last; ``facts`` all that were ever with her. ``boxes`` are those told.
    """

    rng: random.Random
    lives: dict[str, Life]
    rows: list[tuple[date, str]] = field(default_factory=list)
    gone: set[str] = field(default_factory=set)
    ill: set[str] = field(default_factory=set)
    closed: set[str] = field(default_factory=set)
    laid: set[str] = field(default_factory=set)
    hatched: set[str] = field(default_factory=set)
    met: dict[str, dict[str, str]] = field(default_factory=dict)
    facts: dict[str, set[str]] = field(default_factory=dict)
    boxes: dict[str, int | None] = field(default_factory=dict)
    told: dict[str, list[tuple[date, Window, Window]]] = field(default_factory=dict)

    def write(self, day: date, animal: str, event: str, mate: str = "", counts: str = ",") -> None:
        about = "illness" if event == "cleared" else ""
        self.rows.append((day, f"{day},{animal},{event},{mate},{counts},{about}"))

    def visit(self, day: date, dam: str, sire: str, made: bool) -> None:
        """Put a male to a female, where the keeper does: he may be refused, or a lock be seen."""
        assert dam not in self.gone | self.ill | self.closed, f"{sire} sent to {dam} on {day}"
        assert sire not in self.gone | self.ill, f"{sire} sent out on {day}"
        if not made:
            return
        self.write(day, dam, "visit", sire)
        luck = self.rng.random()
        if luck < 0.15:
            self.write(day, dam, "refusal", sire)
            self.met.get(dam, {}).pop(sire, None)
            return
        self.facts.setdefault(dam, set()).add(sire)
        seen = self.met.setdefault(dam, {})
        seen.setdefault(sire, "visit")
        self.lives[dam].met.append(day)
        is_late = self.lives[dam].cycles and self.lives[dam].ovulates < day
        if luck < (0.23 if is_late else 0.55):
            self.write(day, dam, "lock", sire)
            seen[sire] = "lock"

    def live(self, day: date) -> None:
        """Let a day go by for everyone."""
        for dam in self.lives:
            if dam not in self.gone:
                self.of_female(dam, day)
        for animal in (*FEMALES, *MALES):
            if animal not in self.gone and self.rng.random() < 0.0006:
                self.write(day, animal, "died")
                self.gone.add(animal)
            elif animal not in self.gone | self.ill and self.rng.random() < 0.0006:
                self.write(day, animal, "ill")
                self.ill.add(animal)
            elif animal in self.ill - self.gone and self.rng.random() < 0.03:
                self.write(day, animal, "cleared")
                self.ill.remove(animal)

    def of_female(self, dam: str, day: date) -> None:
        """Write what is seen of a female on a day: ovulation and shed are often missed."""
        her = self.lives[dam]
        if not her.cycles:
            return
        if day == her.ovulates:
            near = [met for met in her.met if (day - met).days < 62]
            her.goes = any(self.rng.random() < 0.6 for _ in near)
        seen = {her.ovulates: "ovulation"} if self.rng.random() < 0.7 else {}
        if her.goes:
            if self.rng.random() < 0.7:
                seen[her.shed] = "shed"
            seen |= {her.lays: "laid", her.hatches: "hatched"}
        if day not in seen:
            return
        good = her.eggs - her.slugs
        counts = {"laid": f"{her.eggs},{her.slugs}", "hatched": f"{self.rng.randint(0, good)},"}
        self.write(day, dam, seen[day], counts=counts.get(seen[day], ","))
        self.closed.add(dam)
        if seen[day] == "laid":
            self.laid.add(dam)
        if seen[day] == "hatched":
            self.hatched.add(dam)

    def hear(self, days: Days, day: date) -> None:
        """Note the windows told of the days to come."""
        for each in days.clutches:
            if self.lives[each.dam].lays >= day:
                self.told.setdefault(each.dam, []).append((day, each.laying, each.hatching))

    def held(self) -> dict[str, list[bool]]:
        """Say of windows told at times that nobody chose by what came later whether they held."""
        found: dict[str, list[bool]] = {}
        rows = [(day + timedelta(days=1), row.split(",")) for day, row in self.rows]
        seen = {row[1]: known for known, row in rows if row[2] == "ovulation"}
        for dam, told in self.told.items():
            her = self.lives[dam]
            if not her.goes or dam in self.gone:
                continue
            times = {"first": date.min, "in March": MARCH, "ovulated": seen.get(dam, date.max)}
            for when, start in times.items():
                later = next((each for each in told if each[0] >= start), None)
                if later is not None:
                    _, laying, hatching = later
                    is_in = laying.early <= her.lays <= laying.late
                    found.setdefault(f"laying, {when}", []).append(is_in)
                    is_in = hatching.early <= her.hatches <= hatching.late
                    found.setdefault(f"hatching, {when}", []).append(is_in)
        return found


def walk(seed: int, folder: Path) -> dict[str, list[bool]]:
    """Walk a season, and return which of the windows told held."""
    shutil.copytree(ROOT / "scenarios" / "small", folder)
    # Whether she goes is forecast, so that windows are those of ovulations that visits serve.
    text = (folder / "season.yaml").read_text()
    text = text.replace("goes: 0.8, ", "")
    # Every other season boxes are counted by the week, as they are unless a keeper says otherwise.
    by_week = bool(seed % 2)
    text = text.replace("weekly: false, ", "") if by_week else text
    (folder / "season.yaml").write_text(text)
    rng = random.Random(seed)
    going = Walk(rng, {dam: life(rng) for dam in FEMALES})
    agreed: dict[str, str] = {}
    then = FIRST + timedelta(days=7 * random.Random(-seed).randrange(1, WEEKS))
    for number in range(WEEKS):
        day = FIRST + timedelta(days=7 * number)
        (folder / "events.csv").write_text(
            "date,animal,event,with,count,slugs,about\n"
            + "".join(f"{row}\n" for _, row in going.rows)
        )
        if day == then:
            agreed_then, told_then = agreed, files(folder, day - timedelta(days=1), agreed)
        season = solved(folder, day, agreed)
        check_worth(season, agreed)
        agreed = season.mates
        plan = plan_of(season)
        assert plan.objective is not None, (seed, day, plan.clashes)
        days = days_of(season, plan)
        going.hear(days, day)
        week = week_of(season, plan, days)
        check_facts(going, plan, day)
        check_visits(going, days, day)
        check_boxes(going, plan, week, by_week)
        live_week(going, week)
    assert files(folder, then - timedelta(days=1), agreed_then) == told_then
    return going.held()


def solved(folder: Path, day: date, agreed: dict[str, str]) -> SolvedSeason:
    prepared = library.read(folder, day, LATE)
    records = replace(prepared.records, agreed=frozenset(agreed.items()))
    return library.solve(replace(prepared, records=records))


def files(folder: Path, day: date, agreed: dict[str, str]) -> dict[str, str | bytes]:
    """Return all that is written of a day's plan, but for the fingerprints of the files read."""
    season = solved(folder, day, agreed)
    plan = plan_of(season)
    plan = replace(plan, inputs=replace(plan.inputs, fingerprints={}))
    outlook = look_ahead(season, plan)
    week = week_of(season, plan, outlook)
    return {
        "plan.json": plan_json(plan),
        "plan.csv": plan_csv(plan),
        "plan.html": plan_page(plan, outlook, week),
        "plan.xlsx": plan_workbook(plan, outlook),
        "cards.html": plan_cards(plan, outlook),
        "calendar.ics": plan_calendar(plan, outlook),
        "week.json": week_json(week),
        "week.html": week_page(week),
    }


def live_week(going: Walk, week: Week) -> None:
    """Put males to females as the week says, but where something came between, and live on.

    One visit in four is not made.
    """
    visits = sorted(
        (task.day, task.animal, task.mate) for task in week.tasks if task.task == "male goes to her"
    )
    for ahead in range(7):
        today = week.first + timedelta(days=ahead)
        for when, dam, sire in visits:
            barred = going.gone | going.ill | going.closed
            if when == today and (not ahead or not barred & {dam, sire}):
                going.visit(today, dam, sire, made=going.rng.random() < 0.75)
        going.live(today)


def check_worth(season: SolvedSeason, before: dict[str, str]) -> None:
    """Check that the plan is worth no less than what can be kept of the one before, as seen now."""
    problem = season.problem
    kept = {pair[0]: at for at, pair in enumerate(problem.columns.pairs) if pair in problem.must}
    for at, (dam, sire) in enumerate(problem.columns.pairs):
        if before.get(dam) == sire:
            kept.setdefault(dam, at)
    old = sorted(kept.values())
    if keeps_limits(problem, old):
        assert season.solution.objective >= value_of(problem, old) - 1e-6


def check_facts(going: Walk, plan: Plan, day: date) -> None:
    """Check that no fact is planned away: who met stays a pair, real eggs count as they are."""
    pairs = {pair.dam: pair for pair in plan.pairs}
    for dam, males in going.met.items():
        stand = {sire for sire, seen in males.items() if seen == "lock" or sire not in going.gone}
        if stand and dam not in going.gone - going.laid:
            there = going.facts[dam] if dam in going.closed else set(males) - going.gone or stand
            assert pairs[dam].sire in there, (dam, day)
    for dam in going.laid:
        her, pair = going.lives[dam], pairs[dam]
        assert pair.eggs == her.eggs, (dam, day)
        assert pair.sire in going.facts[dam]
        assert pair.young <= her.eggs - her.slugs + 1e-9


def check_visits(going: Walk, days: Days, day: date) -> None:
    """Check that nobody is to meet, this week or later, of whom it is known that they may not."""
    barred = going.gone | going.ill
    for clutch in days.clutches:
        if clutch.visits:
            assert clutch.dam not in barred | going.closed, (clutch.dam, day)
            assert not {visit.male for visit in clutch.visits} & barred, (clutch.dam, day)


def check_boxes(going: Walk, plan: Plan, week: Week, by_week: bool) -> None:
    """Check that each box holds what it can hold, and that none is planned for twice.

    A box has room for one clutch, or for two of six good eggs or fewer each. More than the boxes
    there are is planned for only where the clutches of pairs that have met need more already, or
    where weeks count: not all clutches are in at once there.
    """
    assert {label.dam for label in week.labels} == going.laid - going.hatched
    inside: dict[int, list[int]] = {}
    for label in week.labels:
        assert going.boxes.setdefault(label.dam, label.box) == label.box
        if label.box is not None:
            her = going.lives[label.dam]
            inside.setdefault(label.box, []).append(her.eggs - her.slugs)
    assert all(1 <= box <= BOXES for box in inside)
    assert all(len(good) == 1 or (len(good) == 2 and max(good) <= 6) for good in inside.values())
    facts = [
        pair.box_eggs
        for pair in plan.pairs
        if going.met.get(pair.dam) or (pair.dam in going.closed and going.facts.get(pair.dam))
    ]
    most = max(BOXES, boxes_of(facts))
    assert by_week or boxes_of([pair.box_eggs for pair in plan.pairs]) <= most


def boxes_of(eggs: list[int]) -> int:
    large = sum(each > 6 for each in eggs)
    return large + -(-(len(eggs) - large) // 2)


@pytest.mark.parametrize("seed", range(2))
def test_seasons_carried_out_day_by_day(seed: int, tmp_path: Path) -> None:
    walk(seed, tmp_path / "season")


PARTS = 20
WALKED = int(os.environ.get("WALKED_SEASONS", "500"))


@pytest.fixture(scope="session")
def counts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder in which every part leaves what it counted, whichever process it ran in."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "walked"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.mark.slow
@pytest.mark.parametrize("part", range(PARTS))
def test_many_seasons_carried_out_day_by_day(part: int, tmp_path: Path, counts: Path) -> None:
    """Walk a part of ``WALKED_SEASONS`` seasons (500 unless the environment says otherwise).

    A season takes about three seconds of one core. Windows have to hold in eight cases of ten:
    narrow ones in more, since days are whole. They are counted over all parts walked so far.
    """
    held: dict[str, list[bool]] = {}
    for seed in range(2 + part, 2 + WALKED, PARTS):
        for what, found in walk(seed, tmp_path / str(seed)).items():
            held.setdefault(what, []).extend(found)
    (counts / f"{part}.new").write_text(json.dumps(held))
    (counts / f"{part}.new").rename(counts / f"{part}.json")
    done = [json.loads(path.read_text()) for path in sorted(counts.glob("*.json"))]
    for what in sorted({what for each in done for what in each}):
        every = [is_in for each in done for is_in in each.get(what, ())]
        print(f"{what}: {sum(every)} of {len(every)} windows held")
        side = "less" if what.endswith("ovulated") else "two-sided"
        assert binomtest(sum(every), len(every), 0.8, side).pvalue > 1e-4, what
