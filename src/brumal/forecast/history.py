"""Clutches gone by, read for what they say of the next: went, first, mass, eggs, shares."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from brumal.forecast.her_past import deformed_young
from brumal.forecast.ledger import DAYS_A_YEAR, seasons_ago
from brumal.forecast.weight import (
    BEFORE_EGGS_DAYS,
    GRAVID_DAYS,
    WeightSeries,
    mass_for_clutch,
    project,
    weight_going_in,
)
from brumal.records.animals import Animal, Clutch, Sex
from brumal.records.folder import SeasonRecords

FIRST_CLUTCH_YEARS = 5
"""The earliest clutch on record counts as her first when she was younger than this."""
PROJECTION_DAYS = 90
MASS_DAYS = 300


class SeasonKind(StrEnum):
    """What kind of season it is for a female, as far as it bears on whether she lays."""

    FIRST = "before her first clutch"
    LATER = "after a season without a clutch"
    AFTER_LAYING = "after a season in which she laid"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastClutch:
    """One recorded season of a pair.

    ``went`` says whether she laid, ``first`` whether it was her first clutch, ``mass_g`` her mass
    going into that season. ``mass_g``, ``eggs``, ``fertile`` (eggs that were not slugs) and
    ``hatched`` (deformed young taken off) are ``None`` where not recorded.
    """

    dam: str
    sire: str | None
    went: bool
    first: bool
    mass_g: float | None
    eggs: int | None
    fertile: int | None
    hatched: int | None
    kind: SeasonKind = SeasonKind.LATER


def breeding_mass(series: WeightSeries, pair_from: date) -> float | None:
    """Return the mass a female is forecast to go into the season with, in grams."""
    coming = project(series, pair_from)
    if coming is not None and series.trend is not None:
        recent = (pair_from - series.trend.on).days <= PROJECTION_DAYS
        return coming.grams if recent else series.trend.level_g
    plain = weight_going_in(series, pair_from, MASS_DAYS)
    if plain is not None:
        return plain.grams
    return series.last.grams if series.last else None


def proven_dams(records: SeasonRecords) -> frozenset[str]:
    """Return the ids of females known to have laid: by clutch, ``last_laid`` or as a dam."""
    by_clutch = {clutch.dam for clutch in records.clutches if clutch.eggs != 0}
    by_date = {animal.id for animal in records.animals if animal.last_laid is not None}
    by_young = {animal.dam for animal in records.animals if animal.dam is not None}
    males = {animal.id for animal in records.animals if animal.sex is Sex.MALE}
    return frozenset((by_clutch | by_date | by_young) - males)


def past_clutches(
    records: SeasonRecords, series: Mapping[str, WeightSeries]
) -> tuple[PastClutch, ...]:
    """Return the recorded seasons in the order of the clutches table."""
    animals = {animal.id: animal for animal in records.animals}
    on = records.settings.season.pair_from
    laid: dict[str, list[date]] = defaultdict(list)
    for clutch in records.clutches:
        if clutch.laid is not None and clutch.eggs != 0:
            laid[clutch.dam].append(clutch.laid)
    proven = proven_dams(records)
    return tuple(
        _past(
            clutch,
            animals.get(clutch.dam),
            series.get(clutch.dam),
            _season_kind(clutch, sorted(laid[clutch.dam]), clutch.dam in proven, on),
            min(laid[clutch.dam], default=None),
        )
        for clutch in records.clutches
    )


def _season_kind(clutch: Clutch, laid: list[date], proven: bool, on: date) -> SeasonKind:
    if not proven or (clutch.laid is not None and laid and clutch.laid <= laid[0]):
        return SeasonKind.FIRST
    if clutch.laid is None:
        return SeasonKind.LATER
    before = seasons_ago(clutch.laid, on) + 1
    again = any(seasons_ago(day, on) == before for day in laid)
    return SeasonKind.AFTER_LAYING if again else SeasonKind.LATER


def _past(
    clutch: Clutch,
    dam: Animal | None,
    series: WeightSeries | None,
    kind: SeasonKind,
    earliest: date | None,
) -> PastClutch:
    mass = None
    if series is not None and clutch.laid is not None:
        mass = mass_for_clutch(series, clutch.laid - timedelta(days=GRAVID_DAYS), BEFORE_EGGS_DAYS)
    fertile = _fertile(clutch)
    hatched = clutch.hatched if fertile is not None else None
    return PastClutch(
        dam=clutch.dam,
        sire=clutch.sire,
        went=clutch.eggs != 0,
        first=_is_first(clutch, dam, earliest),
        mass_g=mass,
        eggs=clutch.eggs,
        fertile=fertile,
        hatched=None if hatched is None else max(hatched - deformed_young(clutch), 0),
        kind=kind,
    )


def _fertile(clutch: Clutch) -> int | None:
    if clutch.eggs is None:
        return None
    if clutch.slugs is not None:
        return clutch.eggs - clutch.slugs
    return clutch.eggs if clutch.hatched == clutch.eggs else None


def _is_first(clutch: Clutch, dam: Animal | None, earliest: date | None) -> bool:
    if dam is None or dam.hatched is None or clutch.laid is None or clutch.laid != earliest:
        return False
    return (clutch.laid - dam.hatched).days < FIRST_CLUTCH_YEARS * DAYS_A_YEAR


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonsPaired:
    """The recorded seasons of one dam: how many she laid in, and the kind of each of them."""

    laid: int
    kinds: tuple[SeasonKind, ...]

    @property
    def failed(self) -> int:
        """Return in how many she was paired and laid nothing."""
        return len(self.kinds) - self.laid


def seasons_paired(past: tuple[PastClutch, ...]) -> dict[str, SeasonsPaired]:
    """Return the recorded seasons by dam."""
    rows: dict[str, list[PastClutch]] = defaultdict(list)
    for clutch in past:
        rows[clutch.dam].append(clutch)
    return {
        dam: SeasonsPaired(
            laid=sum(each.went for each in hers), kinds=tuple(each.kind for each in hers)
        )
        for dam, hers in rows.items()
    }
