"""Seasons carried out day by day by a simulator of its own, events fed to the tool week by week.

What truly happens (who cycles and when, refusals, illness, deaths, eggs) is drawn here and shares
no code with the tool; the tool's week decides who is put to whom.
"""

from __future__ import annotations

import os
import random
import shutil
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from brumal import library
from brumal.insight.week import week_of
from brumal.insight.why.outlook import look_ahead
from brumal.planner.describe import plan_of
from brumal.planner.plan import PlannedPair
from long_forms import thinned
from season_outputs import ROOT

LATE = date(2028, 1, 1)
FEMALES = ("F1", "F2", "F3", "F5")
MALES = ("M1", "M2")


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


def life(rng: random.Random) -> Life:
    ovulates = date(2027, 1, 1) + timedelta(days=rng.randrange(100))
    shed = ovulates + timedelta(days=rng.randint(18, 24))
    lays = shed + timedelta(days=rng.randint(25, 31))
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
        if luck < 0.55:
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
        seen = {her.ovulates: "ovulation"} if self.rng.random() < 0.6 else {}
        if any(met <= her.ovulates for met in her.met):
            if self.rng.random() < 0.6:
                seen[her.shed] = "shed"
            seen |= {her.lays: "laid", her.hatches: "hatched"}
        if day not in seen:
            return
        good = her.eggs - her.slugs
        counts = {"laid": f"{her.eggs},{her.slugs}", "hatched": f"{self.rng.randint(0, good)},"}
        self.write(day, dam, seen[day], counts=counts.get(seen[day], ","))
        self.closed.add(dam)


def walk(seed: int, folder: Path) -> None:
    shutil.copytree(ROOT / "scenarios" / "small", folder)
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
        week = week_of(season, plan, look_ahead(season, plan))
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

    A season takes about six seconds of one core, so that 20 take two minutes and 500 fifty.
    """
    for seed in range(2 + part, 2 + WALKED, PARTS):
        walk(seed, tmp_path / str(seed))
