"""Visits of random seasons, from the tables to the calendar, held against the tables alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from brumal.forecast.rounds import Visit
from brumal.insight.simulate.diary import Task, TaskKind
from brumal.insight.why.outlook import look_ahead
from brumal.pipeline import prepare
from brumal.planner.describe import plan_of
from brumal.planner.season import solve_season

FROM, TO = date(2026, 12, 1), date(2027, 3, 31)
QUARANTINE, STAY, GROWN_MONTHS = 90, 3, {"female": 30, "male": 12}
WEIGH_EVERY = 28
WEEKDAYS = ("Monday", "Wednesday", "Saturday")


@dataclass(slots=True)
class Season:
    """A season as its keeper wrote it; ``fit`` is the first day on which each may be paired."""

    as_of: date
    animals: list[str] = field(default_factory=list)
    weights: list[str] = field(default_factory=list)
    events: list[str] = field(default_factory=list)
    fit: dict[str, date] = field(default_factory=dict)
    light: set[str] = field(default_factory=set)
    heavy_on: dict[str, date] = field(default_factory=dict)
    ovulated: dict[str, date] = field(default_factory=dict)
    gone: set[str] = field(default_factory=set)

    def write(self, folder: Path) -> Path:
        folder.mkdir()
        head = "id,sex,hatched,morph,condition,status,arrived\n"
        (folder / "animals.csv").write_text(head + "\n".join(self.animals) + "\n")
        head = "animal,date,grams\n"
        (folder / "weights.csv").write_text(head + "\n".join(self.weights) + "\n")
        head = "date,animal,event,with\n"
        (folder / "events.csv").write_text(head + "\n".join(sorted(self.events)) + "\n")
        (folder / "season.yaml").write_text(
            f"season: {{name: T, pair_from: {FROM}, pair_to: {TO}, as_of: {self.as_of}}}\n"
            "values: {base: 90, wanted: [{morph: Clown, value: 300}]}\n"
            f"visits: {{weekdays: [{', '.join(WEEKDAYS)}], days: {STAY}}}\n"
        )
        return folder


def months_on(day: date, months: int) -> date:
    """Return the first of a month so many months after another first of a month."""
    at = day.year * 12 + day.month - 1 + months
    return date(at // 12, at % 12 + 1, 1)


def drawn(rng: np.random.Generator) -> Season:
    """Draw a season of a few animals: young ones, newcomers, light ones; some met already."""
    season = Season(FROM + timedelta(days=int(rng.integers(-10, 75))))
    names = [f"F{at}" for at in range(int(rng.integers(2, 6)))]
    names += [f"M{at}" for at in range(int(rng.integers(1, 4)))]
    for name in names:
        sex, least = ("female", 1500) if name[0] == "F" else ("male", 500)
        first = months_on(FROM, int(rng.integers(-4, 3)))
        hatched = date(2019, 6, 1)
        if rng.random() < 0.3:
            hatched = months_on(first, -GROWN_MONTHS[sex])
        arrived = max(date(2022, 1, 1), hatched + timedelta(days=30))
        if rng.random() < 0.3:
            arrived = FROM - timedelta(days=int(rng.integers(10, 100)))
        season.fit[name] = max(
            FROM,
            season.as_of,
            months_on(hatched, GROWN_MONTHS[sex]),
            arrived + timedelta(days=QUARANTINE),
        )
        grams = least + 300
        if rng.random() < 0.2:
            grams, _ = least - int(rng.integers(5, 60)), season.light.add(name)
        gain = int(rng.integers(1, 40))
        days = -(-25 * max(least - grams, 0) // gain)
        season.heavy_on[name] = season.as_of + timedelta(days=days - 5)
        for at in range(4):
            day = season.as_of - timedelta(days=5 + 25 * (3 - at))
            season.weights.append(f"{name},{day},{grams - gain * (3 - at)}")
        season.animals.append(f"{name},{sex},{hatched},Clown,3,breeder,{arrived}")
    _happened(season, names, rng)
    return season


def _happened(season: Season, names: Sequence[str], rng: np.random.Generator) -> None:
    males = [name for name in names if name[0] == "M"]
    day = season.as_of - timedelta(days=8)
    for female in (name for name in names if name[0] == "F"):
        male = str(rng.choice(males))
        ready = day >= max(FROM, season.fit[female], season.fit[male])
        if not ready and rng.random() < 0.5 and day >= FROM:
            season.events.append(f"{day},{female},visit,{male}")
            if rng.random() < 0.5:
                season.ovulated[female] = day + timedelta(days=5)
                season.events.append(f"{season.ovulated[female]},{female},ovulation,")
        elif rng.random() < 0.1:
            season.gone.add(female)
            season.events.append(f"{day},{female},died,")


def breaches(season: Season, visits: Sequence[Visit]) -> list[str]:
    """Return what is wrong with the visits of a season, by what its keeper wrote."""
    wrong, places = [], set()
    for visit in visits:
        told = f"{visit.male} with {visit.female} on {visit.start}"
        for animal in (visit.male, visit.female):
            if visit.start < season.fit[animal]:
                wrong.append(f"{told}: {animal} may be paired from {season.fit[animal]}")
            if animal in season.light:
                wrong.append(f"{told}: {animal} is not heavy enough by any weighing")
            if animal in season.gone:
                wrong.append(f"{told}: {animal} is dead")
        if visit.female in season.ovulated:
            wrong.append(f"{told}: she has ovulated")
        if visit.end > TO or f"{visit.start:%A}" not in WEEKDAYS:
            wrong.append(f"{told}: the wrong day")
        for ahead in range((visit.end - visit.start).days + 1):
            day = visit.start + timedelta(days=ahead)
            if {(visit.male, day), (visit.female, day)} & places:
                wrong.append(f"{told}: one of them is elsewhere on {day}")
            places |= {(visit.male, day), (visit.female, day)}
    return wrong


def unweighed(season: Season, tasks: Sequence[Task]) -> list[str]:
    """Return what is wrong with the weigh days: who lacks only grams is weighed, and in time."""
    wrong = [f"{each.start} has gone by" for each in tasks if each.start < season.as_of]
    steady = [FROM + timedelta(days=WEIGH_EVERY * at) for at in range(5)]
    first = min(day for day in steady if day >= season.as_of)
    for animal in season.light - season.gone - season.ovulated.keys():
        if max(season.fit[animal], season.heavy_on[animal]) > TO:
            continue
        days = {each.start for each in tasks if animal in each.animals}
        # Ovulation may begin in February; a female of the plan is weighed until then.
        if first < date(2027, 1, 25) and first not in days:
            wrong.append(f"{animal} lacks only grams and is not weighed on {first}")
        light = [at for at in days if at < season.heavy_on[animal]]
        late = season.heavy_on[animal] + timedelta(days=WEIGH_EVERY)
        if late <= date(2027, 1, 25) and not {at for at in days if at <= late} - set(light):
            wrong.append(f"{animal} should be heavy on {season.heavy_on[animal]}, not weighed then")
    return wrong


def hold(folder: Path, seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    visited = weighed = 0
    for number in range(count):
        season = drawn(rng)
        solved = solve_season(prepare(season.write(folder / str(number))))
        visits = solved.laid_out.calendar.visits
        assert breaches(season, visits) == []
        visited += bool(visits)
        if season.light:
            tasks = look_ahead(solved, plan_of(solved)).tasks
            kinds = (TaskKind.WEIGH, TaskKind.WEIGH_FIRST)
            assert unweighed(season, [each for each in tasks if each.kind in kinds]) == []
            asked = {(each.subject, each.start) for each in tasks if each.grams}
            starts = solved.prepared.starts.values()
            assert asked >= {(each.animal, each.day) for each in starts if each.provisional}
            weighed += len(asked)
    assert visited > count / 2 and weighed


def test_visits_of_random_seasons_keep_to_the_tables(tmp_path: Path) -> None:
    hold(tmp_path, 17, 12)


@pytest.mark.slow
def test_visits_of_500_random_seasons_keep_to_the_tables(tmp_path: Path) -> None:
    hold(tmp_path, 18, 500)
