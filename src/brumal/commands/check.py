"""``brumal check FOLDER``: every fault of a season folder in one go."""

from __future__ import annotations

import argparse

from brumal.commands.common import Exit, add_season, console, print_faults
from brumal.insight.compare.written_out import season_overlays
from brumal.pipeline import Prepared, prepare, prepare_records
from brumal.records.faults import Fault, InputError, is_error
from brumal.records.read import errors_first
from brumal.records.variant import variant_of
from brumal.report.words import counted


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "check",
        help="list every fault in a season folder",
        description="List every fault in a season folder by file, row and column, with what was "
        "expected. Nothing is planned or written. Ends with 1 where there is an error.",
    )
    add_season(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Print every fault; the list is the result, so it goes to standard output."""
    screen = console()
    try:
        prepared = prepare(args.folder, args.on)
    except InputError as error:
        print_faults(error.faults, screen)
        return Exit.FAULTS
    faults = errors_first((*prepared.faults, *_what_if_faults(prepared)))
    print_faults(faults, screen)
    if any(is_error(fault) for fault in faults):
        return Exit.FAULTS
    records = prepared.records
    read = [
        counted(len(records.known), "animal"),
        counted(len(records.weighings), "weighing"),
        counted(len(records.clutches), "clutch", "clutches"),
        counted(len(records.what_if), "what-if"),
    ]
    screen.print(f"No errors: {', '.join(read)} read.")
    return Exit.DONE


def _what_if_faults(prepared: Prepared) -> list[Fault]:
    """Lay each what-if over the season and tell what is wrong with it alone."""
    found: dict[Fault, None] = {}
    overlays = season_overlays(prepared.records)
    for name in overlays.names:
        variant = variant_of(prepared.records, overlays, [name])
        faults = list(variant.faults)
        if variant.records is not None:
            try:
                prepare_records(variant.records, like=prepared)
            except InputError as error:
                faults += [fault for fault in error.faults if is_error(fault)]
        found |= dict.fromkeys(faults)
    return list(found)
