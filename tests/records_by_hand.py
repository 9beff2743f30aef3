"""Records made in code for tests of forecasts and rules: one season, animals given as needed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from pydantic import TypeAdapter

from brumal.records.animals import Animal, Clutch, Sex, Weighing
from brumal.records.folder import SeasonRecords
from brumal.records.settings import Settings
from brumal.rules.table import judge_animal, rule_context
from brumal.rules.verdict import RuleVerdict

PAIR_FROM = date(2026, 12, 1)


def settings(**sections: object) -> Settings:
    """Return settings as ``season.yaml`` would give them, the season's dates filled in."""
    season = {"name": "Test", "pair_from": "2026-12-01", "pair_to": "2027-03-31"}
    return TypeAdapter(Settings).validate_python({"season": season} | sections)


def records(
    animals: Sequence[Animal],
    weighings: Sequence[Weighing] = (),
    clutches: Sequence[Clutch] = (),
    sections: Mapping[str, object] | None = None,
) -> SeasonRecords:
    return SeasonRecords(
        animals=tuple(animals),
        weighings=tuple(weighings),
        clutches=tuple(clutches),
        settings=settings(**(sections or {})),
    )


def female(id_: str = "F1", **columns: object) -> Animal:
    return Animal(id=id_, sex=Sex.FEMALE, **columns)  # type: ignore[arg-type]


def male(id_: str = "M1", **columns: object) -> Animal:
    return Animal(id=id_, sex=Sex.MALE, **columns)  # type: ignore[arg-type]


def weighed(animal: str, *grams: float, last: date, every: int = 30) -> list[Weighing]:
    """Return weighings ``every`` so many days, the last one on ``last``."""
    count = len(grams)
    return [
        Weighing(animal=animal, date=last - timedelta(days=every * (count - 1 - at)), grams=weight)
        for at, weight in enumerate(grams)
    ]


def verdict_on(
    animal: Animal,
    rule: str,
    weighings: Sequence[Weighing] = (),
    clutches: Sequence[Clutch] = (),
    **sections: object,
) -> RuleVerdict | None:
    """Return what one rule says of one animal in a collection of its own."""
    context = rule_context(records([animal], weighings, clutches, sections))
    found = [each for each in judge_animal(animal, context) if each.rule == rule]
    return found[0] if found else None
