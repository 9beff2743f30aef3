"""``brumal plan FOLDER``: the season's plan, explained, printed and written."""

from __future__ import annotations

import argparse
import math

from rich.console import Console

from brumal.commands.common import Exit, add_folder, add_out, console, load, write
from brumal.insight.outlook import look_ahead
from brumal.planner.model import SOLVERS
from brumal.planner.season import plan_season
from brumal.planner.solve import DEFAULT_GAP, Progress, SolveOptions, Verdict
from brumal.report.calendar_file import plan_calendar
from brumal.report.cards import plan_cards
from brumal.report.plan_files import plan_csv, plan_json
from brumal.report.plan_page import plan_page
from brumal.report.plan_terminal import print_plan
from brumal.report.workbook import plan_workbook

_EXITS = {
    Verdict.PROVEN: Exit.DONE,
    Verdict.STOPPED: Exit.NOT_PROVEN,
    Verdict.IMPOSSIBLE: Exit.NO_PLAN,
}


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "plan",
        help="propose the pairs of greatest expected value, and say who rests and why",
    )
    add_folder(parser)
    add_out(parser)
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
        help="stop then with the best plan so far, marked as not proven (exit code 3)",
    )
    parser.add_argument(
        "--solver",
        choices=sorted(SOLVERS),
        default="highs",
        help="default: %(default)s; cbc always works too",
    )
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Plan the season; an impossible one writes nothing."""
    prepared = load(args.folder)
    screen = console()
    options = SolveOptions(solver=args.solver, gap=args.gap, time_limit=args.time_limit)
    plan = plan_season(prepared, options, _progress(console(stderr=True)))
    print_plan(plan, screen)
    if plan.objective is not None:
        outlook = look_ahead(prepared, plan)
        files: dict[str, str | bytes] = {
            "plan.csv": plan_csv(plan),
            "plan.json": plan_json(plan),
            "plan.html": plan_page(plan, outlook),
            "plan.xlsx": plan_workbook(plan, outlook),
            "calendar.ics": plan_calendar(plan, outlook),
            "cards.html": plan_cards(plan, outlook),
        }
        screen.print()
        write(args, files, screen)
    return _EXITS[plan.verdict]


def _progress(screen: Console) -> Progress | None:
    """Report each round on a terminal; a file or a pipe gets none."""
    if not screen.is_terminal:
        return None

    def report(rounds: int, best: float, bound: float) -> None:
        found = "no plan yet" if math.isinf(best) else f"best so far {best:,.2f}"
        screen.print(f"round {rounds}: {found}, at most {bound:,.2f}")

    return report


def _share(text: str) -> float:
    value = float(text)
    if not 0 <= value < 1:
        raise argparse.ArgumentTypeError("a share from 0 to below 1, such as 0.001")
    return value


def _seconds(text: str) -> float:
    value = float(text)
    if not 0 < value < math.inf:
        raise argparse.ArgumentTypeError("a number of seconds above 0")
    return value
