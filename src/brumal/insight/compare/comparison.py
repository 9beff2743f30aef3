"""All that ``brumal compare`` tells from one request: columns, sweeps, sheet, since last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from brumal.insight.compare.columns import Column
from brumal.insight.compare.decisions import MOST_SETS, Decisions, decide
from brumal.insight.compare.differences import Difference, Steadiness, differences, steady_pairs
from brumal.insight.compare.parallel import Bench
from brumal.insight.compare.scenarios import base_variant, plan_columns
from brumal.insight.compare.since_last import SinceLast, since_last
from brumal.insight.compare.sweeps import Sweep, SweepPlan, lay_out, run_sweep
from brumal.insight.compare.written_out import season_overlays
from brumal.planner.pairs.candidate import Pair
from brumal.records.faults import Fault, InputError, Where, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.last_plan import LastPlan
from brumal.records.overlay import MOST_AXES
from brumal.records.overlays import BASE, Overlays, unknown_name
from brumal.records.sweep_range import SweepAxis
from brumal.records.variant import Variant, variant_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What to compare.

    ``names`` are overlays (``None``: all of them, unless something else is asked for);
    ``options`` those of the decision sheet (``None``: no sheet, empty: all marked as options).
    ``old`` are the records that ``last`` was made from, where the keeper still has them.
    """

    names: tuple[str, ...] | None = None
    with_base: bool = True
    axes: tuple[SweepAxis, ...] = ()
    options: tuple[str, ...] | None = None
    most_sets: int = MOST_SETS
    last: LastPlan | None = None
    old: SeasonRecords | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Seasons side by side; ``names`` maps every id to the label that people read."""

    season: str
    currency: str
    columns: tuple[Column, ...]
    differences: tuple[Difference, ...]
    steady: tuple[Steadiness, ...]
    names: Mapping[str, str]
    fingerprints: Mapping[str, str]
    as_of: date | None = None
    sweeps: tuple[Sweep, ...] = ()
    decisions: Decisions | None = None
    since: SinceLast | None = None

    @property
    def failed(self) -> bool:
        """Say whether a column or a set of options could not be planned for faults."""
        faults = [fault for column in self.columns for fault in column.faults]
        for choice in self.decisions.choices if self.decisions else ():
            faults += choice.faults
        return any(map(is_error, faults))

    @property
    def safe(self) -> tuple[Pair, ...]:
        """Return the pairs that stand in every plan."""
        return tuple(each.pair for each in self.steady if each.stands == each.plans)

    @property
    def verdicts(self) -> frozenset[str]:
        """Return the verdicts of all columns, steps and sets of options."""
        steps = {step.verdict for sweep in self.sweeps for step in sweep.steps}
        sets = {choice.verdict for choice in self.decisions.choices} if self.decisions else set()
        return frozenset({column.verdict for column in self.columns} | steps | sets)

    def against_base(self, name: str) -> Difference | None:
        """Return a column against the base, ``None`` where one of them has no plan."""
        return next((each for each in self.differences if each.name == name), None)


def compare(bench: Bench, request: Request) -> Comparison:
    """Plan everything that a request asks for; raises :class:`InputError` for a wrong request."""
    records = bench.base
    overlays = season_overlays(records)
    _check(request, overlays)
    asked = [variant_of(records, overlays, [name]) for name in _names(request, overlays)]
    swept = [each for each in asked if _axes(each)]
    plain = [each for each in asked if not _axes(each)]
    if request.with_base or request.last is not None:
        plain.insert(0, base_variant(records))
    laid = [_laid_out(records, each) for each in swept]
    if request.axes:
        name = " x ".join(axis.key for axis in request.axes)
        sweep = lay_out(records, name, (), request.axes)
        if any(map(is_error, sweep.faults)):
            raise InputError(sweep.faults)
        laid.append((base_variant(records), sweep))
    right = [plan for _, plan in laid if plan is not None and not plan.faults]
    wrong = [variant for variant, plan in laid if plan is None]
    wrong += [_failed(plan) for _, plan in laid if plan is not None and plan.faults]
    columns = plan_columns(bench, [*plain, *wrong])
    return Comparison(
        season=records.settings.season.name,
        currency=records.settings.currency,
        columns=columns,
        differences=differences(columns),
        steady=steady_pairs(columns),
        names=_labels(records, asked, request.old),
        fingerprints=records.fingerprints,
        as_of=records.as_of,
        sweeps=tuple(run_sweep(bench, plan) for plan in right),
        decisions=_sheet(bench, overlays, request),
        since=_since(bench, columns, request),
    )


def _names(request: Request, overlays: Overlays) -> tuple[str, ...]:
    if request.names is not None:
        return request.names
    other = request.axes or request.options is not None or request.last is not None
    return () if other else overlays.names


def _check(request: Request, overlays: Overlays) -> None:
    """Refuse a request that cannot be meant, everything wrong with it at once."""
    faults = []
    if len(request.axes) > MOST_AXES:
        faults.append(_wrong("--sweep", f"{len(request.axes)} keys", "one key, or two for a grid"))
    marked = any(overlay.option for overlay in overlays.read.values())
    if request.options == () and not marked:
        faults.append(
            _wrong(
                "--decide",
                "no scenario marked as an option",
                "`option: true` in the files of what-if, or names behind --decide",
            )
        )
    faults += [
        replace(unknown_name(overlays, name), where=Where(file="--decide"))
        for name in request.options or ()
        if name not in overlays.files
    ]
    faults += [
        unknown_name(overlays, name) for name in request.names or () if name not in overlays.files
    ]
    if request == Request() and not overlays.files:
        faults.append(_wrong("what-if", "no scenario", "a file such as what-if/boxes-16.yaml"))
    if faults:
        raise InputError(faults)


def _wrong(where: str, found: str, expected: str) -> Fault:
    return Fault(where=Where(file=where), found=found, expected=expected)


def _axes(variant: Variant) -> tuple[SweepAxis, ...]:
    """Return the axes of the overlay that a variant is called by."""
    return variant.overlays[-1].axes if variant.overlays else ()


def _laid_out(records: SeasonRecords, variant: Variant) -> tuple[Variant, SweepPlan | None]:
    if variant.records is None:
        return variant, None
    return variant, lay_out(records, variant.name, variant.overlays, _axes(variant))


def _failed(plan: SweepPlan) -> Variant:
    return Variant(name=plan.name, records=None, faults=plan.faults)


def _labels(
    records: SeasonRecords, variants: Sequence[Variant], old: SeasonRecords | None
) -> dict[str, str]:
    """Return the label of every animal of every season; today's own names go first."""
    others = [each.records for each in variants if each.records is not None]
    labels: dict[str, str] = {}
    for season in (records, *others, *([] if old is None else [old])):
        for animal in season.animals:
            labels.setdefault(animal.id, animal.label)
    return labels


def _sheet(bench: Bench, overlays: Overlays, request: Request) -> Decisions | None:
    if request.options is None:
        return None
    marked = tuple(name for name, overlay in overlays.read.items() if overlay.option)
    return decide(bench, overlays, request.options or marked, request.most_sets)


def _since(bench: Bench, columns: Sequence[Column], request: Request) -> SinceLast | None:
    if request.last is None:
        return None
    base = next(each for each in columns if each.name == BASE)
    if base.plan is None:
        return None
    return since_last(bench, base.plan, request.last, request.old)
