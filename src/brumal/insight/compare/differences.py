"""What differs between seasons set side by side: pairs, sit-outs, males, what stands in all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from brumal.insight.compare.columns import Column
from brumal.planner.pairs.candidate import Pair
from brumal.planner.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One female whose season differs: her sire before and after, ``None`` where she rests.

    ``reason`` is why she rests, in the season where she does (empty where she is paired in both).
    """

    dam: str
    before: str | None
    after: str | None
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One scenario against the base: money and every female whose season differs."""

    name: str
    objective: float
    net: float
    moves: tuple[Move, ...]

    @property
    def new_sires(self) -> tuple[Move, ...]:
        """Return the females paired in both, with another sire."""
        return tuple(m for m in self.moves if m.before is not None and m.after is not None)

    @property
    def now_rest(self) -> tuple[Move, ...]:
        """Return the females paired in the base that rest, or are gone, in the scenario."""
        return tuple(m for m in self.moves if m.after is None)

    @property
    def now_paired(self) -> tuple[Move, ...]:
        """Return the females paired in the scenario that rest, or are not there, in the base."""
        return tuple(m for m in self.moves if m.before is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyBetween:
    """What a plan brings more than another: ``change`` as solved, ``too_close`` within the gaps."""

    change: float
    too_close: bool


def money_between(before: Plan, after: Plan) -> MoneyBetween | None:
    """Hold two plans against each other by both bounds; ``None`` where one has no plan."""
    if before.objective is None or after.objective is None:
        return None
    change = after.objective - before.objective
    least, most = change - before.left_open, change + after.left_open
    return MoneyBetween(change=change, too_close=most - least >= 0.01 and least <= 0 <= most)


def difference(before: Plan, after: Plan, name: str, paid: float = 0.0) -> Difference:
    """Return what a plan changes against another; ``paid`` is money that passes once."""
    objective = (after.objective or 0.0) - (before.objective or 0.0)
    return Difference(
        name=name,
        objective=round(objective, 6),
        net=round(objective - paid, 6),
        moves=moves(before, after),
    )


def differences(columns: Sequence[Column]) -> tuple[Difference, ...]:
    """Return every column with a plan against the first column, if that one has a plan."""
    first = columns[0].plan if columns else None
    if first is None:
        return ()
    return tuple(
        difference(first, column.plan, column.name, column.paid - column.received)
        for column in columns[1:]
        if column.plan is not None
    )


def moves(before: Plan, after: Plan) -> tuple[Move, ...]:
    """Return every female whose sire differs, by id."""
    old, new = sires(before), sires(after)
    return tuple(
        Move(
            dam=dam,
            before=old.get(dam),
            after=new.get(dam),
            reason=_why_rests(before if dam in new else after, dam)
            if (dam in old) != (dam in new)
            else "",
        )
        for dam in sorted({*old, *new})
        if old.get(dam) != new.get(dam)
    )


def sires(plan: Plan) -> Mapping[str, str]:
    """Return the sire of each paired female."""
    return {pair.dam: pair.sire for pair in plan.pairs}


def _why_rests(plan: Plan, dam: str) -> str:
    rest = next((each for each in plan.resting if each.id == dam), None)
    if rest is None:
        return "Not in the collection."
    return " ".join(reason.text for reason in rest.reasons)


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """In how many of so many plans a pair stands."""

    pair: Pair
    stands: int
    plans: int


def steady_pairs(columns: Sequence[Column]) -> tuple[Steadiness, ...]:
    """Return every pair of the plans there are, the steadiest first; nothing without two plans."""
    plans = [column.plan for column in columns if column.plan is not None]
    if len(plans) < 2:
        return ()
    counts = Counter((pair.dam, pair.sire) for plan in plans for pair in plan.pairs)
    return tuple(
        Steadiness(pair=pair, stands=count, plans=len(plans))
        for pair, count in sorted(counts.items(), key=lambda each: (-each[1], each[0]))
    )


def females(columns: Sequence[Column]) -> tuple[str, ...]:
    """Return every female that is paired or rests by choice or lock in some column, by id.

    Those that a rule bars in every column are left out: no scenario moves them.
    """
    found: set[str] = set()
    for column in columns:
        if column.plan is not None:
            found |= {pair.dam for pair in column.plan.pairs}
            found |= {rest.id for rest in column.plan.resting if rest.by != "rule"}
    return tuple(sorted(found))
