"""How to solve: the options that every command which plans has, and the solve itself."""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import replace
from functools import partial

from rich.console import Console

from brumal import library
from brumal.pipeline import Prepared
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import DEFAULT_GAP, LOOSE, USUAL, Progress, SolveOptions
from brumal.planner.solver.interrupt import keeping_best, stopping_all
from brumal.planner.solver.model import SOLVERS

HINT_SECONDS = 20.0


def add_solving(parser: argparse.ArgumentParser) -> None:
    """Add ``--gap``, ``--time-limit`` and ``--solver``."""
    parser.add_argument(
        "--gap",
        type=_share,
        metavar="SHARE",
        help="stop once the plan is proven within this share of the best, 0 to prove it to the end "
        f"(default: {DEFAULT_GAP:g}, exact where that takes little more, up to {LOOSE[-1][1]:g} "
        "where a season is hard to prove)",
    )
    parser.add_argument(
        "--time-limit",
        type=_seconds,
        metavar="SECONDS",
        help="stop then with the best plan so far, marked as not proven (exit code 3)",
    )
    parser.add_argument(
        "--solver",
        choices=sorted(SOLVERS),
        default="highs",
        help="default: %(default)s; cbc always works too",
    )


def solve_options(args: argparse.Namespace) -> SolveOptions:
    """Return what the keeper asked for; nothing is spent on a closer proof than a stated gap."""
    options = USUAL if args.gap is None else SolveOptions(gap=args.gap, work=0)
    return replace(options, solver=args.solver, time_limit=args.time_limit)


def solved(
    prepared: Prepared, options: SolveOptions, screen: Console, keep: bool = True
) -> SolvedSeason:
    """Solve a season and report each round on a terminal.

    Ctrl-C ends with the best plan so far, or, where nobody wants that (not ``keep``), with none.
    """
    with keeping_best(partial(_told, screen)) if keep else stopping_all():
        return library.solve(prepared, options, _progress(screen, keep))


def _told(screen: Console) -> None:
    screen.print("Stopping with the best plan so far; Ctrl-C once more stops without.")


def _progress(screen: Console, keep: bool) -> Progress | None:
    """Report each round on a terminal; a file or a pipe gets none."""
    if not screen.is_terminal:
        return None

    start, told = time.monotonic(), False

    def report(rounds: int, best: float, bound: float) -> None:
        nonlocal told
        found = "no plan yet" if math.isinf(best) else f"best so far {best:,.2f}"
        screen.print(f"round {rounds}: {found}, at most {bound:,.2f}")
        if not told and time.monotonic() - start > HINT_SECONDS:
            told = True
            best_so_far = "Ctrl-C ends with the best plan so far; " if keep else ""
            screen.print(
                f"This season is hard to prove. {best_so_far}--gap 0.01 asks for a plan proven "
                "within 1% of the best."
            )

    return report


def _share(text: str) -> float:
    value = _number(text)
    if not 0 <= value < 1:
        raise argparse.ArgumentTypeError(f"found {text!r}; expected a share such as 0.001")
    return value


def _seconds(text: str) -> float:
    value = _number(text)
    if not 0 < value < math.inf:
        raise argparse.ArgumentTypeError(f"found {text!r}; expected seconds above 0, such as 30")
    return value


def _number(text: str) -> float:
    """Read a number; what is none comes out as one that no limit admits."""
    try:
        return float(text)
    except ValueError:
        return math.nan
