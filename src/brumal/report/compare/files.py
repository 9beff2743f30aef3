"""A comparison as data: ``compare.json`` and tables, documented in ``docs/what-if.md``."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Sequence

from brumal import __version__
from brumal.insight.compare.columns import Column
from brumal.insight.compare.comparison import Comparison
from brumal.insight.compare.decisions import Decisions
from brumal.insight.compare.differences import Difference, Move, females
from brumal.insight.compare.since_last import SinceLast
from brumal.insight.compare.sweeps import Sweep
from brumal.planner.plan import Plan
from brumal.records.faults import Fault
from brumal.report.compare.words import cell_words, marks
from brumal.report.csv_cells import inert
from brumal.report.plan.files import plan_content

COMPARE_VERSION = 1
_DECIMALS = 6
_OF_PLAN = ("pairs", "resting", "males", "targets", "money", "room", "offers", "clashes")
_PARTS = ("money", "room")


def compare_json(comparison: Comparison) -> str:
    """Return the comparison as JSON, keys in a fixed order, the same text for the same seasons."""
    content = {
        "version": COMPARE_VERSION,
        "season": comparison.season,
        "as_of": None if comparison.as_of is None else comparison.as_of.isoformat(),
        "currency": comparison.currency,
        "scenarios": [
            _scenario(column, comparison.against_base(column.name)) for column in comparison.columns
        ],
        "safe_pairs": [{"dam": dam, "sire": sire} for dam, sire in comparison.safe],
        "pairs_in_plans": [
            {"dam": each.pair[0], "sire": each.pair[1], "stands": each.stands, "plans": each.plans}
            for each in comparison.steady
        ],
        "sweeps": [_sweep(sweep) for sweep in comparison.sweeps],
        "decisions": None if comparison.decisions is None else _decisions(comparison.decisions),
        "since_last": None if comparison.since is None else _since(comparison.since),
        "inputs": {
            "fingerprints": dict(comparison.fingerprints),
            "versions": {"brumal": __version__},
        },
    }
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _scenario(column: Column, against: Difference | None) -> dict[str, object]:
    plan = None if column.planned is None else column.planned.plan
    told: dict[str, object] = {
        "name": column.name,
        "note": column.note,
        "verdict": column.verdict,
        "objective": None if plan is None else plan.objective,
        "bound": None if plan is None else plan.bound,
        "gap": None if plan is None else plan.gap,
        "paid": column.paid,
        "received": column.received,
        "net": _rounded(column.net),
        "spread": _spread(column),
    }
    told |= _of_plan(plan)
    told |= {
        "changes": [
            {"key": each.where, "old": each.old, "new": each.new, "by": each.by}
            for each in column.changes
        ],
        "faults": _faults(column.faults),
        "binding": [
            {"id": each.id, "text": each.words, "costs": each.costs}
            for each in (column.planned.binding if column.planned else ())
        ],
        "earnings": _earnings(column),
        "against_base": None if against is None else _against(against),
    }
    return told


def _of_plan(plan: Plan | None) -> dict[str, object]:
    """Return what ``plan.json`` says of the plan, by the same words."""
    if plan is None:
        nothing: dict[str, object] = {key: {} if key in _PARTS else [] for key in _OF_PLAN}
        return {**nothing, "bad_seasons": None}
    told = plan_content(plan)
    return {key: told[key] for key in (*_OF_PLAN, "bad_seasons")}


def _spread(column: Column) -> dict[str, float | None] | None:
    spread = column.band
    if spread is None:
        return None
    return {"p10": _rounded(spread.p10), "p50": _rounded(spread.p50), "p90": _rounded(spread.p90)}


def _earnings(column: Column) -> list[dict[str, object]]:
    return [
        {
            "id": each.animal,
            "pairings": each.pairs,
            "earns": each.earns,
            "cost": column.cost_of(each),
            "over_cost": _rounded(column.over_its_cost(each)),
        }
        for each in (column.planned.earnings if column.planned else ())
    ]


def _against(against: Difference) -> dict[str, object]:
    return {
        "objective": against.objective,
        "net": against.net,
        "moves": _moves(against.moves),
    }


def _moves(moves: Iterable[Move]) -> list[dict[str, object]]:
    return [
        {"dam": each.dam, "before": each.before, "after": each.after, "reason": each.reason}
        for each in moves
    ]


def _sweep(sweep: Sweep) -> dict[str, object]:
    return {
        "name": sweep.name,
        "keys": [axis.key for axis in sweep.axes],
        "base": list(sweep.base),
        "steps": [
            {
                "at": list(step.at),
                "verdict": step.verdict,
                "objective": step.objective,
                "net": step.net,
                "boxes": step.boxes,
                "young": step.young,
                "pairs": [{"dam": dam, "sire": sire} for dam, sire in step.pairs],
                "faults": _faults(step.faults),
            }
            for step in sweep.steps
        ],
        "bend": None if sweep.bend is None else list(sweep.steps[sweep.bend].at),
        "flat_from": None if sweep.flat is None else list(sweep.steps[sweep.flat].at),
    }


def _decisions(sheet: Decisions) -> dict[str, object]:
    return {
        "options": list(sheet.options),
        "sets_possible": sheet.possible,
        "sets_solved": len(sheet.choices),
        "searched": sheet.searched,
        "sets": [
            {
                "options": list(each.options),
                "verdict": each.verdict,
                "objective": each.objective,
                "paid": each.paid,
                "received": each.received,
                "net": each.net,
                "gain": each.gain,
                "pays": str(each.pays),
                "faults": _faults(each.faults),
            }
            for each in sheet.choices
        ],
        "clashing": [
            {"first": each.first, "second": each.second, "why": each.why} for each in sheet.clashing
        ],
    }


def _since(since: SinceLast) -> dict[str, object]:
    return {
        "before": since.before,
        "after": since.after,
        "effect": since.effect,
        "together": since.together,
        "rest": since.rest,
        "moves": _moves(since.moves),
        "inputs": [
            {
                "key": each.change.where,
                "old": each.change.old,
                "new": each.change.new,
                "effect": each.effect,
                "restores": list(each.restores),
            }
            for each in since.swaps
        ],
        "untold": list(since.untold),
        "notes": list(since.notes),
    }


def _faults(faults: Iterable[Fault]) -> list[str]:
    return [str(fault) for fault in faults]


def _rounded(amount: float | None) -> float | None:
    return None if amount is None else round(amount, _DECIMALS)


def compare_csv(comparison: Comparison) -> str:
    """Return scenarios as columns: figures first, then one row a female with her sire or rest."""
    columns = comparison.columns
    rows: list[list[str]] = [["what", "id", "name", *(column.name for column in columns)]]
    rows.append(["verdict", "", "", *(column.verdict for column in columns)])
    for what, figures in _figure_rows(comparison):
        rows.append([what, "", "", *("" if each is None else f"{each:.2f}" for each in figures)])
    changes = ["; ".join(map(str, column.changes)) for column in columns]
    rows.append(["changes", "", "", *changes])
    rows.append(["faults", "", "", *(" ".join(_faults(column.faults)) for column in columns)])
    for dam in females(columns):
        told = [cell_words(column, dam, comparison.names) for column in columns]
        rows.append(["female", dam, comparison.names.get(dam, dam), *told])
    return _table(rows)


def _figure_rows(comparison: Comparison) -> list[tuple[str, list[float | None]]]:
    columns = comparison.columns
    plans = [column.plan for column in columns]
    spreads = [column.band for column in columns]
    against = [comparison.against_base(column.name) for column in columns]
    return [
        ("objective", _each(plans, lambda plan: plan.objective)),
        ("bound", _each(plans, lambda plan: plan.bound)),
        ("paid", [column.paid for column in columns]),
        ("received", [column.received for column in columns]),
        ("net", [column.net for column in columns]),
        ("net_against_base", [each.net if each else None for each in against]),
        ("p10", [each.p10 if each else None for each in spreads]),
        ("p50", [each.p50 if each else None for each in spreads]),
        ("p90", [each.p90 if each else None for each in spreads]),
        ("money_pairs", _each(plans, lambda plan: plan.money.pairs)),
        ("money_holdbacks", _each(plans, lambda plan: plan.money.holdbacks)),
        ("money_saturation", _each(plans, lambda plan: plan.money.saturation)),
        ("money_rules", _each(plans, lambda plan: plan.money.rules)),
        ("money_offers", _each(plans, lambda plan: plan.money.offers)),
        ("money_keeping", _each(plans, lambda plan: plan.money.keeping)),
        ("money_risk", _each(plans, lambda plan: plan.money.risk)),
        ("pairs", _each(plans, lambda plan: len(plan.pairs))),
        ("boxes", _each(plans, lambda plan: plan.room.boxes)),
        ("young", _each(plans, lambda plan: plan.room.young)),
    ]


def _each(plans: Sequence[Plan | None], read: Callable[[Plan], float | None]) -> list[float | None]:
    return [None if plan is None else read(plan) for plan in plans]


def sweep_csv(sweeps: Sequence[Sweep]) -> str:
    """Return every step of every sweep, a row each."""
    rows = [["sweep", "key", "at", "key_2", "at_2", "verdict", "objective", "net", "pairs", "mark"]]
    for sweep in sweeps:
        keys = [axis.key for axis in sweep.axes]
        for place, step in enumerate(sweep.steps):
            two = len(keys) == 2
            rows.append(
                [
                    sweep.name,
                    keys[0],
                    step.at[0],
                    keys[1] if two else "",
                    step.at[1] if two else "",
                    step.verdict,
                    "" if step.objective is None else f"{step.objective:.2f}",
                    "" if step.net is None else f"{step.net:.2f}",
                    str(len(step.pairs)),
                    marks(sweep, place),
                ]
            )
    return _table(rows)


def decisions_csv(sheet: Decisions) -> str:
    """Return every set of options that was solved, best first, a column for each option."""
    rows = [
        ["rank", *sheet.options, "verdict", "objective", "paid", "received", "net", "gain", "pays"]
    ]
    for rank, each in enumerate(sheet.choices, start=1):
        money = [each.objective, each.paid, each.received, each.net, each.gain]
        rows.append(
            [
                str(rank),
                *("yes" if option in each.options else "" for option in sheet.options),
                each.verdict,
                *("" if amount is None else f"{amount:.2f}" for amount in money),
                str(each.pays),
            ]
        )
    return _table(rows)


def _table(rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows(inert(*row) for row in rows)
    return out.getvalue()
