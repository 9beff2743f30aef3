"""Seasons gone by, female by female: which she laid in, was paired in, rested in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from brumal.forecast.weight import layings
from brumal.records.animals import Animal, Clutch, Sex
from brumal.records.folder import SeasonRecords

DAYS_A_YEAR = 365.25
MOST_SEASONS = 8


class PastState(StrEnum):
    """What a female did in one season, as far as it was written down."""

    LAID = "laid"
    PAIRED = "paired without a clutch"
    RESTED = "rested"
    NOT_PAIRED = "not paired"
    UNKNOWN = "nothing on record"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastSeason:
    """One season: the calendar year its layings fall in, how many seasons ago it was (0: last)."""

    year: int
    ago: int
    state: PastState


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """The seasons of one female, the last one first.

    ``undated_laid`` and ``undated_paired`` count clutches and seasons without one whose day is
    not recorded: they belong to some season, nobody can say to which.
    """

    seasons: tuple[PastSeason, ...]
    undated_laid: int = 0
    undated_paired: int = 0

    @property
    def laid_last(self) -> bool:
        """Say whether she laid in the last season."""
        return bool(self.in_a_row)

    @property
    def in_a_row(self) -> tuple[int, ...]:
        """Return the years of the unbroken run of layings up to the last season, oldest first."""
        run: list[int] = []
        for season in self.seasons:
            if season.state is not PastState.LAID or season.ago != len(run):
                break
            run.append(season.year)
        return tuple(run[::-1])

    @property
    def most_in_a_row(self) -> int:
        """Return how long that run may be: clutches without a day fill seasons not accounted for.

        What is not known never counts as rest.
        """
        laid = {season.ago for season in self.seasons if season.state is PastState.LAID}
        known = {s.ago for s in self.seasons if s.state is not PastState.UNKNOWN}
        spare, run = self.undated_laid, 0
        while run in laid or (run not in known and spare):
            spare -= run not in laid
            run += 1
        return run


def seasons_ago(day: date, on: date) -> int:
    """Return how many seasons before the one starting ``on`` a day fell: 0 for the last one."""
    return int((on - day).days // DAYS_A_YEAR)


def season_year(ago: int, on: date) -> int:
    """Return the calendar year that holds the middle of a season gone by."""
    return (on - timedelta(days=round((ago + 0.5) * DAYS_A_YEAR))).year


def ledgers(records: SeasonRecords) -> dict[str, Ledger]:
    """Return the ledger of every female of the collection, by id.

    Seasons go back to the first clutch of the table, at most eight of them, and not to before she
    was two years old or came in. A season without a row of hers is told as one of rest only where
    ``records.failures`` says that seasons without a clutch are written down as well.
    """
    on = records.settings.season.pair_from
    by_dam: dict[str, list[Clutch]] = {}
    for clutch in records.clutches:
        by_dam.setdefault(clutch.dam, []).append(clutch)
    days = [clutch.laid for clutch in records.clutches if clutch.laid and clutch.laid < on]
    oldest = max((seasons_ago(day, on) for day in days), default=-1)
    return {
        animal.id: _ledger(
            animal, by_dam.get(animal.id, ()), on, oldest, records.settings.records.failures
        )
        for animal in records.collection
        if animal.sex is not Sex.MALE
    }


def _ledger(
    animal: Animal, clutches: Sequence[Clutch], on: date, oldest: int, failures: bool
) -> Ledger:
    laid = {seasons_ago(day, on) for day in layings(animal, clutches) if day < on}
    failed = [clutch for clutch in clutches if clutch.eggs == 0]
    paired = {seasons_ago(each.laid, on) for each in failed if each.laid and each.laid < on}
    last = max((oldest, *laid, *paired))
    return Ledger(
        seasons=tuple(
            PastSeason(
                year=season_year(ago, on),
                ago=ago,
                state=_state(ago, laid, paired, failures),
            )
            for ago in range(min(last + 1, MOST_SEASONS))
            if ago in laid | paired or _of_age(animal, ago, on)
        ),
        undated_laid=_undated_laid(animal, clutches),
        undated_paired=sum(clutch.laid is None for clutch in failed),
    )


def _state(ago: int, laid: set[int], paired: set[int], failures: bool) -> PastState:
    if ago in laid:
        return PastState.LAID
    if ago in paired:
        return PastState.PAIRED
    if not failures:
        return PastState.UNKNOWN
    return PastState.RESTED if any(each > ago for each in laid) else PastState.NOT_PAIRED


def _of_age(animal: Animal, ago: int, on: date) -> bool:
    """Say whether she was two years old, and there, when that season began."""
    began = on - timedelta(days=round((ago + 1) * DAYS_A_YEAR))
    grown = animal.hatched is None or (began - animal.hatched).days >= 2 * DAYS_A_YEAR
    return grown and (animal.arrived is None or animal.arrived <= began)


def _undated_laid(animal: Animal, clutches: Iterable[Clutch]) -> int:
    """Count her clutches without a day; one of them may be that of ``last_laid``."""
    dated = {clutch.laid for clutch in clutches if clutch.laid is not None and clutch.eggs != 0}
    undated = sum(clutch.laid is None and clutch.eggs != 0 for clutch in clutches)
    told = animal.last_laid is not None and animal.last_laid not in dated
    return max(undated - told, 0)
