"""The clutch a pair should bring: the dam's part, then how many are fertile and how many hatch."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.dam import Collection, DamForecast, dam_forecast
from brumal.forecast.distributions import share_tables
from brumal.forecast.eggs import fit_eggs
from brumal.forecast.her_past import doubtful_dams
from brumal.forecast.history import (
    PastClutch,
    breeding_mass,
    past_clutches,
    proven_dams,
    seasons_paired,
)
from brumal.forecast.ledger import ledgers
from brumal.forecast.noted import Welfare, fertility_left, lowered
from brumal.forecast.shares import Count, ShareModel, Split, fit_shares
from brumal.forecast.weight import WeightSeries, all_series
from brumal.records.animal_table import MOST_EGGS
from brumal.records.animals import Animal, Sex
from brumal.records.folder import SeasonRecords
from brumal.records.settings import Assume, ClutchPrior

Floats = NDArray[np.float64]

FERTILE_SPLIT = Split(dam=0.35, sire=0.35)
HATCHED_SPLIT = Split(dam=0.35, sire=0.15)
BATCH = 512


@dataclass(frozen=True, eq=False, kw_only=True)
class ClutchForecast:
    """The clutch of one pair.

    ``goes`` is the chance that she lays, ``eggs`` the mean number of eggs if she does (slugs
    included), ``eggs_pmf`` their distribution as an array from 0 eggs, ``eggs_p90`` the eggs that
    box room is counted at. ``fertile`` is the mean share of eggs that are not slugs, ``hatched``
    the mean share of fertile eggs that hatch; each share is a beta of that mean with a + b the
    ``strength``, infinite where the keeper states the share.
    """

    dam: str
    sire: str
    goes: float
    eggs: float
    eggs_p90: float
    eggs_pmf: Floats
    fertile: float
    fertile_strength: float
    hatched: float
    hatched_strength: float

    @property
    def expected_young(self) -> float:
        """Return the mean number of hatched young: goes x eggs x fertile x hatched."""
        return self.goes * self.eggs * self.fertile * self.hatched

    @property
    def slugs(self) -> float:
        """Return the mean number of slugs if she lays."""
        return self.eggs * (1 - self.fertile)

    @cached_property
    def young_pmf(self) -> Floats:
        """Return the distribution of hatched young from 0, that she does not go included."""
        table: Floats = young_table([self])[0]
        table.setflags(write=False)
        return table


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ClutchForecasts:
    """Forecast parts of a whole collection: by dam, and shares by dam and sire.

    ``collection`` is what they were fitted to, so that one animal's can be made anew.
    """

    dams: Mapping[str, DamForecast]
    fertile: ShareModel
    hatched: ShareModel
    assume: Assume
    collection: Collection
    welfare: Welfare = field(default_factory=Welfare)


def forecast_clutches(
    records: SeasonRecords,
    series: Mapping[str, WeightSeries] | None = None,
    like: ClutchForecasts | None = None,
    welfare: Welfare | None = None,
) -> ClutchForecasts:
    """Forecast the parts of every pair's clutch, once for the whole collection.

    ``series`` are the weight series by animal where they have been read already. What rests on
    nothing that differs is taken over from forecasts made before (``like``), object by object.
    ``welfare`` is what notes on parents and young take from clutches.

    Figures of ``assume`` replace the forecast piece by piece, ``expected_eggs`` of an animal
    replaces the eggs of that dam (and goes before ``assume.eggs``); a stated number of eggs that is
    not whole lies on the two whole numbers next to it.
    """
    prior = records.settings.clutch
    series = all_series(records) if series is None else series
    past = past_clutches(records, series)
    proven = proven_dams(records)
    if like is not None and not _same_past(like.collection, records, past):
        like = None
    collection = Collection(
        records=records,
        series=series,
        past=past,
        eggs=like.collection.eggs if like else fit_eggs(past, prior),
        goes=seasons_paired(past),
        clutches=Counter(clutch.dam for clutch in past if clutch.went),
        weighed=Counter(clutch.dam for clutch in past if clutch.went and clutch.mass_g),
        ledgers=ledgers(records),
        doubtful=doubtful_dams(records),
        most=_most_eggs(records),
    )
    known = _same_dams(like, collection) if like else {}
    dams = {
        animal.id: known.get(animal.id)
        or _dam(animal, series[animal.id], animal.id in proven, collection)
        for animal in records.animals
        if animal.sex is not Sex.MALE
    }
    fertile = like.fertile if like else _fit_fertile(past, prior)
    hatched = like.hatched if like else _fit_hatched(past, prior)
    return ClutchForecasts(
        dams=dams,
        fertile=fertile,
        hatched=hatched,
        assume=records.settings.assume,
        collection=collection,
        welfare=welfare or Welfare(),
    )


def _same_past(before: Collection, records: SeasonRecords, past: tuple[PastClutch, ...]) -> bool:
    was, is_ = before.records.settings, records.settings
    return (before.past, was.clutch, was.records) == (past, is_.clutch, is_.records)


def _same_dams(like: ClutchForecasts, now: Collection) -> Mapping[str, DamForecast]:
    """Return the forecasts of the dams of whom nothing differs."""
    before = like.collection
    one, two = before.records.settings, now.records.settings
    if (one.season.pair_from, one.assume, before.most) != (
        two.season.pair_from,
        two.assume,
        now.most,
    ):
        return {}
    rows = {animal.id: animal for animal in before.records.animals}
    was, is_ = proven_dams(before.records), proven_dams(now.records)
    return {
        animal.id: like.dams[animal.id]
        for animal in now.records.animals
        if animal.id in like.dams
        and animal.expected_eggs == rows[animal.id].expected_eggs
        and now.series[animal.id] == before.series[animal.id]
        and (animal.id in was) == (animal.id in is_)
        and before.season_kind(animal.id, animal.id in was)
        is now.season_kind(animal.id, animal.id in is_)
        and (animal.id in before.doubtful) == (animal.id in now.doubtful)
    }


def same_clutches(one: ClutchForecasts, two: ClutchForecasts) -> frozenset[str]:
    """Return the dams whose clutches by any sire are forecast alike, as far as they share parts."""
    if (one.fertile is not two.fertile) or (one.hatched is not two.hatched):
        return frozenset()
    if (one.assume, one.welfare) != (two.assume, two.welfare):
        return frozenset()
    return frozenset(dam for dam, hers in one.dams.items() if two.dams.get(dam) is hers)


def with_dam_anew(
    forecasts: ClutchForecasts,
    records: SeasonRecords,
    series: Mapping[str, WeightSeries],
    dam: str,
) -> ClutchForecasts:
    """Return the forecasts of records in which nothing but one female's weights differs.

    Where they bear on past clutches, all is fitted anew; else her part alone.
    """
    if past_clutches(records, series) != forecasts.collection.past:
        return forecast_clutches(records, series, welfare=forecasts.welfare)
    animal = next(each for each in records.animals if each.id == dam)
    hers = _dam(animal, series[dam], forecasts.dams[dam].proven, forecasts.collection)
    return replace(forecasts, dams={**forecasts.dams, dam: hers})


def started(clutch: ClutchForecast, chance: float) -> ClutchForecast:
    """Return a clutch as forecast where its pair meets with a chance only."""
    return clutch if chance == 1 else replace(clutch, goes=clutch.goes * chance)


def clutch_for(
    forecasts: ClutchForecasts, dam: Animal, sire: Animal, goes: float | None = None
) -> ClutchForecast:
    """Return the forecast for one pair; raises KeyError for a dam that is male or not on record.

    ``goes`` is the chance that she lays with the visits she gets (left out: ordinary ones). Young
    that do not live do not hatch, whatever share is stated or recorded.
    """
    hers = forecasts.dams[dam.id]
    fertile = _share(forecasts.fertile, forecasts.assume.fertile, dam.id, sire.id)
    if forecasts.assume.fertile is None:
        fertile = lowered(
            fertile, fertility_left(forecasts.welfare, forecasts.collection.past, (dam.id, sire.id))
        )
    hatched = _share(forecasts.hatched, forecasts.assume.hatched, dam.id, sire.id)
    hatched = lowered(hatched, 1 - forecasts.welfare.lethal.get((dam.id, sire.id), 0.0))
    return ClutchForecast(
        dam=dam.id,
        sire=sire.id,
        goes=hers.goes if goes is None else goes,
        eggs=hers.eggs,
        eggs_p90=hers.eggs_p90,
        eggs_pmf=hers.eggs_pmf,
        fertile=fertile[0],
        fertile_strength=fertile[1],
        hatched=hatched[0],
        hatched_strength=hatched[1],
    )


def young_table(clutches: Sequence[ClutchForecast]) -> Floats:
    """Return the distribution of hatched young of each clutch, (clutches, most eggs + 1).

    Row i sums to one and has the mean ``clutches[i].expected_young``. All clutches must come from
    one :class:`ClutchForecasts`. Pairs with the same shares share the work.
    """
    if not clutches:
        return np.zeros((0, MOST_EGGS + 1))
    shares = np.array(
        [[c.fertile, c.fertile_strength, c.hatched, c.hatched_strength] for c in clutches]
    )
    distinct, place = np.unique(shares, axis=0, return_inverse=True)
    order = np.argsort(place, kind="stable")
    eggs = np.stack([clutch.eggs_pmf for clutch in clutches])
    goes = np.array([clutch.goes for clutch in clutches])
    table = np.empty_like(eggs)
    most = eggs.shape[1] - 1
    for start in range(0, len(distinct), BATCH):
        part = distinct[start : start + BATCH]
        fertile = share_tables(part[:, 0], part[:, 1], most)
        through = fertile @ share_tables(part[:, 2], part[:, 3], most)
        first, last = np.searchsorted(place[order], [start, start + len(part)])
        rows = order[first:last]
        table[rows] = np.einsum("ce,cek->ck", eggs[rows], through[place[rows] - start])
    table *= goes[:, None]
    table[:, 0] += 1 - goes
    return table


def _dam(animal: Animal, series: WeightSeries, proven: bool, collection: Collection) -> DamForecast:
    pair_from = collection.records.settings.season.pair_from
    return dam_forecast(
        collection,
        animal.id,
        mass_g=breeding_mass(series, pair_from),
        proven=proven,
        expected_eggs=animal.expected_eggs,
    )


def _most_eggs(records: SeasonRecords) -> int:
    stated = [animal.expected_eggs for animal in records.animals]
    laid = [each.eggs for each in records.this_season]
    figures = [eggs for eggs in [*stated, *laid, records.settings.assume.eggs] if eggs is not None]
    return max([MOST_EGGS, *(math.ceil(eggs) for eggs in figures)])


def _fertile_counts(past: Sequence[PastClutch]) -> list[Count]:
    return [
        Count(dam=clutch.dam, sire=clutch.sire, eggs=clutch.eggs, through=clutch.fertile)
        for clutch in past
        if clutch.eggs is not None and clutch.fertile is not None
    ]


def _hatched_counts(past: Sequence[PastClutch]) -> list[Count]:
    return [
        Count(dam=clutch.dam, sire=clutch.sire, eggs=clutch.fertile, through=clutch.hatched)
        for clutch in past
        if clutch.fertile is not None and clutch.hatched is not None
    ]


def _fit_fertile(past: Sequence[PastClutch], prior: ClutchPrior) -> ShareModel:
    return fit_shares(_fertile_counts(past), prior.fertile, prior.worth, FERTILE_SPLIT)


def _fit_hatched(past: Sequence[PastClutch], prior: ClutchPrior) -> ShareModel:
    return fit_shares(_hatched_counts(past), prior.hatched, prior.worth, HATCHED_SPLIT)


def _share(model: ShareModel, stated: float | None, dam: str, sire: str) -> tuple[float, float]:
    return model.of(dam, sire) if stated is None else (stated, math.inf)
