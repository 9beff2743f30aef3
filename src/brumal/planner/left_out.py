"""Females that could breed but are left out: what the plan loses with each of them put in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from brumal.pipeline import Prepared
from brumal.planner.candidates import Candidates, pair_verdicts
from brumal.planner.clock import Clock
from brumal.planner.plan import Reason, Resting
from brumal.planner.problem import Problem
from brumal.planner.resolve import Resolver
from brumal.planner.solve import Solution, SolveOptions, Verdict
from brumal.records.plain_values import sure_money

_NOT_SETTLED = "What the plan would lose with her in was not settled in time."
MOST_RESOLVED = 3000
"""Above so many pairs the plan is not solved again for each female left out."""


def left_out_reasons(
    prepared: Prepared,
    found: Candidates,
    problem: Problem,
    solution: Solution,
    options: SolveOptions,
    females: Sequence[str],
) -> tuple[Resting, ...]:
    """Say of each female left out which limit holds her out and what putting her in would cost.

    All questions together take no longer than a time limit allows.
    """
    clock = Clock(options.time_limit)
    worth, pairs = problem.columns.worth, problem.columns.pairs
    by_dam: dict[str, list[int]] = {}
    for place, (dam, _) in enumerate(pairs):
        by_dam.setdefault(dam, []).append(place)
    resting = []
    room = problem.box_places
    proven = solution.verdict is Verdict.PROVEN
    quick = proven and len(problem.candidates) <= MOST_RESOLVED and bool(females)
    resolver = Resolver(problem, solution, options) if quick else None
    for female in females:
        own = by_dam.get(female)
        if own is None:
            resting.append(_no_mate(prepared, found, female))
            continue
        best = max(own, key=lambda place: (worth[place], pairs[place][1]))
        texts = [_held_out(prepared, problem, solution, best, room)]
        if solution.verdict is not Verdict.PROVEN:
            texts.append("The plan was stopped early: a better one may have room for her.")
        elif resolver is not None:
            texts.append(_cost_of_her(prepared, resolver, female, clock))
        reason = Reason(rule="choice", text=" ".join(texts))
        resting.append(Resting(id=female, by="choice", reasons=(reason,)))
    return tuple(resting)


def _no_mate(prepared: Prepared, found: Candidates, female: str) -> Resting:
    """Explain a female whom every rule lets breed, but with none of the males there are."""
    barred = sorted(sire for dam, sire in found.barred if dam == female)
    never = [sire for dam, sire in prepared.records.settings.locks.never_pair if dam == female]
    reasons = _bars(prepared, female, barred)
    reasons += [
        Reason(rule="never_pair", text=f"Never to be paired with {prepared.label(sire)} (locks).")
        for sire in sorted(never)
    ]
    if not reasons:
        reasons = [Reason(rule="no_male", text="No male of the collection may breed this season.")]
    by = "rule" if barred or not never else "lock"
    return Resting(id=female, by=by, reasons=tuple(reasons))


def _bars(prepared: Prepared, female: str, sires: Sequence[str]) -> list[Reason]:
    """Say by which pair rules the males are barred, each rule once, with whom else it holds."""
    by_rule: dict[str, list[tuple[str, str]]] = {}
    for sire in sires:
        for verdict in pair_verdicts(prepared, female, sire):
            if not verdict.passed:
                text = " ".join(filter(None, (verdict.text, verdict.remedy)))
                by_rule.setdefault(verdict.rule, []).append((sire, text))
    reasons = []
    for rule, told in by_rule.items():
        others = ", ".join(prepared.label(sire) for sire, _ in told[1:])
        more = f" The same rule bars her with {others}." if others else ""
        reasons.append(Reason(rule=rule, text=f"{told[0][1]}{more}"))
    return reasons


def _held_out(
    prepared: Prepared, problem: Problem, solution: Solution, place: int, room: int | None
) -> str:
    """Name her best pairing, by its place, and the limits that are full where it would go.

    ``room`` is how many places the boxes have (``Problem.box_places``).
    """
    best = problem.candidates[place]
    currency = prepared.records.settings.currency
    text = (
        f"Her best pairing, with {prepared.label(best.sire)}, would bring "
        f"{sure_money(best.value)} {currency}"
    )
    if best.extra >= 0.005:
        text += f" (and {sure_money(best.extra)} more by young to hold back, while none is)"
    if best.worth <= 0:
        return f"{text}: no more than it costs."
    full = _full(prepared, problem, solution.chosen or (), place, room)
    if full:
        return f"{text}, but {' and '.join(full)}."
    if solution.verdict is not Verdict.PROVEN:
        return f"{text}."
    return f"{text} on its own, but less once wishes, fees and what others fill are counted."


def _full(
    prepared: Prepared, problem: Problem, chosen: Sequence[int], place: int, room: int | None
) -> list[str]:
    """Name the limits that the plan and this pair together would pass."""
    best = problem.candidates[place]
    currency = prepared.records.settings.currency
    used = Counter(problem.candidates[index].sire for index in chosen)
    full = []
    if used[best.sire] >= problem.male_limits[best.sire]:
        whose = f" of {prepared.label(best.sire)}"
        full.append(_taken(used[best.sire], "pairing", whose))
    if room is not None and problem.places_taken((*chosen, place)) > room:
        full.append(_taken(problem.boxes or 0, "incubator box"))
    if problem.tubs is not None and problem.tubs_used((*chosen, place)) > problem.tubs:
        taken = problem.tubs_used(chosen)
        full.append(f"{taken:.1f} of {problem.tubs} hatchling tubs are taken")
    if problem.most_pairs is not None and len(chosen) >= problem.most_pairs:
        most = problem.most_pairs
        full.append(f"no more than {most} female{'' if most == 1 else 's'} may be paired")
    if problem.spend is not None and problem.spending((*chosen, place)) > problem.spend:
        full.append(f"no more than {problem.spend:,.2f} {currency} may be spent before sales")
    held = [problem.candidates[index] for index in (*chosen, place)]
    excess = sum(each.kept * (each.kin - (problem.max_kin or 0.0)) for each in held)
    if problem.max_kin is not None and excess > 0:
        full.append(f"young held back may have a mean kinship of {problem.max_kin:.4f} at most")
    return full


def _taken(count: int, thing: str, whose: str = "") -> str:
    """Say that all there is of a thing is taken."""
    if count == 0:
        return f"there is no {thing}{whose}"
    if count == 1:
        return f"the one {thing}{whose} is taken"
    return f"all {count} {thing}{'es' if thing.endswith('x') else 's'}{whose} are taken"


def _cost_of_her(prepared: Prepared, resolver: Resolver, female: str, clock: Clock) -> str:
    """Solve the season again with her in it, and say what that changes."""
    if clock.is_over():
        return _NOT_SETTLED
    problem, solution = resolver.problem, resolver.solution
    resolver.options = replace(resolver.options, time_limit=clock.left())
    other = resolver.ask(replace(problem, must_breed=(female,)))
    if other.verdict is Verdict.IMPOSSIBLE:
        return "No plan within the limits and locks has room for her."
    if other.verdict is Verdict.STOPPED or other.chosen is None:
        return _NOT_SETTLED
    lost = max(0.0, solution.objective - other.objective)
    before = {problem.candidates[index].dam for index in solution.chosen or ()}
    after = {problem.candidates[index].dam: problem.candidates[index] for index in other.chosen}
    out = sorted(before - set(after))
    instead = f"; {', '.join(prepared.label(dam) for dam in out)} would rest" if out else ""
    money = f"{sure_money(lost)} {prepared.records.settings.currency}"
    sire = prepared.label(after[female].sire)
    return f"With her in (by {sire}) the plan loses {money}{instead}."
