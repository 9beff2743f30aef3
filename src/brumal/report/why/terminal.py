"""Explanations on the terminal: readable at 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from brumal.insight.why.alternatives import Alternatives
from brumal.insight.why.answers import AnimalWhy, PairWhy
from brumal.insight.why.shadow_prices import ShadowPrice
from brumal.insight.why.whole import Subject, WholeWhy
from brumal.planner.solver.answer import Verdict
from brumal.report.plan.words import CAUTIONS
from brumal.report.terminal import heading, indented, item
from brumal.report.why.words import amounts, animal_lines, pair_lines
from brumal.report.why.worth_words import (
    FEEDING_NOTE,
    KIN_NOTE,
    PRICES_NOTE,
    alternative_line,
    alternatives_head,
    nothing_line,
    price_gain,
    price_name,
    price_why,
    standing_lines,
    told_prices,
)
from brumal.report.words import estimate

QUICK_NOTE = "Asked with --quick: nothing was solved again, so no losses and no prices are told."


def print_animal_why(why: AnimalWhy, subject: Subject, screen: Console) -> None:
    """Print why one animal is used as it is, the figures last."""
    _lines(animal_lines(why, subject), screen)
    others = [why.left_out.with_it] if why.left_out else [pair.otherwise for pair in why.pairs]
    _figures([amounts(other, subject) for other in others], screen)
    _caution(screen)


def print_pair_why(why: PairWhy, subject: Subject, screen: Console) -> None:
    """Print why two animals meet or do not, the figures last."""
    _lines(pair_lines(why, subject), screen)
    _figures([amounts(other, subject) for other in (why.runner_up, why.otherwise)], screen)
    _caution(screen)


def print_whole_why(why: WholeWhy, screen: Console) -> None:
    """Print a whole season explained."""
    subject = why.subject
    screen.print(f"{subject.season}: why", style="bold")
    if subject.as_of is not None:
        screen.print(f"Seen from {subject.as_of}.")
    proven = "" if subject.verdict is Verdict.PROVEN else " (stopped early, not proven best)"
    worth = estimate(subject.value, subject.currency, subject.spread)
    screen.print(f"The plan brings {worth}{proven}.")
    if why.prices is None:
        screen.print(QUICK_NOTE)
    _part("Who rests, and why", [animal_lines(each, subject) for each in why.resting], screen)
    _part("Pairs, and the next best", [pair_lines(each, subject) for each in why.pairs], screen)
    _part("Males without a female", [animal_lines(each, subject) for each in why.males], screen)
    if why.prices is not None:
        _print_prices(why.prices, subject, screen)
    if why.alternatives is not None:
        _print_alternatives(why.alternatives, subject, screen)
    heading("Cautions", screen)
    for line in CAUTIONS:
        item(line, screen)


def _print_prices(prices: Sequence[ShadowPrice], subject: Subject, screen: Console) -> None:
    heading(f"What a little more would bring ({subject.currency})", screen)
    some, nothing = told_prices(prices)
    table = Table(box=None, pad_edge=False)
    table.add_column("more of", max_width=30)
    table.add_column("worth", justify="right", no_wrap=True)
    table.add_column("what moves")
    for price in some:
        table.add_row(price_name(price, subject), price_gain(price), price_why(price, subject))
    if some:
        screen.print(table)
    line = nothing_line(nothing, subject)
    if line:
        screen.print(line)
    screen.print(PRICES_NOTE)
    screen.print(FEEDING_NOTE)
    screen.print(KIN_NOTE)


def _print_alternatives(found: Alternatives, subject: Subject, screen: Console) -> None:
    heading("Other plans nearly as good", screen)
    screen.print(alternatives_head(found))
    for plan in found.plans:
        item(alternative_line(plan, subject), screen)
    for line in standing_lines(found, subject):
        screen.print(line)


def _part(title: str, told: Sequence[Sequence[str]], screen: Console) -> None:
    if not told:
        return
    heading(title, screen)
    for lines in told:
        item(lines[0], screen)
        for line in lines[1:]:
            indented(line, screen)


def _lines(lines: Sequence[str], screen: Console) -> None:
    for line in lines:
        screen.print(line)


def _figures(lines: Sequence[str], screen: Console) -> None:
    told = list(dict.fromkeys(line for line in lines if line))
    if told:
        heading("Figures", screen)
        for line in told:
            item(line, screen)


def _caution(screen: Console) -> None:
    screen.print()
    screen.print(CAUTIONS[0])
