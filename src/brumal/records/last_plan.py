"""``plan.json`` of an earlier day, read back: its plan in short and what it was made from."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from brumal.records.changed_keys import known_now
from brumal.records.faults import Fault, InputError, Where
from brumal.records.folder import SeasonRecords
from brumal.records.season_file import settings_from_mapping
from brumal.records.settings import Settings

PLAN_VERSION = 1
"""The form of ``plan.json`` that this program writes and reads."""

_KEPT = re.compile(r"plan-(\d{4}-\d{2}-\d{2})(?:-(\d+))?\.json")
_KEYS = ("verdict", "objective", "pairs", "resting", "males", "inputs")
_INPUTS = ("fingerprints", "settings", "versions")


@dataclass(frozen=True, slots=True, kw_only=True)
class LastPlan:
    """An earlier plan: sires by dam, all animals it knew, and its inputs.

    ``objective`` is its value without what pairs given up counted against it; ``as_of`` the day it
    was seen from, where it states one.
    ``fingerprints`` maps the files it was made from to the SHA-256 of their bytes.
    """

    verdict: str
    objective: float
    sires: Mapping[str, str]
    animals: frozenset[str]
    settings: Settings
    fingerprints: Mapping[str, str]
    versions: Mapping[str, str]
    gap: float
    as_of: date | None = None


def read_last_plan(path: Path) -> LastPlan:
    """Read a ``plan.json``; raises :class:`InputError` with every fault found."""
    where = Where(file=path.name)
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        reason = error.strerror or "no reason given"
        raise InputError([_fault(where, f"a file that cannot be read ({reason})")]) from error
    except (ValueError, RecursionError) as error:
        raise InputError([_fault(where, "something that is not JSON")]) from error
    if not isinstance(data, dict) or any(key not in data for key in _KEYS):
        raise InputError([_fault(where, "something else")])
    if data.get("version", PLAN_VERSION) != PLAN_VERSION:
        raise InputError([_other_version(where, data["version"])])
    inputs = data["inputs"]
    if not isinstance(inputs, dict) or any(
        not isinstance(inputs.get(key), dict) for key in _INPUTS
    ):
        raise InputError([_fault(Where(file=path.name, column="inputs"), "no inputs")])
    if data["objective"] is None:
        raise InputError([_fault(where, f"a season without a plan ({data['verdict']})")])
    settings, faults = settings_from_mapping(known_now(inputs["settings"]), path.name, {})
    if settings is None:
        raise InputError(faults)
    try:
        return _plan(data, settings)
    except (KeyError, TypeError, ValueError) as error:
        raise InputError([_fault(where, "a plan that is incomplete or was edited")]) from error


def last_kept(folder: Path, day: date) -> Path | None:
    """Return the plan that was kept last in a results folder, of those seen from before a day.

    A plan of the day itself is no earlier one: planned again, it comes out the same.
    """
    kept = [(found, path) for path in folder.glob("plan-*.json") if (found := _kept(path.name))]
    before = [(found, path) for found, path in kept if found[0] < day]
    return max(before)[1] if before else None


def agreed_pairs(last: LastPlan, records: SeasonRecords) -> frozenset[tuple[str, str]]:
    """Return the pairs of an earlier plan that are agreed: those of this season, once it runs."""
    was, now = last.settings.season, records.settings.season
    is_same = was.pair_from <= now.pair_to and now.pair_from <= was.pair_to
    return frozenset(last.sires.items()) if is_same and is_running(records) else frozenset()


def is_running(records: SeasonRecords) -> bool:
    """Say whether a season is on: seen from after its first day, with events written down."""
    pair_from, day = records.settings.season.pair_from, records.as_of
    return bool(records.events) and day is not None and day > pair_from


def _kept(name: str) -> tuple[date, int] | None:
    """Return the day and number of a kept plan by its file name."""
    found = _KEPT.fullmatch(name)
    if found is None:
        return None
    try:
        return date.fromisoformat(found[1]), int(found[2] or 1)
    except ValueError:
        return None


def _plan(data: Mapping[str, object], settings: Settings) -> LastPlan:
    pairs, inputs = _list(data["pairs"]), data["inputs"]
    assert isinstance(inputs, dict)
    sires = {str(pair["dam"]): str(pair["sire"]) for pair in pairs}
    rest = [str(each["id"]) for key in ("resting", "males") for each in _list(data[key])]
    return LastPlan(
        verdict=str(data["verdict"]),
        objective=float(str(data["objective"])) - _switches(data.get("money")),
        sires=sires,
        animals=frozenset([*sires, *sires.values(), *rest]),
        settings=settings,
        fingerprints={str(k): str(v) for k, v in inputs["fingerprints"].items()},
        versions={str(k): str(v) for k, v in inputs["versions"].items()},
        gap=float(inputs.get("gap") or 0.0),
        as_of=None if data.get("as_of") is None else date.fromisoformat(str(data["as_of"])),
    )


def _switches(money: object) -> float:
    """Return what pairs given up counted against a plan; plans of before counted nothing."""
    return float(money.get("switches") or 0.0) if isinstance(money, dict) else 0.0


def _list(found: object) -> list[Mapping[str, object]]:
    if not isinstance(found, list):
        raise TypeError("a list is missing")
    return found


def _other_version(where: Where, version: object) -> Fault:
    return Fault(
        where=where,
        found=f"a plan.json of version {version}",
        expected=f"version {PLAN_VERSION}, which this brumal writes and reads",
        repair="Plan that season again with this brumal.",
    )


def _fault(where: Where, found: str) -> Fault:
    return Fault(
        where=where,
        found=found,
        expected="a plan.json that `brumal plan` wrote",
        repair="Give the file with --last; one that is broken is taken out of the results folder.",
    )
