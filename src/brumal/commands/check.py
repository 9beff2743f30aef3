"""``brumal check FOLDER``: every fault of a season folder in one go."""

from __future__ import annotations

import argparse

from brumal.commands.common import Exit, add_folder, console, print_faults
from brumal.pipeline import prepare
from brumal.records.faults import InputError


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser("check", help="list every fault in a season folder")
    add_folder(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Print every fault; the list is the result, so it goes to standard output."""
    screen = console()
    try:
        prepared = prepare(args.folder)
    except InputError as error:
        print_faults(error.faults, screen)
        return Exit.FAULTS
    print_faults(prepared.faults, screen)
    records = prepared.records
    screen.print(
        f"No errors: {len(records.animals)} animals, {len(records.weighings)} weighings, "
        f"{len(records.clutches)} clutches read."
    )
    return Exit.DONE
