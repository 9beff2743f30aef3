"""Which females rest, and why: by a rule, by the keeper's decision, or by choice of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from brumal.planner.limits.every import limits_of
from brumal.planner.limits.limit import Limit
from brumal.planner.pairs.candidates import pair_verdicts
from brumal.planner.plan import NextInLine, Reason, Resting
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import Verdict
from brumal.planner.visiting import still_serves
from brumal.records.animals import Sex
from brumal.records.plain_values import sure_money
from brumal.rules import verdict as rules

_STOPPED = "The plan was stopped early: a better one may have room for her."


def left_out(season: SolvedSeason) -> tuple[str, ...]:
    """Return the females that may breed and have an open pair, but are not paired, by id."""
    return tuple(dam for dam in season.problem.columns.dams if dam not in season.mates)


def resting_females(season: SolvedSeason, line: Sequence[NextInLine]) -> tuple[Resting, ...]:
    """Return every female of the collection that is not paired; ``line`` is who comes next."""
    prepared = season.prepared
    locked = set(prepared.records.settings.locks.sit_out)
    females = {each.id for each in prepared.records.collection if each.sex is Sex.FEMALE}
    open_dams = set(season.problem.columns.dams)
    places = {each.dam: place for place, each in enumerate(line)}
    limits = limits_of(season.problem)
    resting: list[Resting] = []
    for female in sorted(females - season.mates.keys()):
        failed = failed_reasons(season.found.verdicts[female])
        if female in locked:
            lock = Reason(rule="sit_out", text="You asked for her to rest (locks.sit_out).")
            resting.append(Resting(id=female, by="lock", reasons=(lock, *failed)))
        elif failed:
            resting.append(Resting(id=female, by="rule", reasons=failed))
        elif season.solution.chosen is None:
            continue
        elif female not in open_dams:
            resting.append(_no_mate(season, female))
        else:
            own = line[places[female]] if female in places else None
            texts = [_held_out(season, limits, female)]
            if own is not None:
                texts.append(f"{place_words(places[female])}: {exchange_words(season, own)}")
            elif season.solution.verdict is not Verdict.PROVEN:
                texts.append(_STOPPED)
            reason = Reason(rule="choice", text=" ".join(texts))
            resting.append(Resting(id=female, by="choice", reasons=(reason,)))
    return tuple(_may_lay(season, each) for each in resting)


def _may_lay(season: SolvedSeason, resting: Resting) -> Resting:
    """Add that a female may lay by a male that is gone: no box of the plan is hers."""
    told = still_serves(season.prepared, resting.id)
    if not told:
        return resting
    text = f"{told}: look out for her ovulation and keep room for a clutch; no box here is hers."
    return replace(resting, reasons=(*resting.reasons, Reason(rule="visited", text=text)))


def failed_reasons(verdicts: Sequence[rules.RuleVerdict]) -> tuple[Reason, ...]:
    """Return the rules that an animal fails, with what would change that."""
    return tuple(
        Reason(rule=verdict.rule, text=" ".join(filter(None, (verdict.text, verdict.remedy))))
        for verdict in verdicts
        if not verdict.passed
    )


def place_words(place: int) -> str:
    """Say where a female stands in the line."""
    return "She is next in line" if place == 0 else f"She is number {place + 1} in line"


def exchange_words(season: SolvedSeason, next_: NextInLine) -> str:
    """Say what putting a female in takes: who moves to whom, who rests, what the season loses."""
    label = season.label
    parts = [f"with {label(next_.sire)}"]
    if next_.for_dam and next_.other_sire:
        parts.append(f"while {label(next_.for_dam)} goes to {label(next_.other_sire)} instead")
    elif next_.for_dam:
        parts.append(f"while {label(next_.for_dam)} rests")
    if next_.rests:
        parts.append(f"and {label(next_.rests)} rests")
    cost = (
        "the plan is worth about the same, too close to tell"
        if next_.too_close
        else f"the plan brings {sure_money(next_.loss)} {season.currency} less"
    )
    return f"{', '.join(parts)}, {cost}."


def _no_mate(season: SolvedSeason, female: str) -> Resting:
    """Explain a female whom every rule lets breed, but with none of the males there are."""
    prepared, found = season.prepared, season.found
    barred = sorted(sire for dam, sire in found.barred if dam == female)
    never = [sire for dam, sire in prepared.records.settings.locks.never_pair if dam == female]
    reasons = _bars(season, female, barred)
    reasons += [
        Reason(rule="never_pair", text=f"Never to be paired with {prepared.label(sire)} (locks).")
        for sire in sorted(never)
    ]
    if not reasons:
        reasons = [Reason(rule="no_male", text="No male of the collection may breed this season.")]
    by = "rule" if barred or not never else "lock"
    return Resting(id=female, by=by, reasons=tuple(reasons))


def _bars(season: SolvedSeason, female: str, sires: Sequence[str]) -> list[Reason]:
    """Say by which pair rules the males are barred, each rule once, with whom else it holds."""
    by_rule: dict[str, list[tuple[str, str]]] = {}
    for sire in sires:
        for verdict in pair_verdicts(season.prepared, female, sire):
            if not verdict.passed:
                text = " ".join(filter(None, (verdict.text, verdict.remedy)))
                by_rule.setdefault(verdict.rule, []).append((sire, text))
    reasons = []
    for rule, told in by_rule.items():
        others = ", ".join(season.label(sire) for sire, _ in told[1:])
        more = f" The same rule bars her with {others}." if others else ""
        reasons.append(Reason(rule=rule, text=f"{told[0][1]}{more}"))
    return reasons


def _held_out(season: SolvedSeason, limits: Sequence[Limit], female: str) -> str:
    """Name her best pairing, and the limits that are full where it would go."""
    problem = season.problem
    columns, plan = problem.columns, season.solution.chosen or ()
    own = np.flatnonzero(columns.dam == columns.dams.index(female)).tolist()
    each = columns.worth
    best = max(own, key=lambda place: (each[place], columns.pairs[place][1]))
    worth, extra = float(each[best]), season.held_back(columns.pairs[best])
    text = (
        f"Her best pairing, with {season.label(columns.pairs[best][1])}, would bring "
        f"{sure_money(float(columns.value[best]))} {season.currency}"
    )
    if extra >= 0.005:
        text += f" (and {sure_money(extra)} more by young to hold back, as long as none is yet)"
    if worth <= 0:
        return f"{text}: no more than it costs."
    full = [
        limit.tell(limit.full, season.label, plan)
        for limit in limits
        if limit.counts(best) and not limit.is_kept((*plan, best))
    ]
    if full:
        return f"{text}, but {' and '.join(full)}."
    if season.solution.verdict is not Verdict.PROVEN:
        return f"{text}."
    return f"{text} on its own, but less once wishes, fees and what others fill are counted."
