"""``brumal compare FOLDER``: what-ifs side by side, sweeps, a decision sheet, since last."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from brumal.commands.common import Exit, add_out, add_season, console, load_season, write
from brumal.commands.solving import add_solving, solve_options
from brumal.insight.compare.comparison import Comparison, Request, compare
from brumal.insight.compare.decisions import MOST_SETS
from brumal.insight.compare.parallel import WORKERS, Bench, Told
from brumal.planner.solver.answer import Verdict
from brumal.records.faults import Fault, InputError
from brumal.records.folder import SeasonRecords
from brumal.records.last_plan import read_last_plan
from brumal.records.read import errors_first, read_season
from brumal.records.sweep_range import SweepAxis, axis_of_text
from brumal.report.compare.files import compare_csv, compare_json, decisions_csv, sweep_csv
from brumal.report.compare.page import compare_page
from brumal.report.compare.terminal import print_comparison


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "compare",
        help="plan what-ifs side by side and say what each one changes",
        description="Plan the scenarios of FOLDER/what-if beside the season as recorded. Without "
        "names all of them are planned, unless --sweep, --decide or --last asks for something "
        "else.",
    )
    add_season(parser)
    parser.add_argument(
        "names", nargs="*", metavar="NAME", help="scenarios to plan, right behind the folder"
    )
    add_out(parser)
    parser.add_argument("--no-base", action="store_true", help="leave the season as recorded out")
    parser.add_argument(
        "--sweep",
        action="append",
        default=[],
        metavar="KEY=FROM:TO:STEP",
        help="let one value run over a range (limits.boxes=10:40:2); twice for a grid",
    )
    parser.add_argument(
        "--decide",
        nargs="*",
        metavar="NAME",
        help="which sets of options pay: these, or all marked `option: true`",
    )
    parser.add_argument(
        "--most-sets",
        type=_count,
        default=MOST_SETS,
        metavar="N",
        help="solve all sets up to so many, search beyond (default: %(default)s)",
    )
    parser.add_argument(
        "--last",
        type=Path,
        metavar="PLAN.json",
        help="say what changed since an earlier plan, and which input changed it",
    )
    parser.add_argument(
        "--last-folder",
        type=Path,
        metavar="FOLDER",
        help="the season folder as it was then, so that tables can be told apart",
    )
    parser.add_argument(
        "--workers",
        type=_count,
        default=WORKERS,
        metavar="N",
        help="processes that solve at the same time (default: %(default)s)",
    )
    add_solving(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Compare, print, and write the files; a scenario with faults stands in its own column."""
    request = _request(args)
    prepared = load_season(args)
    screen, progress = console(), console(stderr=True)
    with _Bar(progress) as told:
        bench = Bench(
            base=prepared.records,
            options=solve_options(args),
            workers=args.workers,
            told=told,
            prepared=prepared,
        )
        with bench:
            comparison = compare(bench, request)
    print_comparison(comparison, screen)
    screen.print()
    write(args, _files(comparison), screen, ("sweeps.csv", "decisions.csv"))
    return _exit(comparison)


def _request(args: argparse.Namespace) -> Request:
    """Read what is asked for; every fault of it at once."""
    faults: list[Fault] = []
    axes: list[SweepAxis] = []
    for text in args.sweep:
        axis, found = axis_of_text(text)
        faults += found
        axes += [axis] if axis is not None else []
    last = None
    if args.last is not None:
        try:
            last = read_last_plan(args.last)
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return Request(
        names=tuple(dict.fromkeys(args.names)) or None,
        with_base=not args.no_base,
        axes=tuple(axes),
        options=None if args.decide is None else tuple(args.decide),
        most_sets=args.most_sets,
        last=last,
        old=None if args.last_folder is None else _old_records(args.last_folder, args.on),
    )


def _old_records(folder: Path, on: date | None) -> SeasonRecords:
    records, faults = read_season(folder, on)
    if records is None:
        raise InputError(errors_first(faults))
    return records


def _files(comparison: Comparison) -> Mapping[str, str]:
    files = {
        "compare.csv": compare_csv(comparison),
        "compare.json": compare_json(comparison),
        "compare.html": compare_page(comparison),
    }
    if comparison.sweeps:
        files["sweeps.csv"] = sweep_csv(comparison.sweeps)
    if comparison.decisions is not None:
        files["decisions.csv"] = decisions_csv(comparison.decisions)
    return files


def _exit(comparison: Comparison) -> Exit:
    """Return 1 where a column has faults, 2 where none has a plan, 3 where one is not proven."""
    if comparison.failed:
        return Exit.FAULTS
    if comparison.columns and all(
        column.verdict == Verdict.IMPOSSIBLE for column in comparison.columns
    ):
        return Exit.NO_PLAN
    if Verdict.STOPPED in comparison.verdicts:
        return Exit.NOT_PROVEN
    return Exit.DONE


class _Bar:
    """A bar on a terminal that counts the seasons solved; a file or a pipe gets none."""

    def __init__(self, screen: Console) -> None:
        self._progress = Progress(
            TextColumn("{task.description}"),
            BarColumn(bar_width=24),
            MofNCompleteColumn(),
            console=screen,
            transient=True,
            disable=not screen.is_terminal,
        )
        self._task = self._progress.add_task("seasons solved", total=None)

    def __enter__(self) -> Told:
        return self._told

    def __exit__(self, *raised: object) -> None:
        self._progress.stop()

    def _told(self, done: int, total: int, name: str) -> None:
        # The bar's thread starts behind the first answer, when workers have been forked.
        self._progress.start()
        self._progress.update(
            self._task, completed=done, total=total, description=f"solved: {name}"
        )


def _count(text: str) -> int:
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError("a whole number of 1 or more")
    return value
