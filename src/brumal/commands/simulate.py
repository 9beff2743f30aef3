"""``brumal simulate FOLDER``: the plan carried out in many seasons, and how steady it is."""

from __future__ import annotations

import argparse

from rich.console import Console

from brumal.commands.common import add_out, add_season, console, load_season, write
from brumal.commands.numbers import whole_number
from brumal.commands.solving import add_solving, solve_options, solved
from brumal.commands.why import exit_of, no_plan
from brumal.insight.simulate.seasons import SEASONS, SEED, simulate
from brumal.insight.why.counterfactuals import Questions
from brumal.insight.why.steadiness import Told, steadiness
from brumal.insight.why.whole import subject_of
from brumal.planner.solver.interrupt import stopping_all
from brumal.report.simulate.files import simulate_json
from brumal.report.simulate.page import simulate_page
from brumal.report.simulate.terminal import print_simulation

MOST_SEASONS = 1_000_000
MOST_REPLANS = 10_000


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "simulate",
        help="carry the plan out in many simulated seasons: money, targets, boxes, tubs",
        description="Make the plan, then let chance decide clutches, hatching and looks in many "
        "simulated seasons, and say what money, young and room to expect.",
    )
    add_season(parser)
    parser.add_argument(
        "--seasons",
        type=whole_number(2, MOST_SEASONS),
        default=SEASONS,
        metavar="N",
        help="seasons to simulate (default: %(default)s)",
    )
    parser.add_argument(
        "--seed",
        type=whole_number(0, 2**32 - 1),
        default=SEED,
        metavar="N",
        help="the same number gives the same seasons (default: %(default)s)",
    )
    parser.add_argument(
        "--replan",
        type=whole_number(0, MOST_REPLANS),
        default=0,
        metavar="N",
        help="also draw prices, eggs and hatching anew N times and plan each season again",
    )
    add_out(parser)
    add_solving(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Simulate the plan, print what came, and write the page and the figures."""
    prepared = load_season(args)
    season = solved(prepared, solve_options(args), console(stderr=True))
    screen = console()
    if season.solution.chosen is None:
        return no_plan(season, screen)
    questions = Questions(season)
    luck = simulate(season, args.seasons, args.seed)
    steady = None
    if args.replan:
        with stopping_all():
            steady = steadiness(questions, args.replan, args.seed, _told(console(stderr=True)))
    subject = subject_of(questions)
    print_simulation(luck, steady, subject, screen)
    screen.print()
    files = {
        "simulate.html": simulate_page(luck, steady, subject),
        "simulate.json": simulate_json(luck, steady, subject),
    }
    write(args, files, screen)
    return exit_of(season)


def _told(screen: Console) -> Told | None:
    """Report progress on a terminal; a file or a pipe gets none."""
    if not screen.is_terminal:
        return None

    def report(done: int, whole: int) -> None:
        screen.print(f"planned again: {done} of {whole}", end="\r" if done < whole else "\n")

    return report
