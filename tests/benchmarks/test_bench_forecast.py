"""Clutch forecasts of a large collection: all pairs at once against pair by pair, in one run."""

from __future__ import annotations

import time
from datetime import date

import numpy as np
import pytest

from brumal.forecast.clutch import clutch_for, forecast_clutches, young_table
from brumal.records.animals import Animal, Clutch, Sex
from brumal.records.folder import SeasonRecords
from brumal.records.settings import SeasonDates, Settings


def collection(females: int, males: int, seed: int = 7) -> SeasonRecords:
    """Return females with two recorded clutches each, by males drawn at random."""
    rng = np.random.default_rng(seed)
    dams = [
        Animal(
            id=f"F{at:04d}",
            sex=Sex.FEMALE,
            hatched=date(2020, 7, 1),
            weight_g=float(rng.integers(1500, 2800)),
            weighed=date(2026, 11, 1),
        )
        for at in range(females)
    ]
    sires = [Animal(id=f"M{at:03d}", sex=Sex.MALE) for at in range(males)]
    clutches = []
    for dam in dams:
        for year in (2025, 2026):
            eggs = int(rng.integers(3, 11))
            slugs = int(rng.binomial(eggs, 0.1))
            clutches.append(
                Clutch(
                    dam=dam.id,
                    sire=sires[int(rng.integers(males))].id,
                    laid=date(year, 4, 20),
                    eggs=eggs,
                    slugs=slugs,
                    hatched=int(rng.binomial(eggs - slugs, 0.9)),
                )
            )
    season = SeasonDates(name="Bench", pair_from=date(2026, 12, 1), pair_to=date(2027, 3, 31))
    return SeasonRecords(
        animals=(*dams, *sires), clutches=tuple(clutches), settings=Settings(season=season)
    )


@pytest.mark.benchmark
def test_all_pairs_at_once_against_one_by_one() -> None:
    records = collection(500, 100)
    dams = [animal for animal in records.animals if animal.sex is Sex.FEMALE]
    sires = [animal for animal in records.animals if animal.sex is Sex.MALE]
    start = time.perf_counter()
    forecasts = forecast_clutches(records)
    fitted = time.perf_counter()
    pairs = [clutch_for(forecasts, dam, sire) for dam in dams for sire in sires]
    joined = time.perf_counter()
    together = young_table(pairs)
    done = time.perf_counter()
    sample = pairs[::25]
    alone = np.stack([pair.young_pmf for pair in sample])
    one_by_one = (time.perf_counter() - done) * len(pairs) / len(sample)
    assert alone == pytest.approx(together[::25], abs=1e-12)
    print(
        f"\n{len(pairs):,} pairs: fit {fitted - start:.2f} s, pairs {joined - fitted:.2f} s, "
        f"distributions {done - joined:.2f} s; one by one {one_by_one:.2f} s, "
        f"ratio {one_by_one / (done - joined):.1f}"
    )
    assert one_by_one > done - joined
