"""``brumal new FOLDER``: a starter folder with commented templates."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path

from brumal.commands.common import Exit, add_folder, console
from brumal.starter import create_starter


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "new",
        help="make a starter folder with commented templates",
        description="Make a starter folder with commented templates and an invented example. "
        "Nothing is written into a folder that is not empty.",
    )
    add_folder(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Write the starter folder and say what to do next.

    Raises :class:`brumal.records.faults.InputError` where the folder is not empty or cannot be
    written.
    """
    folder = Path(args.folder)
    written = create_starter(folder)
    screen = console()
    screen.print(f"Written to {folder}:")
    for path in written:
        screen.print(f"  {path.relative_to(folder).as_posix()}")
    screen.print(f"Next: put your animals into {folder / 'animals.csv'}, then")
    screen.print(f"  brumal check {shlex.quote(str(folder))}")
    screen.print(f"  brumal plan {shlex.quote(str(folder))}")
    return Exit.DONE
