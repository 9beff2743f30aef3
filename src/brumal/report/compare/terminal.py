"""A comparison on the terminal: readable at 80 columns and without colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.console import Console
from rich.table import Table

from brumal.insight.compare.columns import Column
from brumal.insight.compare.comparison import Comparison
from brumal.insight.compare.decisions import Decisions
from brumal.insight.compare.differences import Move
from brumal.insight.compare.since_last import SinceLast
from brumal.insight.compare.sweeps import Sweep
from brumal.planner.solver.answer import Verdict
from brumal.report.compare import words
from brumal.report.plan.words import CAUTIONS, clash_head, clash_lines
from brumal.report.terminal import heading, item

SETS_PRINTED = 20
MOVES_PRINTED = 12
BAR_WIDTH = 24


def print_comparison(comparison: Comparison, screen: Console) -> None:
    """Print what was compared: since last, values, each scenario, sweeps, decisions, cautions."""
    screen.print(f"{comparison.season}: what if", style="bold")
    if comparison.as_of is not None:
        screen.print(f"Seen from {comparison.as_of}.")
    screen.print(words.head_line(comparison))
    for line in words.open_lines(comparison):
        screen.print(line)
    if comparison.since is not None:
        print_since(comparison.since, comparison.currency, comparison.names, screen)
    _print_values(comparison, screen)
    for column in comparison.columns:
        _print_column(comparison, column, screen)
    steady = words.steady_lines(comparison)
    if steady:
        heading("How steady the pairs are", screen)
    for line in steady:
        screen.print(line)
    for sweep in comparison.sweeps:
        _print_sweep(sweep, comparison.currency, screen)
    if comparison.decisions is not None:
        _print_decisions(comparison.decisions, comparison.currency, screen)
    heading("Cautions", screen)
    for line in CAUTIONS:
        item(line, screen)


def _print_values(comparison: Comparison, screen: Console) -> None:
    heading(f"What each brings ({comparison.currency})", screen)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("scenario", overflow="fold")
    against = f"against {words.first_name(comparison)}"
    for name, folds in (("net value", 0), (against, 1), ("spread", 0), ("pairs", 0)):
        table.add_column(name, justify="right", no_wrap=not folds, overflow="fold")
    for column in comparison.columns:
        table.add_row(column.name, *_figures(comparison, column))
    screen.print(table)
    if any(column.verdict == Verdict.STOPPED for column in comparison.columns):
        screen.print("* not proven best")
    screen.print(words.SPREAD_NOTE)


def _figures(comparison: Comparison, column: Column) -> tuple[str, str, str, str]:
    if column.plan is None or column.net is None:
        return words.VERDICTS[column.verdict], "", "", ""
    against = comparison.against_base(column.name)
    band = column.band
    told = "" if band is None else f"{band.p10:,.0f} to {band.p90:,.0f}"
    gain = "" if against is None else words.signed(against.net)
    mark = " *" if column.verdict == Verdict.STOPPED else ""
    return f"{column.net:,.2f}{mark}", gain, told, str(len(column.plan.pairs))


def _print_column(comparison: Comparison, column: Column, screen: Console) -> None:
    heading(f"{column.name}: {words.verdict_words(column)}", screen)
    if column.note:
        screen.print(column.note)
    for said in (*column.changes, *column.faults):
        item(str(said), screen)
    if column.planned is None:
        return
    for clash in column.planned.plan.clashes:
        screen.print(clash_head(clash))
        for line in clash_lines(clash):
            item(line, screen)
    _print_against(comparison, column, screen)
    for earning in column.planned.earnings:
        told = words.earning_line(column, earning, comparison.currency, comparison.names)
        screen.print(told)
    if column.planned.binding:
        lines = (words.binding_line(b, comparison.currency) for b in column.planned.binding)
        screen.print(f"Limits that hold it back: {'; '.join(lines)}.")


def _print_against(comparison: Comparison, column: Column, screen: Console) -> None:
    against = comparison.against_base(column.name)
    if against is None:
        return
    screen.print(words.difference_line(comparison, against))
    once = words.once_line(column, comparison.currency)
    if once:
        screen.print(once)
    _print_moves(against.moves, comparison.names, screen)


def _print_moves(moves: Sequence[Move], names: Mapping[str, str], screen: Console) -> None:
    for move in moves[:MOVES_PRINTED]:
        item(words.move_line(move, names), screen)
    if len(moves) > MOVES_PRINTED:
        item(f"{len(moves) - MOVES_PRINTED} more stand in the files.", screen)


def _print_sweep(sweep: Sweep, currency: str, screen: Console) -> None:
    heading(f"Sweep {sweep.name}", screen)
    for line in words.bend_lines(sweep, currency):
        screen.print(line)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for axis in sweep.axes:
        table.add_column(axis.key, justify="right", overflow="fold")
    table.add_column("net value", justify="right", no_wrap=True)
    table.add_column("pairs", justify="right")
    table.add_column("")
    for place, step in enumerate(sweep.steps):
        told = words.VERDICTS[step.verdict] if step.net is None else f"{step.net:,.2f}"
        table.add_row(*step.at, told, str(len(step.pairs)), _bar(sweep, place))
    screen.print(table)


def _bar(sweep: Sweep, place: int) -> str:
    """Draw a step as a bar of signs, from the least value of the sweep, with its mark behind it."""
    found = [step.net for step in sweep.steps if step.net is not None]
    net = sweep.steps[place].net
    if net is None:
        return ""
    span = (max(found) - min(found)) or 1.0
    bar = "=" * round(BAR_WIDTH * (net - min(found)) / span)
    return f"|{bar} {words.marks(sweep, place)}".rstrip()


def _print_decisions(sheet: Decisions, currency: str, screen: Console) -> None:
    heading("Decision sheet", screen)
    screen.print(words.best_line(sheet, currency))
    screen.print(words.sheet_line(sheet))
    for option in sheet.options:
        item(words.option_line(sheet, option, currency), screen)
    for line in words.clashing_lines(sheet):
        item(f"Not together: {line}", screen)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("set", overflow="fold")
    for name in ("net value", "gain"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("")
    for choice in sheet.choices[:SETS_PRINTED]:
        net = words.VERDICTS[choice.verdict] if choice.net is None else f"{choice.net:,.2f}"
        gain = "" if choice.gain is None else words.signed(choice.gain)
        pays = words.PAYS[choice.pays] if choice.options and choice.net is not None else ""
        table.add_row(words.set_words(choice), net, gain, pays)
    screen.print(table)
    for choice in sheet.choices:
        for fault in choice.faults:
            item(f"{words.set_words(choice)}: {fault}", screen)
    if len(sheet.choices) > SETS_PRINTED:
        screen.print(f"{len(sheet.choices) - SETS_PRINTED} more sets stand in the files.")


def print_since(since: SinceLast, currency: str, names: Mapping[str, str], screen: Console) -> None:
    """Print what changed since an earlier plan, and what the change of each input does."""
    heading("Since the earlier plan", screen)
    for note in since.notes:
        screen.print(note)
    screen.print(words.since_line(since, currency))
    _print_moves(since.moves, names, screen)
    if since.swaps:
        screen.print("What the change of each input does, all others as today:")
    for swap in since.swaps:
        item(words.swap_line(swap, currency, names), screen)
    for line in words.rest_lines(since, currency):
        screen.print(line)
