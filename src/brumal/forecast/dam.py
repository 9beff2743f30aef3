"""The dam's part of a clutch: does she go, and how many eggs does she lay if she does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from brumal.forecast.distributions import (
    lognormal_counts,
    mean_count,
    percentile,
    two_point_counts,
)
from brumal.forecast.eggs import EggModel
from brumal.forecast.goes import Goes, forecast_goes
from brumal.forecast.history import PastClutch, SeasonKind, SeasonsPaired
from brumal.forecast.ledger import Ledger
from brumal.forecast.weight import WeightSeries
from brumal.records.folder import SeasonRecords

Floats = NDArray[np.float64]

BOX_SHARE = 0.9
"""Box room is counted at the eggs that so large a share of her clutches does not pass."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class DamForecast:
    """The dam's part: chance that she goes, eggs given that she goes (array from 0 eggs).

    ``eggs_stated`` says that the keeper gave the eggs (``expected_eggs`` or ``assume.eggs``);
    ``mass_g`` is the mass the eggs are forecast from (``None``: not known), ``proven`` whether she
    has laid before, ``own_clutches`` how many clutches of hers are on record, ``own_weighed`` for
    how many of them her weight is. ``goes_on`` is what ``goes`` stands on.
    """

    goes: float
    goes_on: Goes
    eggs: float
    eggs_p90: float
    eggs_pmf: Floats
    eggs_stated: bool
    mass_g: float | None
    proven: bool
    own_clutches: int
    own_weighed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Collection:
    """What the forecasts of a collection's females are made from.

    ``past`` are clutches from before the season, ``goes`` seasons paired, ``clutches`` how many of
    each dam are on record, ``weighed`` for how many of these her weight is; ``ledgers`` and
    ``doubtful`` say what her past seasons tell. ``most`` is the largest number of eggs counted.
    """

    records: SeasonRecords
    series: Mapping[str, WeightSeries]
    past: tuple[PastClutch, ...]
    eggs: EggModel
    goes: Mapping[str, SeasonsPaired]
    clutches: Mapping[str, int]
    weighed: Mapping[str, int]
    ledgers: Mapping[str, Ledger]
    doubtful: frozenset[str]
    most: int

    def season_kind(self, dam: str, proven: bool) -> SeasonKind:
        """Return what kind of season the coming one is for a female."""
        if not proven:
            return SeasonKind.FIRST
        ledger = self.ledgers.get(dam)
        return SeasonKind.AFTER_LAYING if ledger and ledger.laid_last else SeasonKind.LATER


def dam_forecast(
    collection: Collection,
    dam: str,
    *,
    mass_g: float | None,
    proven: bool,
    expected_eggs: float | None = None,
) -> DamForecast:
    """Return the forecast of a female, on record or not (then ``dam`` is empty).

    ``mass_g`` is the mass her eggs are forecast from, ``expected_eggs`` what the keeper expects of
    her, which goes before ``assume.eggs``.
    """
    assume = collection.records.settings.assume
    stated = expected_eggs if expected_eggs is not None else assume.eggs
    if stated is None:
        chances = lognormal_counts(
            *collection.eggs.of(dam, mass_g, first=not proven), collection.most
        )
        mean, at_most = mean_count(chances), float(percentile(chances, BOX_SHARE))
    else:
        chances = two_point_counts(stated, collection.most)
        mean = at_most = stated
    goes = _goes(dam, proven, collection)
    return DamForecast(
        goes=goes.chance,
        goes_on=goes,
        eggs=mean,
        eggs_p90=at_most,
        eggs_pmf=chances,
        eggs_stated=stated is not None,
        mass_g=mass_g,
        proven=proven,
        own_clutches=collection.clutches.get(dam, 0),
        own_weighed=collection.weighed.get(dam, 0),
    )


def _goes(dam: str, proven: bool, collection: Collection) -> Goes:
    settings = collection.records.settings
    kind = collection.season_kind(dam, proven)
    if settings.assume.goes is not None:
        return Goes(chance=settings.assume.goes, stated=True, kind=kind)
    return forecast_goes(
        settings.clutch,
        collection.goes,
        dam,
        kind,
        recorded=settings.records.failures,
        doubtful=dam in collection.doubtful,
    )
