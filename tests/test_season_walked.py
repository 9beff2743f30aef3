"""Seasons carried out day by day by a simulator of its own, events fed to the tool week by week.

What truly happens (who cycles and when, refusals, illness, deaths, eggs) is drawn here and shares
no code with the tool; the week told decides who is put to whom. Days are drawn as docs/forecast.md
says that they fall, so that windows which are told to hold in eight cases of ten have to.
"""

from __future__ import annotations

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
from brumal.insight.week import week_of
from brumal.insight.why.outlook import Outlook, look_ahead
from brumal.planner.describe import plan_of
from brumal.planner.plan import PlannedPair
from long_forms import thinned
from season_outputs import ROOT

LATE = date(2028, 1, 1)
FEMALES = ("F1", "F2", "F3", "F5")
MALES = ("M1", "M2")
MIDDLE, SPREAD = date(2027, 3, 10), 28 / 1.2816
"""Eight in ten ovulate between 10 February and 7 April, by a normal law."""
MARCH = date(2027, 3, 1)


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
    """One season as it goes: true lives, rows written so far, who is gone or ill."""

    rng: random.Random
    lives: dict[str, Life]
    rows: list[tuple[date, str]] = field(default_factory=list)
    gone: set[str] = field(default_factory=set)
    ill: set[str] = field(default_factory=set)
    closed: set[str] = field(default_factory=set)
    facts: dict[str, set[str]] = field(default_factory=dict)
    told: dict[str, list[tuple[date, Window, Window]]] = field(default_factory=dict)

    def write(self, day: date, animal: str, event: str, mate: str = "", counts: str = ",") -> None:
        self.rows.append((day, f"{day},{animal},{event},{mate},{counts}"))

    def visit(self, day: date, dam: str, sire: str) -> None:
        """Put a male to a female: he may be refused, or a lock be seen."""
        assert dam not in self.gone | self.ill | self.closed, f"{sire} sent to {dam} on {day}"
        assert sire not in self.gone | self.ill, f"{sire} sent out on {day}"
        self.write(day, dam, "visit", sire)
        luck = self.rng.random()
        if luck < 0.15:
            self.write(day, dam, "refusal", sire)
            return
        self.facts.setdefault(dam, set()).add(sire)
        self.lives[dam].met.append(day)
        is_late = self.lives[dam].cycles and self.lives[dam].ovulates < day
        if luck < (0.23 if is_late else 0.55):
            self.write(day, dam, "lock", sire)

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

    def hear(self, outlook: Outlook, day: date) -> None:
        """Note the windows told of the days to come."""
        for each in outlook.clutches:
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
    (folder / "season.yaml").write_text(text.replace("goes: 0.8, ", ""))
    rng = random.Random(seed)
    going = Walk(rng, {dam: life(rng) for dam in FEMALES})
    day, end = date(2026, 12, 1), date(2027, 8, 1)
    agreed: dict[str, str] = {}
    while day <= end:
        (folder / "events.csv").write_text(
            "date,animal,event,with,count,slugs\n" + "".join(f"{row}\n" for _, row in going.rows)
        )
        prepared = library.read(folder, day, LATE)
        records = replace(prepared.records, agreed=frozenset(agreed.items()))
        season = library.solve(replace(prepared, records=records))
        agreed = season.mates
        plan = plan_of(season)
        assert plan.objective is not None, (seed, day, plan.clashes)
        outlook = look_ahead(season, plan)
        going.hear(outlook, day)
        week = week_of(season, plan, outlook)
        pairs = {pair.dam: pair for pair in plan.pairs}
        check(going, pairs, day)
        visits = sorted(
            {
                (task.day, task.animal, task.mate)
                for task in week.tasks
                if task.task == "male goes to her"
            }
        )
        assert {dam for _, dam, _ in visits} <= set(pairs)
        for ahead in range(7):
            today = day + timedelta(days=ahead)
            for when, dam, sire in visits:
                barred = going.gone | going.ill | going.closed
                if when == today and (not ahead or not barred & {dam, sire}):
                    going.visit(today, dam, sire)
            going.live(today)
        day += timedelta(days=7)
    return going.held()


def check(going: Walk, pairs: dict[str, PlannedPair], day: date) -> None:
    """Check that no fact is planned away: a female with eggs is in, with her real eggs."""
    for dam, her in going.lives.items():
        written = any(row[1].startswith(f"{row[0]},{dam},laid") for row in going.rows)
        if not written:
            continue
        pair = pairs[dam]
        assert pair.eggs == her.eggs, (dam, day)
        assert pair.sire in going.facts[dam]
        assert pair.young <= her.eggs - her.slugs + 1e-9


@pytest.mark.parametrize("seed", thinned(range(2), 2))
def test_seasons_carried_out_day_by_day(seed: int, tmp_path: Path) -> None:
    walk(seed, tmp_path / "season")


PARTS = 5
WALKED = int(os.environ.get("WALKED_SEASONS", "20"))


@pytest.mark.slow
@pytest.mark.parametrize("part", range(PARTS))
def test_many_seasons_carried_out_day_by_day(part: int, tmp_path: Path) -> None:
    """Walk every fifth of ``WALKED_SEASONS`` seasons (20 unless the environment says more).

    A season takes about six seconds of one core, so that 20 take two minutes and 500 fifty. Windows
    have to hold in eight cases of ten: narrow ones in more, since days are whole.
    """
    held: dict[str, list[bool]] = {}
    for seed in range(2 + part, 2 + WALKED, PARTS):
        for what, found in walk(seed, tmp_path / str(seed)).items():
            held.setdefault(what, []).extend(found)
    for what, found in sorted(held.items()):
        print(f"{what}: {sum(found)} of {len(found)} windows held")
        side = "less" if what.endswith("ovulated") else "two-sided"
        assert binomtest(sum(found), len(found), 0.8, side).pvalue > 1e-4, what
