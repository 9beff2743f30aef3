"""How many females a male may be given."""

from __future__ import annotations

from brumal.forecast.weight import weight_series
from brumal.records.ages import months_old
from brumal.records.animals import Animal
from brumal.records.folder import SeasonRecords

YOUNG_MONTHS, GROWN_MONTHS = 18, 30
LIGHT_G, GROWN_G = 700.0, 1000.0
YOUNG_PAIRINGS, MIDDLE_PAIRINGS, GROWN_PAIRINGS = 2, 4, 6


def male_limit(animal: Animal, records: SeasonRecords) -> tuple[int, str]:
    """Return the most females for this male, and why in words.

    His own ``max_pairings`` goes before ``limits.pairings_per_male``; without either, age and
    weight decide (common practice, no source): 2 for a male under 18 months or 700 g, 4 under 30
    months or 1,000 g, else 6. What is not known does not hold him back.
    """
    if animal.max_pairings is not None:
        return animal.max_pairings, "max_pairings in the animals table"
    stated = records.settings.limits.pairings_per_male
    if stated is not None:
        return stated, "pairings_per_male in season.yaml"
    return _by_size(animal, records)


def _by_size(animal: Animal, records: SeasonRecords) -> tuple[int, str]:
    on = records.settings.season.pair_from
    own = [weighing for weighing in records.weighings if weighing.animal == animal.id]
    last = weight_series(animal, own).last
    months = months_old(animal.hatched, on) if animal.hatched else None
    told = [f"{months} months old"] if months is not None else []
    told += [f"{last.grams:,.0f} g"] if last else []
    size = ", ".join(told) or "age and weight not known"
    if (months is not None and months < YOUNG_MONTHS) or (last and last.grams < LIGHT_G):
        return (
            YOUNG_PAIRINGS,
            f"common practice under {YOUNG_MONTHS} months or under {LIGHT_G:,.0f} g ({size})",
        )
    if (months is not None and months < GROWN_MONTHS) or (last and last.grams < GROWN_G):
        return (
            MIDDLE_PAIRINGS,
            f"common practice under {GROWN_MONTHS} months or under {GROWN_G:,.0f} g ({size})",
        )
    return GROWN_PAIRINGS, f"common practice for a grown male ({size})"
