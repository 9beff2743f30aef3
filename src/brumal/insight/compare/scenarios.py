"""Scenarios side by side: every overlay planned, a failing one told in its own column."""

from __future__ import annotations

from collections.abc import Sequence

from brumal.insight.compare.columns import Column, Planned
from brumal.insight.compare.parallel import Bench, Question, Reply
from brumal.records.faults import is_error
from brumal.records.folder import SeasonRecords
from brumal.records.overlays import BASE
from brumal.records.variant import Variant, place_fault


def base_variant(records: SeasonRecords) -> Variant:
    """Return the season as recorded, as the first column of a comparison."""
    return Variant(name=BASE, records=records)


def plan_columns(bench: Bench, variants: Sequence[Variant]) -> tuple[Column, ...]:
    """Return one column a variant, in their order."""
    right = [variant for variant in variants if variant.records is not None]
    replies = bench.ask(
        [
            Question(name=each.name, records=each.records, joined=each.joined)
            for each in right
            if each.records is not None
        ]
    )
    by_name = dict(zip((each.name for each in right), replies, strict=True))
    return tuple(column_of(variant, by_name.get(variant.name)) for variant in variants)


def column_of(variant: Variant, reply: Reply | None) -> Column:
    """Join a variant with what came of it; faults of its tables are told at the overlay's line."""
    planned = reply if isinstance(reply, Planned) else None
    found = reply if isinstance(reply, tuple) else ()
    if variant.records is not None:
        records, overlays = variant.records, variant.overlays
        found = tuple(place_fault(records, overlays, fault) for fault in found if is_error(fault))
    return Column(
        name=variant.name,
        changes=variant.changes,
        faults=(*variant.faults, *found),
        planned=planned,
        note=variant.note,
        paid=variant.paid,
        received=variant.received,
        fees=variant.fees,
    )
