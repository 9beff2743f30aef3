"""How to solve: the options that every command which plans has."""

from __future__ import annotations

import argparse
import math

from brumal.planner.model import SOLVERS
from brumal.planner.solve import DEFAULT_GAP, SolveOptions


def add_solving(parser: argparse.ArgumentParser) -> None:
    """Add ``--gap``, ``--time-limit`` and ``--solver``."""
    parser.add_argument(
        "--gap",
        type=_share,
        default=DEFAULT_GAP,
        metavar="SHARE",
        help="stop once the plan is proven within this share of the best (default: %(default)g)",
    )
    parser.add_argument(
        "--time-limit",
        type=_seconds,
        metavar="SECONDS",
        help="stop then with the best plan so far, marked as not proven (exit code 3); what the "
        "plan says of females left out has as long again",
    )
    parser.add_argument(
        "--solver",
        choices=sorted(SOLVERS),
        default="highs",
        help="default: %(default)s; cbc always works too",
    )


def solve_options(args: argparse.Namespace) -> SolveOptions:
    """Return what the keeper asked for."""
    return SolveOptions(solver=args.solver, gap=args.gap, time_limit=args.time_limit)


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
