"""The plan as data: ``plan.json`` (documented in ``docs/files.md``) and ``plan.csv``."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import date

from brumal.planner.infeasible import InfeasibleSet
from brumal.planner.plan import (
    PLAN_VERSION,
    BadSeasons,
    Inputs,
    Plan,
    PlannedPair,
    PlannedRoute,
    Reason,
    Room,
)
from brumal.report.csv_cells import inert
from brumal.report.words import figure

CSV_COLUMNS = (
    "kind",
    "id",
    "name",
    "sire",
    "sire_name",
    "value",
    "eggs",
    "young",
    "F",
    "outcomes",
    "by",
    "reasons",
)


def plan_json(plan: Plan) -> str:
    """Return the plan as JSON, keys in a fixed order, the same text for the same plan."""
    return json.dumps(plan_content(plan), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def plan_content(plan: Plan) -> dict[str, object]:
    """Return all that ``plan.json`` says."""
    return {
        "version": PLAN_VERSION,
        "season": plan.season,
        "as_of": _day(plan.as_of),
        "currency": plan.currency,
        "verdict": str(plan.verdict),
        "objective": plan.objective,
        "by_calendar": _rounded(plan.by_calendar),
        "bound": plan.bound,
        "gap": plan.gap,
        "pairs": [_pair(pair) for pair in plan.pairs],
        "stand_ins": [
            {
                "animal": each.animal,
                "pairs": [{"dam": dam, "sire": sire} for dam, sire in each.pairs],
            }
            for each in plan.stand_ins
        ],
        "resting": [
            {"id": resting.id, "by": resting.by, "reasons": _reasons(resting.reasons)}
            for resting in plan.resting
        ],
        "males": [
            {
                "id": male.id,
                "pairings": male.pairings,
                "limit": male.limit,
                "limit_from": male.limit_from,
                "reasons": _reasons(male.reasons),
            }
            for male in plan.males
        ],
        "targets": [
            {
                "morph": target.morph,
                "need": target.need,
                "asked_chance": target.asked_chance,
                "expected": round(target.expected, 6),
                "chance": round(target.chance, 9),
            }
            for target in plan.targets
        ],
        "routes": [_route(route) for route in plan.routes],
        "money": {part: round(value, 6) for part, value in asdict(plan.money).items()},
        "bad_seasons": _bad_seasons(plan.bad_seasons),
        "room": _room(plan.room),
        "offers": [asdict(offer) for offer in plan.offers],
        "clashes": [_clash(clash) for clash in plan.clashes],
        "notes": list(plan.notes),
        "cautions": [
            {"rank": caution.rank, "animals": list(caution.animals), "text": caution.text}
            for caution in plan.cautions
        ],
        "inputs": _inputs(plan.inputs),
    }


def _pair(pair: PlannedPair) -> dict[str, object]:
    return {
        "dam": pair.dam,
        "sire": pair.sire,
        "value": round(pair.value, 6),
        "sd": round(pair.sd, 6),
        "eggs": round(pair.eggs, 6),
        "box_eggs": pair.box_eggs,
        "young": round(pair.young, 6),
        "F": pair.F,
        "start": _day(pair.start),
        "provisional": pair.provisional,
        "weigh": [
            {
                "animal": each.animal,
                "day": _day(each.weigh_on),
                "grams": each.asked_g,
                "chance": round(each.chance, 9),
            }
            for each in pair.waits_for
        ],
        "lock": pair.lock,
        "state": str(pair.state),
        "second": (
            {
                "sire": pair.second.sire,
                "less": round(pair.second.less, 6),
                "missed": list(pair.second.missed),
            }
            if pair.second
            else None
        ),
        "sires": [{"id": sire, "chance": round(chance, 9)} for sire, chance in pair.sires],
        "came": (
            {
                "looks": [{"morph": morph, "young": count} for morph, count in pair.came.looks],
                "money": round(pair.came.money, 6),
            }
            if pair.came
            else None
        ),
        "outcomes": [
            {
                "morph": outcome.morph,
                "chance": round(outcome.chance, 9),
                "value": round(outcome.value, 6),
            }
            for outcome in pair.outcomes
        ],
        "cautions": list(pair.cautions),
    }


def _route(route: PlannedRoute) -> dict[str, object]:
    return {
        "morph": route.morph,
        "by": route.by,
        "value": round(route.value, 6),
        "money": round(route.money, 6),
        "chance": _by_year(route.chance),
        "without": _by_year(route.without),
        "pairs": [
            {
                "dam": pair.dam,
                "sire": pair.sire,
                "alone": round(pair.alone, 6),
                "keep": [
                    {
                        "look": kept.look,
                        "sex": str(kept.sex),
                        "odds": round(kept.odds, 9),
                        "ready": kept.ready,
                    }
                    for kept in pair.keep
                ],
            }
            for pair in route.pairs
        ],
        "refused": route.refused,
    }


def _room(room: Room) -> dict[str, object]:
    return {
        "boxes": room.boxes,
        "boxes_limit": room.boxes_limit,
        "young": round(room.young, 6),
        "tubs": round(room.tubs, 6),
        "tubs_limit": room.tubs_limit,
        "weekly": room.weekly,
        "enough": _rounded(room.enough),
        "with_fewer": _rounded(room.with_fewer),
        "with_counted": _rounded(room.with_counted),
        "fullest": str(room.fullest) if room.fullest else None,
        "spend": round(room.spend, 6),
        "spend_limit": room.spend_limit,
    }


def _bad_seasons(bad: BadSeasons | None) -> dict[str, float] | None:
    if bad is None:
        return None
    return {
        "weight": bad.weight,
        "share": bad.share,
        "seasons": bad.seasons,
        "expected": round(bad.expected, 6),
        "mean": round(bad.mean, 6),
    }


def _clash(clash: InfeasibleSet) -> dict[str, object]:
    return {
        "exact": clash.exact,
        "statements": [
            {"id": each.id, "text": each.words, "loosen": each.loosen} for each in clash.statements
        ],
    }


def _inputs(inputs: Inputs) -> dict[str, object]:
    return {
        "fingerprints": dict(inputs.fingerprints),
        "settings": dict(inputs.settings),
        "versions": dict(inputs.versions),
        "solver": inputs.solver,
        "gap": inputs.gap,
        "time_limit": inputs.time_limit,
    }


def _reasons(reasons: Iterable[Reason]) -> list[dict[str, str]]:
    return [{"rule": each.rule, "text": each.text} for each in reasons]


def _by_year(chances: Iterable[tuple[int, float]]) -> list[dict[str, float]]:
    return [{"year": year, "chance": round(chance, 9)} for year, chance in chances]


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, 6)


def plan_csv(plan: Plan) -> str:
    """Return pairs and resting females as one table, a row each.

    A cell that a spreadsheet program would read as a formula gets a leading apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for pair in plan.pairs:
        outcomes = "; ".join(f"{o.morph} {o.chance:.4f}" for o in pair.outcomes)
        writer.writerow(
            inert(
                "pair",
                pair.dam,
                plan.names[pair.dam],
                pair.sire,
                plan.names[pair.sire],
                f"{pair.value:.2f}",
                figure(pair.eggs),
                figure(pair.young),
                f"{pair.F:.6f}",
                outcomes,
                pair.lock,
                " ".join(pair.cautions),
            )
        )
    for rest in plan.resting:
        reasons = " ".join(reason.text for reason in rest.reasons)
        blank = [""] * 7
        writer.writerow(inert("rests", rest.id, plan.names[rest.id], *blank, rest.by, reasons))
    return out.getvalue()
