"""Values and wishes of hatchlings against a walk over every joint outcome of all groups."""

from __future__ import annotations

import functools
import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from brumal.forecast.layouts import layouts_of
from brumal.forecast.sheets import (
    expected_value,
    expected_values,
    hatchling_shares,
    many_shares,
    share_of,
)
from brumal.forecast.value import Reduced
from brumal.genetics.genotypes import SEX_GROUP
from brumal.genetics.masks import scene_of_marks
from brumal.pipeline import prepare
from brumal.planner.pairs.families import Family
from brumal.planner.pairs.pricing import Pricing, pricing_of
from brumal.planner.pairs.tables import Follow

DEMO = Path(__file__).parent.parent / "scenarios" / "demo"


@pytest.fixture(scope="module")
def pricing() -> Pricing:
    return pricing_of(prepare(DEMO))


@pytest.fixture(scope="module")
def pairs(pricing: Pricing) -> list[tuple[str, str]]:
    animals = [a for a in pricing.prepared.records.animals if a.status != "outside"]
    dams = [a.id for a in animals if a.sex == "female"]
    sires = [a.id for a in animals if a.sex == "male"]
    return list(itertools.product(dams, sires))


def walked(pricing: Pricing, tables: tuple[Reduced, ...]) -> tuple[float, np.ndarray, np.ndarray]:
    """Return expected value, chances taken and chances fitting of one hatchling, case by case."""
    prices = pricing.sheets.prices
    present = {table.group for table in tables}
    shut = {
        entry
        for group, mask in prices.needing.items()
        if group not in present
        for entry in range(len(prices.entries))
        if mask >> entry & 1
    }
    value = sum(table.common for table in tables)
    taken, fits = np.zeros(len(prices.tracked)), np.zeros(len(prices.fitting))
    odds = [table.weights[0] @ table.odds[0] for table in tables]
    sex_at = [table.group for table in tables].index(SEX_GROUP)
    for outcome in itertools.product(*(range(each.size) for each in odds)):
        chance = math.prod(float(each[s]) for each, s in zip(odds, outcome, strict=True))
        if chance == 0:
            continue
        marks = [int(t.outcomes.marks[s]) for t, s in zip(tables, outcome, strict=True)]
        scene = scene_of_marks(functools.reduce(int.__or__, marks), prices.catalogue)
        worths = []
        for t in tables:
            veil = scene.veil(prices.catalogue.groups[t.group].loci)
            worths.append(t.outcomes.under[veil] if veil else t.outcomes.worth)
        totals = [
            sum(float(worth[entry, s]) for worth, s in zip(worths, outcome, strict=True))
            if entry not in shut
            else -math.inf
            for entry in range(len(prices.entries))
        ]
        best = max(range(len(totals)), key=lambda entry: (totals[entry], -entry))
        sex = int(tables[sex_at].outcomes.sex[outcome[sex_at]])
        value += chance * totals[best]
        for number, (entries, sexes) in enumerate(prices.tracked):
            taken[number] += chance * (best in entries and sex in sexes)
        for number, entry in enumerate(prices.fitting):
            fits[number] += chance * math.isfinite(totals[entry])
    return value, taken, fits


def test_many_pairs_are_priced_as_every_outcome_says(
    pricing: Pricing, pairs: list[tuple[str, str]]
) -> None:
    tables = [pricing.tables.of(*pair) for pair in pairs]
    values = expected_values(pricing.sheets, tables)
    found = {
        place: share_of(many, number)
        for many in many_shares(pricing.sheets, tables)
        for number, place in enumerate(many.places.tolist())
    }
    assert sorted(found) == list(range(len(pairs)))
    for place, own in enumerate(tables):
        value, taken, fits = walked(pricing, own)
        shares = found[place]
        weights = shares.weights[0]
        assert values[place] == pytest.approx(value, abs=1e-9)
        assert shares.taken[:, 0] @ weights == pytest.approx(taken, abs=1e-12)
        assert shares.fits[:, 0] @ weights == pytest.approx(fits, abs=1e-12)
        assert weights.sum() == pytest.approx(1.0)


def test_one_pair_alone_is_priced_as_among_many(
    pricing: Pricing, pairs: list[tuple[str, str]]
) -> None:
    tables = [pricing.tables.of(*pair) for pair in pairs]
    values = expected_values(pricing.sheets, tables)
    for place in range(0, len(pairs), 17):
        assert expected_value(pricing.sheets, tables[place]) == pytest.approx(values[place])
        assert pricing.tables.of(*pairs[place]) == tables[place] or all(
            np.array_equal(one.odds, two.odds)
            for one, two in zip(pricing.tables.of(*pairs[place]), tables[place], strict=True)
        )


def test_states_of_parents_average_to_what_they_bring(
    pricing: Pricing, pairs: list[tuple[str, str]]
) -> None:
    """The law of total probability, over what uncertain sires and dams may be."""
    tables, groups = pricing.tables, frozenset(pricing.tables.groups)
    certain = 0
    for dam, sire in pairs[::7]:
        plain = hatchling_shares(pricing.sheets, tables.of(dam, sire))
        whole = (plain.taken * plain.weights).sum(axis=(1, 2))
        for follow in (Follow(sire=groups), Follow(dam=groups), Follow(sire=groups, dam=groups)):
            apart = hatchling_shares(pricing.sheets, tables.of(dam, sire, follow))
            nobody = Family.of(())
            (chances,) = tables.by_state((dam, sire), tables.of(dam, sire), follow, nobody)
            assert chances.sum() == pytest.approx(1.0)
            each = (apart.taken * apart.weights).sum(axis=2)
            assert each @ chances == pytest.approx(whole, abs=1e-12)
            certain += chances.size == 1
    assert certain < 3 * len(pairs[::7])


def test_a_group_counts_where_it_changes_a_mark(
    pricing: Pricing, pairs: list[tuple[str, str]]
) -> None:
    tables = [pricing.tables.of(*pair) for pair in pairs]
    layouts = layouts_of(pricing.sheets, tables)
    for own, groups in zip(tables, [each.sight.groups for each in layouts], strict=True):
        _, taken, fits = walked(pricing, own)
        assert (groups is not None) == bool(taken.any() or fits.any())
        assert groups is None or groups <= {table.group for table in own}
