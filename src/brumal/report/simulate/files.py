"""Simulated seasons as data: ``simulate.json`` (documented in ``docs/why.md``)."""

from __future__ import annotations

import json

from brumal.insight.simulate.season_room import RoomUse
from brumal.insight.simulate.seasons import Band, Simulation
from brumal.insight.why.steadiness import Steady
from brumal.insight.why.whole import Subject

SIMULATE_VERSION = 1


def simulate_json(luck: Simulation, steady: Steady | None, subject: Subject) -> str:
    """Return simulated seasons as JSON, keys in a fixed order."""
    room = luck.room
    content = {
        "version": SIMULATE_VERSION,
        "season": subject.season,
        "as_of": None if subject.as_of is None else subject.as_of.isoformat(),
        "currency": subject.currency,
        "seasons": luck.seasons,
        "seed": luck.seed,
        "expected": round(luck.expected, 6),
        "money": _band(luck.money),
        "standard_error": round(luck.error, 6),
        "worst_tenth": round(luck.worst, 6),
        "loss": luck.loss,
        "histogram": {
            "edges": [round(edge, 6) for edge in luck.edges],
            "counts": list(luck.counts),
        },
        "eggs": _band(luck.eggs),
        "young": _band(luck.young),
        "targets": [
            {
                "morph": target.morph,
                "chance": target.chance,
                "asked": target.asked,
                "sold": _band(target.sold),
                "need": target.need,
                "filled": target.filled,
            }
            for target in luck.targets
        ],
        "looks": [
            {"look": look.look, "young": _band(look.young), "chance": look.chance}
            for look in luck.looks
        ],
        "room": {
            "boxes": _use(room.boxes),
            "boxes_together": _use(room.together),
            "tubs": _use(room.tubs),
            "weeks": [
                {
                    "monday": week.monday.isoformat(),
                    "boxes": [week.boxes.low, round(week.boxes.mean, 6), week.boxes.high],
                    "tubs": [week.tubs.low, round(week.tubs.mean, 6), week.tubs.high],
                }
                for week in room.weeks
            ],
        },
        "steady": None if steady is None else _steady(steady),
    }
    return json.dumps(content, ensure_ascii=False, indent=2) + "\n"


def _band(band: Band) -> dict[str, float]:
    return {
        "p10": round(band.p10, 6),
        "p50": round(band.p50, 6),
        "p90": round(band.p90, 6),
        "mean": round(band.mean, 6),
    }


def _use(use: RoomUse) -> dict[str, float | None]:
    return {
        "limit": use.limit,
        "p10": use.p10,
        "p50": use.p50,
        "p90": use.p90,
        "largest": use.largest,
        "over": use.over,
    }


def _steady(steady: Steady) -> dict[str, object]:
    ranges = steady.ranges
    return {
        "plans": steady.plans,
        "same": steady.same,
        "ranges": {"price": ranges.price, "eggs": ranges.eggs, "hatched": ranges.hatched},
        "pairs": [
            {"dam": dam, "sire": sire, "share": round(share, 6)}
            for (dam, sire), share in steady.pairs.items()
        ],
        "resting": [{"id": dam, "share": round(share, 6)} for dam, share in steady.resting.items()],
        "others": [
            {"dam": dam, "sire": sire, "share": round(share, 6)}
            for (dam, sire), share in steady.others
        ],
    }
