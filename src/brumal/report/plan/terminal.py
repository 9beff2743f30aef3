"""The plan on the terminal: readable at 80 columns and without colour."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from brumal.planner.plan import Plan
from brumal.planner.solver.answer import Verdict
from brumal.records.plain_values import sure_money
from brumal.report.plan.room_words import room_line, spend_line
from brumal.report.plan.words import (
    BY_WORDS,
    CAUTIONS,
    came_line,
    clash_head,
    clash_lines,
    count_line,
    line_line,
    money_line,
    offer_line,
    outcome_words,
    pair_cautions,
    route_lines,
    second_line,
    stand_in_lines,
    start_line,
    state_words,
    verdict_line,
)
from brumal.report.terminal import heading, indented, item
from brumal.report.words import figure, inbreeding, percent


def print_plan(plan: Plan, screen: Console) -> None:
    """Print the whole plan: verdict, pairs, sit-outs, males, targets, cautions."""
    screen.print(f"{plan.season}: pairing {plan.pair_from} to {plan.pair_to}", style="bold")
    if plan.as_of is not None:
        screen.print(f"Seen from {plan.as_of}.")
    screen.print(verdict_line(plan))
    if plan.verdict is Verdict.IMPOSSIBLE:
        _print_clashes(plan, screen)
    else:
        _print_summary(plan, screen)
        _print_look_first(plan, screen)
        _print_pairs(plan, screen)
    _print_resting(plan, screen)
    if plan.verdict is not Verdict.IMPOSSIBLE:
        _print_males(plan, screen)
        _print_targets(plan, screen)
    heading("Cautions", screen)
    for line in (*plan.notes, *CAUTIONS):
        item(line, screen)


def _print_clashes(plan: Plan, screen: Console) -> None:
    for clash in plan.clashes:
        screen.print()
        screen.print(clash_head(clash))
        for line in clash_lines(clash):
            item(line, screen)


def _print_summary(plan: Plan, screen: Console) -> None:
    told = [count_line(plan), room_line(plan.room), money_line(plan)]
    if plan.room.spend_limit is not None:
        told.append(spend_line(plan.room, plan.currency))
    told += [offer_line(plan, offer) for offer in plan.offers]
    for line in told:
        if line:
            screen.print(line)


def _print_look_first(plan: Plan, screen: Console) -> None:
    if not plan.cautions:
        return
    heading("Look first", screen)
    for caution in plan.cautions:
        item(caution.text, screen)


def _print_pairs(plan: Plan, screen: Console) -> None:
    heading(f"Pairs ({plan.currency})", screen)
    for number, pair in enumerate(plan.pairs, start=1):
        known = state_words(plan, pair) or pair.lock
        lock = f"  [{known}]" if known else ""
        named = f"{plan.names[pair.dam]} x {plan.names[pair.sire]}"
        indented(f"{named}{lock}", screen, lead=f"{number:>2}. ")
        box = f"{'shares a box' if pair.shares_box else 'a box alone'}, counted as "
        box += figure(pair.box_eggs)
        facts = (
            f"value {sure_money(pair.value, pair.sd)} +/- {sure_money(pair.sd, pair.sd)}; "
            f"{figure(pair.eggs)} eggs ({box}), {figure(pair.young)} young; "
            f"F {inbreeding(pair.F)}"
        )
        indented(facts, screen)
        if came_line(plan, pair):
            indented(came_line(plan, pair), screen)
        if second_line(plan, pair):
            indented(second_line(plan, pair), screen)
        if start_line(plan, pair):
            indented(start_line(plan, pair), screen)
        indented(outcome_words(pair), screen)
        for caution in pair_cautions(plan, pair):
            indented(f"Caution: {caution}", screen)
    for line in stand_in_lines(plan):
        item(line, screen)


def _print_resting(plan: Plan, screen: Console) -> None:
    if not plan.resting:
        return
    heading("Who rests, and why", screen)
    for rest in plan.resting:
        screen.print(f" -  {plan.names[rest.id]}, {BY_WORDS[rest.by]}")
        for reason in rest.reasons:
            indented(reason.text, screen)
    if plan.line:
        screen.print(line_line(plan))


def _print_males(plan: Plan, screen: Console) -> None:
    heading("Males", screen)
    table = Table(box=None, pad_edge=False)
    table.add_column("male")
    table.add_column("pairings", justify="right", no_wrap=True)
    table.add_column("why that many")
    for male in plan.males:
        why = " ".join(reason.text for reason in male.reasons) or male.limit_from
        table.add_row(plan.names[male.id], f"{male.pairings} of {male.limit}", why)
    screen.print(table)


_OF_ONE = (
    "The chance of one counts every young that fits, also one that is sold as something of a "
    "higher price."
)


def _print_targets(plan: Plan, screen: Console) -> None:
    if not plan.targets:
        return
    heading("What you want", screen)
    table = Table(box=None, pad_edge=False)
    table.add_column("morph")
    for name in ("needed", "sold as such", "chance of one", "asked"):
        table.add_column(name, justify="right")
    for target in plan.targets:
        need = "" if target.need is None else str(target.need)
        asked = "" if target.asked_chance is None else percent(target.asked_chance)
        table.add_row(target.morph, need, figure(target.expected), percent(target.chance), asked)
    screen.print(table)
    indented(_OF_ONE, screen)
    for route in plan.routes:
        first, *more = route_lines(plan, route)
        item(first, screen)
        for line in more:
            indented(line, screen)
