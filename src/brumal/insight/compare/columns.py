"""What comparing seasons comes to: one column a scenario, one answer a step of a sweep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from brumal.insight.simulate.seasons import Quantiles
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import Plan
from brumal.planner.solver.answer import Verdict
from brumal.records.faults import Fault
from brumal.records.overlay_tree import Change

FAULTS = "faults"
"""The verdict of a column that could not be planned because its overlay is wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """A limit that the plan fills; ``costs`` is what the season would bring more without it.

    ``costs`` is ``None`` where the season is too large to be solved again for each limit.
    """

    id: str
    words: str
    costs: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Earning:
    """What an animal that comes in adds to the plan, before what is paid for it.

    ``earns`` is ``None`` where there is no plan without it. ``offer`` is what the plan itself
    counts as paid for it (see ``offers`` of ``season.yaml``).
    """

    animal: str
    pairs: int
    earns: float | None
    offer: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A season's plan with what a comparison tells beside it."""

    plan: Plan
    spread: Quantiles | None
    binding: tuple[Binding, ...] = ()
    earnings: tuple[Earning, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The best value of a season and its pairs; without a plan ``objective`` is ``None``.

    ``switches`` is what agreed pairs given up count in it.
    """

    verdict: Verdict
    objective: float | None
    bound: float | None
    pairs: tuple[Pair, ...]
    boxes: int
    young: float
    switches: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One scenario of a comparison.

    ``paid`` and ``received`` pass once, beside the plan; ``fees`` gives them by animal. A column
    with errors among its ``faults`` has no plan.
    """

    name: str
    changes: tuple[Change, ...] = ()
    faults: tuple[Fault, ...] = ()
    planned: Planned | None = None
    note: str = ""
    paid: float = 0.0
    received: float = 0.0
    fees: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def plan(self) -> Plan | None:
        """Return the plan, ``None`` where faults or clashes leave none."""
        if self.planned is None or self.planned.plan.objective is None:
            return None
        return self.planned.plan

    @property
    def verdict(self) -> str:
        """Return the plan's verdict, or ``faults``."""
        return FAULTS if self.planned is None else str(self.planned.plan.verdict)

    @property
    def net(self) -> float | None:
        """Return the plan's value with what is paid taken off and what is received added."""
        if self.plan is None or self.plan.objective is None:
            return None
        return self.plan.objective - self.paid + self.received

    @property
    def band(self) -> Quantiles | None:
        """Return the spread with what is paid taken off and what is received added."""
        if self.planned is None or self.planned.spread is None:
            return None
        spread, once = self.planned.spread, self.received - self.paid
        return Quantiles(p10=spread.p10 + once, p50=spread.p50 + once, p90=spread.p90 + once)

    def cost_of(self, earning: Earning) -> float | None:
        """Return what is paid for an animal, less what is received; ``None`` if nothing is said."""
        if earning.animal not in self.fees:
            return earning.offer or None
        paid, received = self.fees[earning.animal]
        return paid - received + earning.offer

    def over_its_cost(self, earning: Earning) -> float | None:
        """Return what an animal earns over what is paid for it."""
        cost = self.cost_of(earning) or 0.0
        return None if earning.earns is None else earning.earns - cost
