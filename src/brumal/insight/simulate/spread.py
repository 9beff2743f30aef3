"""How far a season may come out from what is expected of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from brumal.planner.plan import Plan

_TENTH = 1.2815515655446004
"""The standard normal's 90th percentile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Money that one season in ten stays under, in the middle, and one in ten goes over."""

    p10: float
    p50: float
    p90: float


def spread_of(plan: Plan) -> Spread:
    """Return the spread of a plan's value: its clutches taken as independent, their sum as normal.

    The standard deviation of each pair's money is exact (see ``PlannedPair.sd``). Clutches of one
    uncertain sire hang together, so a season that leans on such a sire spreads wider than this.
    """
    middle = (plan.objective or 0.0) - plan.money.risk
    reach = _TENTH * math.sqrt(sum(pair.sd**2 for pair in plan.pairs))
    return Spread(p10=middle - reach, p50=middle, p90=middle + reach)
