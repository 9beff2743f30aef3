"""``brumal plan FOLDER``: the season's plan, explained, printed and written."""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import date
from pathlib import Path

from brumal.commands.common import (
    Exit,
    add_out,
    add_season,
    calendar_before,
    console,
    earlier_plan,
    load_season,
    out_folder,
    write,
)
from brumal.commands.solving import add_solving, solve_options, solved
from brumal.insight.compare.parallel import Bench
from brumal.insight.compare.since_last import SinceLast, since_last
from brumal.insight.week import week_of
from brumal.insight.why.outlook import look_ahead
from brumal.planner.describe import plan_of
from brumal.planner.plan import Plan
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import Verdict
from brumal.records.faults import InputError
from brumal.records.last_plan import is_running, read_last_plan
from brumal.records.read import errors_first, read_season
from brumal.report.compare.terminal import print_since
from brumal.report.plan.calendar_file import plan_calendar
from brumal.report.plan.cards import plan_cards
from brumal.report.plan.files import plan_csv, plan_json
from brumal.report.plan.page import plan_page
from brumal.report.plan.terminal import print_plan
from brumal.report.plan.workbook import plan_workbook
from brumal.timings import table, timing


def kept_plan(folder: Path, as_of: date | None, text: str) -> str:
    """Return the file name under which a plan is kept by its day, beside others of that day."""
    number = 1
    while True:
        name = f"plan-{as_of}{f'-{number}' if number > 1 else ''}.json"
        if not (folder / name).is_file() or (folder / name).read_text("utf-8") == text:
            return name
        number += 1


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
        description="Plan the season within your rules and limits: which female meets which male, "
        "who rests and why, and what the season should bring. Written as pages, tables, a workbook "
        "and a calendar.",
    )
    add_season(parser)
    add_out(parser)
    add_solving(parser)
    parser.add_argument(
        "--timings",
        action="store_true",
        help="print where the time went, to standard error",
    )
    parser.add_argument(
        "--last",
        type=Path,
        metavar="PLAN.json",
        help="start from an earlier plan, which a large season settles sooner with; in a running "
        "season its pairs are agreed (default there: the plan kept last)",
    )
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Plan the season; an impossible one writes nothing."""
    if not args.timings:
        return _plan(args)
    with timing("writing") as timings:
        code = _plan(args)
    console(stderr=True).print(table(timings), highlight=False)
    return code


def _plan(args: argparse.Namespace) -> int:
    prepared = load_season(args)
    screen = console()
    options = solve_options(args)
    if args.last is not None:
        options = replace(options, start=tuple(read_last_plan(args.last).sires.items()))
    season = solved(prepared, options, console(stderr=True))
    plan = plan_of(season)
    print_plan(plan, screen)
    since = _since(args, season, plan)
    if since is not None:
        print_since(since, plan.currency, plan.names, screen)
    if plan.objective is not None:
        outlook, as_json = look_ahead(season, plan), plan_json(plan)
        files: dict[str, str | bytes] = {
            "plan.csv": plan_csv(plan),
            "plan.json": as_json,
            kept_plan(out_folder(args), plan.as_of, as_json): as_json,
            "plan.html": plan_page(plan, outlook, week_of(season, plan, outlook), since),
            "calendar.ics": plan_calendar(plan, outlook, calendar_before(args)),
            "cards.html": plan_cards(plan, outlook),
            "plan.xlsx": plan_workbook(plan, outlook),
        }
        screen.print()
        write(args, files, screen)
    return _EXITS[plan.verdict]


def _since(args: argparse.Namespace, season: SolvedSeason, plan: Plan) -> SinceLast | None:
    """Return what changed since the plan before in a running season, ``None`` where there is none.

    The folder is seen again from the earlier day, so that what was written since can be put back.
    """
    records = season.prepared.records
    last = earlier_plan(args, records) if is_running(records) else None
    if last is None or plan.objective is None:
        return None
    old = None
    if last.as_of is not None:
        old, faults = read_season(args.folder, last.as_of)
        if old is None:
            raise InputError(errors_first(faults))
    options = replace(season.options, start=())
    with Bench(base=records, options=options, workers=1, prepared=season.prepared) as bench:
        return since_last(bench, plan, last, old)
