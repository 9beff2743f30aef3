"""Sweeps: one value over a range, or two over a grid, each step planned; where the curve bends."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from brumal.insight.compare.columns import FAULTS, Answer
from brumal.insight.compare.parallel import Bench, Question, Reply
from brumal.insight.compare.written_out import written_out
from brumal.planner.pairs.candidate import Pair
from brumal.records.faults import Fault, InputError, Where, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.overlay import Overlay, overlay_of, tree_at
from brumal.records.overlay_animals import animal_value
from brumal.records.overlay_tree import setting_value
from brumal.records.sweep_range import MOST_STEPS, SweepAxis
from brumal.records.variant import Variant, lay_over, place_fault

_FLAT = 0.005
"""A step that brings less than half a cent brings nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of a sweep: the value of each axis as text, and what the season then brings.

    ``faults`` are there where the value cannot be set; without a plan ``objective`` is ``None``.
    ``net`` is the objective with what passes once taken off or added.
    """

    at: tuple[str, ...]
    verdict: str
    objective: float | None = None
    net: float | None = None
    pairs: tuple[Pair, ...] = ()
    boxes: int = 0
    young: float = 0.0
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """A sweep: its axes, and its steps with the first axis outermost.

    ``base`` is the value of each axis in the season as recorded, where it is one plain value.
    ``bend`` is the place in ``steps`` behind which another unit brings least compared with before
    it; ``flat`` the first place behind which nothing more is gained (one axis of numbers only).
    """

    name: str
    axes: tuple[SweepAxis, ...]
    steps: tuple[Step, ...]
    base: tuple[str | None, ...]
    bend: int | None = None
    flat: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepPlan:
    """A sweep before it is run: the overlays below it and one variant a step."""

    name: str
    axes: tuple[SweepAxis, ...]
    base: tuple[str | None, ...]
    variants: tuple[Variant, ...]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Return the faults of the first step that has any: the others repeat them."""
        return next((each.faults for each in self.variants if each.records is None), ())


def lay_out(
    records: SeasonRecords,
    name: str,
    overlays: tuple[Overlay, ...],
    axes: Sequence[SweepAxis],
) -> SweepPlan:
    """Return a sweep's variants: each step laid over the season together with ``overlays``.

    Raises :class:`InputError` for a grid of too many steps.
    """
    count = math.prod(len(axis.steps) for axis in axes)
    if count > MOST_STEPS:
        raise InputError([_too_many(axes, count, overlays)])
    variants = tuple(
        _laid_at(records, (*overlays, *_points(axes, at)), f"{name}[{', '.join(at)}]")
        for at in itertools.product(*(axis.steps for axis in axes))
    )
    under = lay_over(records, overlays, name, idle=True).records or records
    return SweepPlan(
        name=name,
        axes=tuple(axes),
        base=tuple(_base_value(under, axis) for axis in axes),
        variants=variants,
    )


def run_sweep(bench: Bench, plan: SweepPlan) -> Sweep:
    """Solve every step and find the bend of the curve."""
    questions = [
        Question(name=each.name, records=each.records, whole=False)
        for each in plan.variants
        if each.records is not None
    ]
    replies = iter(bench.ask(questions))
    places = itertools.product(*(axis.steps for axis in plan.axes))
    steps = tuple(
        _step(at, variant, None if variant.records is None else next(replies))
        for at, variant in zip(places, plan.variants, strict=True)
    )
    curve = curve_of(plan.axes, steps)
    return Sweep(
        name=plan.name,
        axes=plan.axes,
        steps=steps,
        base=plan.base,
        bend=bend_of(curve),
        flat=flat_from(curve),
    )


Curve = tuple[tuple[int, float, float], ...]
"""Steps that are numbers and have a plan: (place among the steps, value of the axis, net)."""


def curve_of(axes: Sequence[SweepAxis], steps: Sequence[Step]) -> Curve:
    """Return a one-axis sweep as a curve; nothing for a grid or for steps that are not numbers."""
    if len(axes) != 1:
        return ()
    try:
        values = [float(step.at[0].rstrip("%")) for step in steps]
    except ValueError:
        return ()
    return tuple(
        (place, value, step.net)
        for place, (value, step) in enumerate(zip(values, steps, strict=True))
        if step.net is not None
    )


def bend_of(curve: Curve) -> int | None:
    """Return the step at which the slope of the curve falls most, ``None`` where it never falls.

    The slope is net money a unit of the axis, from each step to the next; the first of equals wins.
    """
    slopes = [
        (two[2] - one[2]) / (two[1] - one[1])
        for one, two in itertools.pairwise(curve)
        if two[1] != one[1]
    ]
    falls = [before - after for before, after in itertools.pairwise(slopes)]
    if len(slopes) != len(curve) - 1 or not falls or max(falls) <= _FLAT:
        return None
    return curve[falls.index(max(falls)) + 1][0]


def flat_from(curve: Curve) -> int | None:
    """Return the first step behind which no step brings more; ``None`` if the last one still does.

    A curve that is flat all along is flat from its first step.
    """
    place = len(curve) - 1
    while place > 0 and abs(curve[place][2] - curve[place - 1][2]) <= _FLAT:
        place -= 1
    return None if not curve or place == len(curve) - 1 else curve[place][0]


def _step(at: tuple[str, ...], variant: Variant, reply: Reply | None) -> Step:
    if isinstance(reply, Answer):
        net = None
        if reply.objective is not None:
            net = round(reply.objective - variant.paid + variant.received, 6)
        return Step(
            at=at,
            verdict=str(reply.verdict),
            objective=reply.objective,
            net=net,
            pairs=reply.pairs,
            boxes=reply.boxes,
            young=reply.young,
        )
    faults = variant.faults
    if isinstance(reply, tuple) and variant.records is not None:
        errors = (fault for fault in reply if is_error(fault))
        faults = tuple(place_fault(variant.records, variant.overlays, fault) for fault in errors)
    return Step(at=at, verdict=FAULTS, faults=faults)


def _laid_at(records: SeasonRecords, overlays: tuple[Overlay, ...], name: str) -> Variant:
    """Return the season at one step."""
    told = [written_out(records, overlay) for overlay in overlays]
    faults = tuple(fault for _, found in told for fault in found)
    if faults:
        return Variant(name=name, records=None, overlays=overlays, faults=faults)
    return lay_over(records, tuple(overlay for overlay, _ in told), name, idle=True)


def _points(axes: Sequence[SweepAxis], at: Sequence[str]) -> Iterator[Overlay]:
    for axis, value in zip(axes, at, strict=True):
        yield overlay_of(f"{axis.key}={value}", tree_at(axis.path, value))


def _base_value(records: SeasonRecords, axis: SweepAxis) -> str | None:
    """Return where an axis stands without the sweep, ``None`` where nothing is set."""
    if axis.path[0] == "animals":
        return animal_value(records, str(axis.path[1]), str(axis.path[2]))
    return setting_value(records.settings, axis.path)


def _too_many(axes: Sequence[SweepAxis], count: int, overlays: tuple[Overlay, ...]) -> Fault:
    key = " and ".join(axis.key for axis in axes)
    file = overlays[-1].file if overlays else "--sweep"
    return Fault(
        where=Where(file=file, column=f"sweep.{key}"),
        found=f"a grid of {count:,} steps",
        expected=f"at most {MOST_STEPS}",
        repair="Take larger steps.",
    )
