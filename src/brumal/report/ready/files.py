"""Readiness as data: ``ready.json`` (documented in ``docs/files.md``)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date

from brumal.report.ready.words import reasons
from brumal.rules.readiness import Readiness

READY_VERSION = 1


def ready_json(found: Sequence[Readiness], season: str, on: date, as_of: date | None = None) -> str:
    """Return every animal's readiness as JSON, in the order of the report."""
    content = {
        "version": READY_VERSION,
        "season": season,
        "as_of": _day(as_of),
        "judged_on": _day(on),
        "animals": [_animal(one) for one in found],
    }
    return json.dumps(content, ensure_ascii=False, indent=2) + "\n"


def _animal(one: Readiness) -> dict[str, object]:
    start, last, trend = one.start, one.series.last, one.series.trend
    return {
        "id": one.animal.id,
        "name": one.animal.name,
        "sex": None if one.animal.sex is None else str(one.animal.sex),
        "state": str(one.state),
        "may_start": _day(start.day),
        "held_by": start.held_by or None,
        "provisional": start.provisional,
        "chance": None if start.day is None else round(start.chance, 6),
        "weigh": None
        if start.weigh_on is None
        else {"day": _day(start.weigh_on), "grams": start.asked_g},
        "ready_on": _day(one.ready_on),
        "weight_g": None if last is None else last.grams,
        "weighed": None if last is None else _day(last.on),
        "gain_g_day": None if trend is None else round(trend.gain, 4),
        "asked_g": one.limit_g,
        "condition": one.animal.condition,
        "rules_failed": [verdict.rule for verdict in one.failed],
        "reasons": list(reasons(one)),
    }


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
