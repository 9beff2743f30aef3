"""The plan as data: ``plan.json`` (documented in ``docs/files.md``) and ``plan.csv``."""

from __future__ import annotations

import csv
import io
import json

from brumal.planner.plan import PLAN_VERSION, BadSeasons, Plan
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
        "as_of": plan.as_of.isoformat() if plan.as_of else None,
        "currency": plan.currency,
        "verdict": str(plan.verdict),
        "objective": plan.objective,
        "by_calendar": None if plan.by_calendar is None else round(plan.by_calendar, 6),
        "bound": plan.bound,
        "gap": plan.gap,
        "pairs": [
            {
                "dam": pair.dam,
                "sire": pair.sire,
                "value": round(pair.value, 6),
                "sd": round(pair.sd, 6),
                "eggs": round(pair.eggs, 6),
                "box_eggs": pair.box_eggs,
                "young": round(pair.young, 6),
                "F": pair.F,
                "start": pair.start.isoformat() if pair.start else None,
                "provisional": pair.provisional,
                "weigh": [
                    {
                        "animal": each.animal,
                        "day": each.weigh_on.isoformat() if each.weigh_on else None,
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
            for pair in plan.pairs
        ],
        "stand_ins": [
            {
                "animal": each.animal,
                "pairs": [{"dam": dam, "sire": sire} for dam, sire in each.pairs],
            }
            for each in plan.stand_ins
        ],
        "resting": [
            {
                "id": resting.id,
                "by": resting.by,
                "reasons": [{"rule": each.rule, "text": each.text} for each in resting.reasons],
            }
            for resting in plan.resting
        ],
        "males": [
            {
                "id": male.id,
                "pairings": male.pairings,
                "limit": male.limit,
                "limit_from": male.limit_from,
                "reasons": [{"rule": each.rule, "text": each.text} for each in male.reasons],
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
        "routes": [
            {
                "morph": route.morph,
                "by": route.by,
                "value": round(route.value, 6),
                "money": round(route.money, 6),
                "chance": [
                    {"year": year, "chance": round(chance, 9)} for year, chance in route.chance
                ],
                "without": [
                    {"year": year, "chance": round(chance, 9)} for year, chance in route.without
                ],
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
            for route in plan.routes
        ],
        "money": {
            "pairs": round(plan.money.pairs, 6),
            "holdbacks": round(plan.money.holdbacks, 6),
            "saturation": round(plan.money.saturation, 6),
            "rules": round(plan.money.rules, 6),
            "offers": round(plan.money.offers, 6),
            "keeping": round(plan.money.keeping, 6),
            "risk": round(plan.money.risk, 6),
            "routes": round(plan.money.routes, 6),
            "switches": round(plan.money.switches, 6),
        },
        "bad_seasons": _bad_seasons(plan.bad_seasons),
        "room": {
            "boxes": plan.room.boxes,
            "boxes_limit": plan.room.boxes_limit,
            "young": round(plan.room.young, 6),
            "tubs": round(plan.room.tubs, 6),
            "tubs_limit": plan.room.tubs_limit,
            "weekly": plan.room.weekly,
            "enough": None if plan.room.enough is None else round(plan.room.enough, 6),
            "with_fewer": None if plan.room.with_fewer is None else round(plan.room.with_fewer, 6),
            "fullest": str(plan.room.fullest) if plan.room.fullest else None,
            "spend": round(plan.room.spend, 6),
            "spend_limit": plan.room.spend_limit,
        },
        "offers": [
            {"id": offer.id, "kind": offer.kind, "money": offer.money, "taken": offer.taken}
            for offer in plan.offers
        ],
        "clashes": [
            {
                "exact": clash.exact,
                "statements": [
                    {"id": said.id, "text": said.words, "loosen": said.loosen}
                    for said in clash.statements
                ],
            }
            for clash in plan.clashes
        ],
        "notes": list(plan.notes),
        "cautions": [
            {"rank": caution.rank, "animals": list(caution.animals), "text": caution.text}
            for caution in plan.cautions
        ],
        "inputs": {
            "fingerprints": dict(plan.inputs.fingerprints),
            "settings": dict(plan.inputs.settings),
            "versions": dict(plan.inputs.versions),
            "solver": plan.inputs.solver,
            "gap": plan.inputs.gap,
            "time_limit": plan.inputs.time_limit,
        },
    }


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
