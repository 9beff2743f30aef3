"""From prices to money: what fees, young without a buyer and waiting leave of the keeper's prices.

A young sells at its price with a chance of ``1 - unsold`` and then brings ``1 - fee`` of it, so
that in expectation every price brings the same share. With nothing stated the prices themselves
come back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from brumal.records.settings import BySex, Costs, Sale, Settings, Values


def share_of_sales(sale: Sale) -> float:
    """Return the share of a price that comes in on average."""
    return (1 - sale.fee) * (1 - sale.unsold)


def net_values(settings: Settings) -> Values:
    """Return the prices as the money that they bring on average."""
    share = share_of_sales(settings.sale)
    return settings.values if share == 1 else scaled(settings.values, share)


def net_costs(settings: Settings) -> Costs:
    """Return the costs, with what a young costs while it waits for a buyer."""
    sale, costs = settings.sale, settings.costs
    waiting = sale.delay_days * sale.day_cost
    return replace(costs, hatchling=costs.hatchling + waiting) if waiting else costs


def square_of_sales(square: NDArray[np.float64], sale: Sale) -> NDArray[np.float64]:
    """Return the mean square of what a young brings, from that of its net value, of any shape.

    A young of net value v brings v / (1 - unsold) with a chance of 1 - unsold and else nothing:
    mean v, mean square v**2 / (1 - unsold).
    """
    return square / (1 - sale.unsold)


def draw_sales(count: int, sale: Sale, rng: np.random.Generator) -> NDArray[np.float64]:
    """Draw how many times its net value each young brings, shape (count,): 0 without a buyer."""
    if sale.unsold == 0:
        return np.ones(count)
    return (rng.random(count) >= sale.unsold) / (1 - sale.unsold)


def scaled(values: Values, factor: float) -> Values:
    """Return the prices times a factor; what a young held back is worth stays as it is."""
    return replace(
        values,
        base=times(values.base, factor),
        wanted=tuple(
            replace(
                wanted,
                value=times(wanted.value, factor),
                value_after=None
                if wanted.value_after is None
                else times(wanted.value_after, factor),
            )
            for wanted in values.wanted
        ),
        combinations=_all_times(values.combinations, factor),
        extra=replace(
            values.extra,
            visual=_all_times(values.extra.visual, factor),
            het=_all_times(values.extra.het, factor),
        ),
        markets=tuple(replace(market, less=market.less * factor) for market in values.markets),
    )


def times(value: float | BySex, factor: float) -> float | BySex:
    """Return a price times a factor, each sex's own."""
    if isinstance(value, BySex):
        return BySex(
            female=None if value.female is None else value.female * factor,
            male=None if value.male is None else value.male * factor,
        )
    return value * factor


def _all_times(prices: Mapping[str, float | BySex], factor: float) -> dict[str, float | BySex]:
    return {name: times(price, factor) for name, price in prices.items()}
