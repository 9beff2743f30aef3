"""How near every animal is to breeding, the nearest first: whom to feed, whom to weigh again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from brumal.forecast.clutch import ClutchForecasts
from brumal.forecast.dam import DamForecast
from brumal.forecast.ledger import Ledger
from brumal.forecast.weight import WeightSeries
from brumal.records.animals import Animal, Sex
from brumal.records.folder import SeasonRecords
from brumal.rules.cautions import by_rank
from brumal.rules.males import male_limit
from brumal.rules.rule import RuleContext
from brumal.rules.start import Start, starts_of
from brumal.rules.table import may_breed
from brumal.rules.verdict import RuleVerdict


class State(StrEnum):
    """Where an animal stands, in the order a keeper wants to see it."""

    NOT_READY = "not ready"
    LOOK_FIRST = "ready, but look first"
    READY = "ready"
    NOT_PLANNED = "not planned"


@dataclass(frozen=True, slots=True, kw_only=True)
class Readiness:
    """One animal: its verdicts, its weights, and when it should be ready.

    ``verdicts`` are those of the first day of all. ``start`` says from when on it may be paired
    this season, ``ready_on`` when every failed rule should be met, this season or later (``None``
    where one of them has no date). ``missing_share`` is the share of the asked weight that is
    missing. ``clutch`` is the dam's forecast and ``ledger`` her seasons gone by (females),
    ``pairings`` the most females and why (males). ``rests`` says that the keeper has locked the
    animal to sit the season out.
    """

    animal: Animal
    state: State
    verdicts: tuple[RuleVerdict, ...]
    series: WeightSeries
    start: Start
    ready_on: date | None
    missing_share: float
    limit_g: float | None
    clutch: DamForecast | None
    pairings: tuple[int, str] | None
    rests: bool
    ledger: Ledger | None = None

    @property
    def failed(self) -> tuple[RuleVerdict, ...]:
        """Return the verdicts that bar the animal."""
        return tuple(verdict for verdict in self.verdicts if not verdict.passed)

    @property
    def cautions(self) -> tuple[RuleVerdict, ...]:
        """Return the verdicts that let the animal pass with a caution, the gravest first."""
        return by_rank(verdict for verdict in self.verdicts if verdict.passed and verdict.caution)


def readiness(
    records: SeasonRecords,
    context: RuleContext,
    forecasts: ClutchForecasts,
    starts: Mapping[str, Start] | None = None,
) -> tuple[Readiness, ...]:
    """Return every animal of the collection, those outside it left out; ``starts`` if known.

    Not ready come first, the nearest of them at the top: by the day they should be ready, then
    (no day known) by the share of weight missing and the number of rules failed.
    """
    starts = starts_of(records.collection, context) if starts is None else starts
    found = [
        _readiness(animal, records, context, forecasts, starts[animal.id])
        for animal in records.collection
    ]
    return tuple(sorted(found, key=_nearness))


def _readiness(
    animal: Animal,
    records: SeasonRecords,
    context: RuleContext,
    forecasts: ClutchForecasts,
    start: Start,
) -> Readiness:
    verdicts = start.first
    limits = [verdict.figures.get("limit_g") for verdict in verdicts]
    asked = [limit for limit in limits if isinstance(limit, float)]
    limit_g = max(asked, default=None)
    male = animal.sex is Sex.MALE
    return Readiness(
        animal=animal,
        state=_state(verdicts),
        verdicts=verdicts,
        series=context.series[animal.id],
        start=start,
        ready_on=ready_day(verdicts) if start.day is None else start.day if start.held_by else None,
        missing_share=_missing_share(context.series[animal.id], limit_g),
        limit_g=limit_g,
        clutch=None if male else forecasts.dams[animal.id],
        pairings=male_limit(animal, records) if male else None,
        rests=animal.id in records.settings.locks.sit_out,
        ledger=context.ledgers.get(animal.id),
    )


def _state(verdicts: tuple[RuleVerdict, ...]) -> State:
    if any(verdict.rule == "status" and not verdict.passed for verdict in verdicts):
        return State.NOT_PLANNED
    if not may_breed(verdicts):
        return State.NOT_READY
    return State.LOOK_FIRST if any(verdict.caution for verdict in verdicts) else State.READY


def ready_day(verdicts: tuple[RuleVerdict, ...]) -> date | None:
    """Return the day on which every failed rule should be met, ``None`` where one has none."""
    failed = [verdict.figures for verdict in verdicts if not verdict.passed]
    days = [figures.get("ready", figures.get("likely")) for figures in failed]
    known = [date.fromisoformat(day) for day in days if isinstance(day, str)]
    return max(known) if known and len(known) == len(days) else None


def _missing_share(series: WeightSeries, limit_g: float | None) -> float:
    if limit_g is None:
        return 0.0
    if series.last is None:
        return 1.0
    return max(1 - series.last.grams / limit_g, 0.0)


def _nearness(one: Readiness) -> tuple[int, date, float, int, str]:
    return (
        list(State).index(one.state),
        one.ready_on or date.max,
        one.missing_share,
        len(one.failed),
        one.animal.id,
    )
