"""``brumal import BOOK... --into FOLDER``: a keeper's own workbook into a season folder."""

from __future__ import annotations

import argparse
import shlex
from datetime import date
from pathlib import Path

from brumal.commands.common import Exit, add_out, console, write
from brumal.importing.into import read_into
from brumal.records.plain_values import parse_day
from brumal.report.importing.report import import_page, print_import
from brumal.report.output import changed_since, write_results


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "import",
        help="read your own workbook or CSV into a season folder",
        description="Read your own workbooks (.xlsx, .xlsm, .ods, .csv) as they are into a season "
        "folder. The books are never changed; what is unclear is asked, never guessed.",
    )
    parser.add_argument("books", nargs="+", type=Path, metavar="BOOK", help="your workbook or CSV")
    parser.add_argument(
        "--into",
        dest="folder",
        type=Path,
        required=True,
        metavar="FOLDER",
        help="season folder to write into; new or already there",
    )
    parser.add_argument(
        "--on",
        type=_day,
        default=None,
        metavar="DATE",
        help="the day to read the books on: later dates are asked about (default: today)",
    )
    add_out(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Read the books, write the folder whole or not at all, and list every question.

    Raises :class:`brumal.records.faults.InputError` where a book cannot be read or no animals are
    found in them.
    """
    folder: Path = args.folder
    reading = read_into(folder, args.books, args.on or date.today(), changed_since)
    understood, files = reading.understood, reading.files
    write_results(folder, files.files, kept_beside=files.replaced)
    screen = console()
    print_import(understood, files, screen)
    screen.print(f"Written to {folder}: {', '.join(sorted(files.files))}")
    write(args, {"import.html": import_page(understood, files, folder.resolve().name)}, screen)
    screen.print("Next: answer the questions in import.yaml and import again, or go on with")
    screen.print(f"  brumal check {shlex.quote(str(folder))}")
    return Exit.DONE


def _day(text: str) -> date:
    day, repair = parse_day(text)
    if day is None:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-12-01. {repair}")
    return day
