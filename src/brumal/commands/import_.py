"""``brumal import BOOK... --into FOLDER``: a keeper's own workbook into a season folder."""

from __future__ import annotations

import argparse
import shlex
from datetime import date
from pathlib import Path

from brumal.commands.common import Exit, add_out, console, write
from brumal.genetics.catalogue.file import load_catalogue
from brumal.importing.answers import read_earlier
from brumal.importing.folder_files import folder_files
from brumal.importing.understand import understand
from brumal.records.faults import InputError, is_error
from brumal.records.files import decode, read_source
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

    Raises :class:`InputError` where a book cannot be read or no animals are found in them.
    """
    folder: Path = args.folder
    on = args.on or date.today()
    earlier = read_earlier(folder)
    catalogue, faults = load_catalogue(_own_genes(folder))
    if any(is_error(fault) for fault in faults):
        raise InputError(faults)
    understood = understand(args.books, catalogue, on, earlier.answers, earlier.told)
    files = folder_files(understood, earlier, folder, on, changed_since)
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


def _own_genes(folder: Path) -> str | None:
    path = folder / "genes.yaml"
    if not path.exists():
        return None
    source, faults = read_source(path, path.name)
    text, more = decode(source) if source is not None else (None, [])
    if text is None:
        raise InputError([*faults, *more])
    return text
