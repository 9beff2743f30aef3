"""Explanations as data: ``why.json`` (documented in ``docs/why.md``)."""

from __future__ import annotations

import json

from brumal.insight.why.answers import AnimalWhy, PairWhy
from brumal.insight.why.counterfactuals import Counterfactual
from brumal.insight.why.shadow_prices import ShadowPrice
from brumal.insight.why.whole import Subject, WholeWhy
from brumal.report.why.words import animal_lines, pair_lines
from brumal.report.why.worth_words import price_name

WHY_VERSION = 1


def why_json(why: WholeWhy) -> str:
    """Return a season's explanation as JSON, keys in a fixed order."""
    subject = why.subject
    content = {
        "version": WHY_VERSION,
        "season": subject.season,
        "as_of": None if subject.as_of is None else subject.as_of.isoformat(),
        "currency": subject.currency,
        "verdict": str(subject.verdict),
        "objective": round(subject.value, 6),
        "bound": round(subject.bound, 6),
        "resting": [_animal(each, subject) for each in why.resting],
        "pairs": [_pair(each, subject) for each in why.pairs],
        "males": [_animal(each, subject) for each in why.males],
        "prices": None if why.prices is None else [_price(p, subject) for p in why.prices],
        "alternatives": _alternatives(why),
    }
    return json.dumps(content, ensure_ascii=False, indent=2) + "\n"


def _animal(why: AnimalWhy, subject: Subject) -> dict[str, object]:
    left = why.left_out
    return {
        "id": why.animal,
        "state": str(why.state),
        "rules": [verdict.rule for verdict in why.failed],
        "ready": None if why.ready is None else why.ready.isoformat(),
        "heavier": None
        if why.heavier is None
        else {"grams": why.heavier.grams, **(_otherwise(why.heavier.season) or {})},
        "held_by": None if left is None or left.held_by is None else list(left.held_by),
        "with_it": _otherwise(left.with_it if left else None),
        "text": animal_lines(why, subject),
    }


def _pair(why: PairWhy, subject: Subject) -> dict[str, object]:
    return {
        "dam": why.dam,
        "sire": why.sire,
        "lock": why.lock,
        "without": _otherwise(why.otherwise),
        "runner_up": _otherwise(why.runner_up),
        "text": pair_lines(why, subject),
    }


def _price(price: ShadowPrice, subject: Subject) -> dict[str, object]:
    return {
        "thing": str(price.thing),
        "step": price.step,
        "animal": price.animal,
        "text": price_name(price, subject),
        "short": None if price.short is None else str(price.short),
        "otherwise": _otherwise(price.otherwise),
    }


def _alternatives(why: WholeWhy) -> dict[str, object] | None:
    found = why.alternatives
    if found is None:
        return None
    return {
        "apart": found.apart,
        "near": found.near,
        "complete": found.complete,
        "plans": [_otherwise(plan) for plan in found.plans],
        "pairs": [
            {"dam": dam, "sire": sire, "standing": str(standing)}
            for (dam, sire), standing in found.pairs.items()
        ],
        "resting": [
            {"id": dam, "standing": str(standing)} for dam, standing in found.resting.items()
        ],
    }


def _otherwise(other: Counterfactual | None) -> dict[str, object] | None:
    """Return a comparison with the plan; without a plan of its own it has its verdict alone."""
    if other is None:
        return None
    if other.value is None or other.change is None:
        return {"verdict": str(other.verdict)}
    return {
        "verdict": str(other.verdict),
        "value": round(other.value, 6),
        "change": round(other.change, 6),
        "least": round(other.least, 6),
        "most": round(other.most, 6),
        "routes": {morph: round(money, 6) for morph, money in other.routes.items()},
        "pairs": [list(pair) for pair in other.pairs],
        "moves": [
            {"dam": move.dam, "before": move.before, "after": move.after} for move in other.moves
        ],
    }
