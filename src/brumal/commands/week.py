"""``brumal week FOLDER``: the next seven days, by day, to tick off."""

from __future__ import annotations

import argparse

from brumal.commands.common import (
    Exit,
    add_out,
    add_season,
    calendar_before,
    console,
    load_season,
    write,
)
from brumal.commands.solving import add_solving, solve_options, solved
from brumal.insight.week import week_of
from brumal.insight.why.outlook import days_of
from brumal.planner.describe import plan_of
from brumal.report.plan.calendar_file import plan_calendar
from brumal.report.plan.terminal import print_plan
from brumal.report.week.report import print_week, week_json, week_page


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "week",
        help="the next seven days: who meets, who is weighed and looked at, which boxes fill",
        description="Tell the seven days from the day the season is seen from, as a list to tick "
        "off, with the labels of the boxes that hold eggs.",
    )
    add_season(parser)
    add_out(parser)
    add_solving(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Plan what is open, and tell the week of it; an impossible season writes nothing."""
    prepared = load_season(args)
    season = solved(prepared, solve_options(args), console(stderr=True))
    plan, screen = plan_of(season), console()
    if plan.objective is None:
        print_plan(plan, screen)
        return Exit.NO_PLAN
    days = days_of(season, plan)
    week = week_of(season, plan, days)
    print_week(week, screen)
    screen.print()
    files: dict[str, str | bytes] = {
        "week.html": week_page(week),
        "week.json": week_json(week),
        "calendar.ics": plan_calendar(plan, days, calendar_before(args)),
    }
    write(args, files, screen)
    return Exit.DONE
