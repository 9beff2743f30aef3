"""``brumal ready FOLDER``: every animal with its verdict, figures and weights, nearest first."""

from __future__ import annotations

import argparse

from brumal.commands.common import Exit, add_out, add_season, console, load, write
from brumal.report.ready.files import ready_json
from brumal.report.ready.report import print_ready, ready_csv, ready_page
from brumal.rules.readiness import readiness


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "ready",
        help="say which animals may breed, which not yet, and what each one lacks",
        description="Say of each animal whether it may breed on the first day of pairing, and if "
        "not, what it lacks and from when it may. No plan is made.",
    )
    add_season(parser)
    add_out(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Judge every animal, print who is ready, and write page, table and data."""
    prepared = load(args.folder, args.on)
    screen = console()
    found = readiness(prepared.records, prepared.rules, prepared.forecasts, prepared.starts)
    season, on = prepared.records.settings.season.name, prepared.rules.on
    as_of = prepared.records.as_of
    print_ready(found, season, on, screen, as_of)
    screen.print()
    write(
        args,
        {
            "ready.html": ready_page(found, season, on, as_of),
            "ready.csv": ready_csv(found),
            "ready.json": ready_json(found, season, on, as_of),
        },
        screen,
    )
    return Exit.DONE
