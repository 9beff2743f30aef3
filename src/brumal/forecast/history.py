"""Clutches gone by, read for what they say of the next: went, first, mass, eggs, shares."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from brumal.forecast.weight import GRAVID_DAYS, WeightSeries, mass_for_clutch
from brumal.records.animals import Animal, Clutch, Sex
from brumal.records.folder import SeasonRecords

FIRST_CLUTCH_YEARS = 5
"""The earliest clutch on record counts as her first when she was younger than this."""
DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True, kw_only=True)
class PastClutch:
    """One recorded season of a pair.

    ``went`` says whether she laid, ``first`` whether it was her first clutch, ``mass_g`` her mass
    going into that season. ``eggs``, ``fertile`` (eggs that were not slugs) and ``hatched`` are
    ``None`` where not recorded.
    """

    dam: str
    sire: str | None
    went: bool
    first: bool
    mass_g: float | None
    eggs: int | None
    fertile: int | None
    hatched: int | None


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
    earliest: dict[str, date] = {}
    for clutch in records.clutches:
        if clutch.laid is not None and clutch.eggs != 0:
            earliest[clutch.dam] = min(clutch.laid, earliest.get(clutch.dam, clutch.laid))
    return tuple(
        _past(clutch, animals.get(clutch.dam), series.get(clutch.dam), earliest.get(clutch.dam))
        for clutch in records.clutches
    )


def _past(
    clutch: Clutch, dam: Animal | None, series: WeightSeries | None, earliest: date | None
) -> PastClutch:
    mass = None
    if series is not None and clutch.laid is not None:
        mass = mass_for_clutch(series, clutch.laid - timedelta(days=GRAVID_DAYS), within_days=300)
    fertile = _fertile(clutch)
    return PastClutch(
        dam=clutch.dam,
        sire=clutch.sire,
        went=clutch.eggs != 0,
        first=_is_first(clutch, dam, earliest),
        mass_g=mass,
        eggs=clutch.eggs,
        fertile=fertile,
        hatched=clutch.hatched if fertile is not None else None,
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


def goes_records(past: tuple[PastClutch, ...]) -> dict[str, tuple[int, int]]:
    """Return (seasons she laid, seasons paired) by dam; empty when no failure was ever written.

    Records that hold only clutches laid tell nothing of how often a paired female lays.
    """
    if all(clutch.went for clutch in past):
        return {}
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for clutch in past:
        counts[clutch.dam][0] += clutch.went
        counts[clutch.dam][1] += 1
    return {dam: (went, paired) for dam, (went, paired) in counts.items()}
