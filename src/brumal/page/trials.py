"""Trials laid aside: pencil marks written as ``what-if/NAME.yaml``, and set side by side."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from brumal.insight.compare.columns import Column
from brumal.insight.compare.comparison import Comparison
from brumal.insight.compare.differences import females, sires
from brumal.insight.compare.written_out import written_out
from brumal.page.pencil import Mark, overlay_text, overlay_tree
from brumal.records.faults import Fault, InputError, Where, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.overlay import read_overlay
from brumal.records.overlays import BASE
from brumal.records.variant import lay_over
from brumal.report.words import counted, difference, estimate

NOW = "as pencilled now"
_NAME = re.compile(r"\w(?:[\w -]{0,58}\w)?")
_DEVICES = {f"{device}{number}" for device in ("com", "lpt") for number in range(10)}
_TAKEN = {BASE, NOW, "con", "prn", "aux", "nul", *_DEVICES}
MOST_STEADY = 20


def lay_aside(
    folder: Path, records: SeasonRecords, marks: Sequence[Mark], name: str, note: str, on: date
) -> Path:
    """Write marks as a what-if of this name, and return its file.

    Raises :class:`InputError` for a name that cannot be one or is taken, and where a mark changes
    nothing.
    """
    file = f"what-if/{name}.yaml"
    if _NAME.fullmatch(name) is None or name.casefold() in _TAKEN:
        raise InputError([_named(name, "a name of letters, figures, spaces and hyphens", "")])
    if name.casefold() in map(str.casefold, records.what_if):
        raise InputError([_named(name, "a name that no what-if has yet", "Nothing was written.")])
    tree = overlay_tree(marks, records.settings.locks)
    text = f"# Laid aside from the planning page on {on}.\n"
    text += overlay_text({**({"note": note} if note else {}), **tree})
    overlay, faults = read_overlay(name, text, file)
    if overlay is not None:
        overlay, more = written_out(records, overlay)
        faults = (*faults, *more) or lay_over(records, (overlay,), name).faults
    if any(map(is_error, faults)):
        raise InputError(list(filter(is_error, faults)))
    return _written(folder, name, text)


def _written(folder: Path, name: str, text: str) -> Path:
    """Write a file that is not there yet, whole or not at all."""
    place = folder / "what-if"
    path = place / f"{name}.yaml"
    try:
        place.mkdir(exist_ok=True)
        if path.resolve().parent != folder.resolve() / "what-if":
            raise InputError([_named(name, "a place in the season folder", "Nothing was written.")])
        with path.open("x", encoding="utf-8") as file:
            try:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            except BaseException:
                path.unlink()
                raise
    except OSError as problem:
        found = problem.strerror or type(problem).__name__
        raise InputError([_named(name, f"a file that can be written ({found})", "")]) from problem
    return path


def _named(name: str, expected: str, repair: str) -> Fault:
    return Fault(
        where=Where(file="what-if"), found=f"the name {name!r}", expected=expected, repair=repair
    )


def with_pencil(records: SeasonRecords, marks: Sequence[Mark]) -> SeasonRecords:
    """Return a season with its marks as one more of its what-ifs."""
    tree = overlay_tree(marks, records.settings.locks)
    if not tree:
        return records
    return replace(records, what_if={**records.what_if, NOW: overlay_text(tree)})


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialLine:
    """One season beside others: its money with the band, its pairs, and what it changes."""

    name: str
    note: str
    money: str
    band: str
    moved: str
    counts: str
    changes: tuple[str, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Seasons side by side; ``rows`` hold a female and, by season, her sire or that she rests."""

    seasons: tuple[TrialLine, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    steady: tuple[tuple[str, str], ...]


def table_of(told: Comparison) -> Table:
    """Return a comparison as the page shows it."""
    planned = [column for column in told.columns if column.plan is not None]
    by_female = []
    for dam in females(told.columns):
        cells = tuple(_sire(column, dam, told.names) for column in planned)
        # A female who does the same in every season is told by the sheet itself.
        if len(set(cells)) > 1:
            by_female.append((told.names[dam], cells))
    return Table(
        seasons=tuple(_trial(column, told) for column in told.columns),
        rows=tuple(by_female),
        steady=tuple(
            (
                f"{told.names[each.pair[0]]} with {told.names[each.pair[1]]}",
                f"{each.stands} of {each.plans}",
            )
            for each in told.steady[:MOST_STEADY]
        ),
    )


def _sire(column: Column, dam: str, names: Mapping[str, str]) -> str:
    assert column.plan is not None
    sire = sires(column.plan).get(dam)
    return "rests" if sire is None else names[sire]


def _trial(column: Column, told: Comparison) -> TrialLine:
    plan, planned = column.plan, column.planned
    against = told.against_base(column.name)
    spread = planned.spread if planned is not None else None
    money, band, counts = "no plan", "", ""
    if plan is not None and plan.objective is not None:
        money = estimate(plan.objective, told.currency, plan.spread)
        counts = counted(len(plan.pairs), "pair")
    if spread is not None and plan is not None:
        ends = (estimate(each, told.currency, plan.spread) for each in (spread.p10, spread.p90))
        band = " to ".join(ends)
    return TrialLine(
        name="the season as it stands" if column.name == BASE else column.name,
        note=column.note,
        money=money,
        band=band,
        moved=f"{difference(against.net)} {told.currency}" if against is not None else "",
        counts=counts,
        changes=tuple(map(str, column.changes)),
        faults=tuple(map(str, filter(is_error, column.faults))),
    )
