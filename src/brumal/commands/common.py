"""What the commands share: exit codes, the console, loading a folder, writing results."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import date
from enum import IntEnum
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from brumal import library
from brumal.pipeline import Prepared
from brumal.records.faults import Fault, InputError, Severity, Where, grouped
from brumal.records.folder import SeasonRecords
from brumal.records.last_plan import (
    LastPlan,
    agreed_pairs,
    is_running,
    last_kept,
    read_last_plan,
)
from brumal.records.plain_values import parse_day
from brumal.report.output import changed_since, write_results
from brumal.report.words import visible


class Exit(IntEnum):
    """Exit codes of every command."""

    DONE = 0
    FAULTS = 1
    NO_PLAN = 2
    NOT_PROVEN = 3


class _Screen(Console):
    """A console for keepers' texts and any reader.

    No control character from a file reaches the terminal, and when the reader of a pipe has gone
    the command goes on quietly, so that results are still written.
    """

    def render_str(self, text: str, **options: Any) -> Text:
        """Make control characters visible before anything is laid out."""
        return super().render_str(visible(text, kept="\n\t"), **options)

    def on_broken_pipe(self) -> None:
        """Send what is left to nowhere instead of ending the command."""
        self.quiet = True
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def console(stderr: bool = False) -> Console:
    """Return a console that wraps at the terminal's width, 80 columns where there is none."""
    stream = sys.stderr if stderr else sys.stdout
    return _Screen(
        file=stream,
        width=None if stream.isatty() else 80,
        highlight=False,
        markup=False,
        emoji=False,
        soft_wrap=False,
    )


def add_folder(parser: argparse.ArgumentParser) -> None:
    """Add the season folder."""
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="season folder")


def add_season(parser: argparse.ArgumentParser) -> None:
    """Add the season folder of a command that reads it, and the day it is seen from."""
    add_folder(parser)
    add_day(parser)


def add_day(parser: argparse.ArgumentParser) -> None:
    """Add ``--on``."""
    parser.add_argument(
        "--on",
        type=_day,
        metavar="DATE",
        help="the day the season is seen from (default: season.as_of, else today)",
    )


def _day(text: str) -> date:
    day, repair = parse_day(text)
    if day is None:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a date such as 2026-12-01. {repair}".rstrip()
        )
    return day


def add_out(parser: argparse.ArgumentParser) -> None:
    """Add ``--out``."""
    parser.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="folder for the results (default: brumal-out/SEASON/COMMAND here)",
    )


def out_folder(args: argparse.Namespace) -> Path:
    """Return the folder for results: ``--out``, or one of its own below the present folder."""
    if args.out is not None:
        return Path(args.out)
    return Path("brumal-out") / Path(args.folder).resolve().name / str(args.command)


def calendar_before(args: argparse.Namespace) -> bytes | None:
    """Return the calendar that an earlier run left in the results, ``None`` without one."""
    out, file = out_folder(args), "calendar.ics"
    if not (out / file).is_file() or changed_since(out, file):
        return None
    return (out / file).read_bytes()


def load(folder: Path, on: date | None = None) -> Prepared:
    """Read and prepare a season folder; warnings and notices go to standard error.

    It is seen ``on`` a day, without one from ``season.as_of``, else from today.

    Raises :class:`brumal.records.faults.InputError` when the folder holds errors.
    """
    prepared = library.read(folder, on)
    print_faults(prepared.faults, console(stderr=True), brief=True)
    return prepared


def load_season(args: argparse.Namespace) -> Prepared:
    """Read and prepare the season folder of a command that plans, with the pairs agreed on.

    Agreed is, in a running season, the plan that ``plan --last`` names, or else the one kept last
    in the results of ``plan``.
    """
    prepared = load(args.folder, args.on)
    last = earlier_plan(args, prepared.records)
    agreed = agreed_pairs(last, prepared.records) if last is not None else frozenset()
    return replace(prepared, records=replace(prepared.records, agreed=agreed))


def earlier_plan(args: argparse.Namespace, records: SeasonRecords) -> LastPlan | None:
    """Return the plan named by ``--last``, or else, in a running season, the one kept last."""
    named: Path | None = args.last if args.command == "plan" else None
    if named is None and is_running(records) and records.as_of is not None:
        named = last_kept(kept_plans(args), records.as_of)
    return None if named is None else read_last_plan(named)


def kept_plans(args: argparse.Namespace) -> Path:
    """Return the folder in which ``plan`` keeps its plans."""
    if args.command == "plan":
        return out_folder(args)
    return Path("brumal-out") / Path(args.folder).resolve().name / "plan"


def print_faults(faults: Iterable[Fault], screen: Console, brief: bool = False) -> None:
    """Print faults by severity; ``brief`` counts warnings and notices instead of listing them."""
    told = tuple(faults) if brief else grouped(faults)
    by_severity = {severity: [f for f in told if f.severity is severity] for severity in Severity}
    for severity, found in by_severity.items():
        if not found:
            continue
        if brief and severity is not Severity.ERROR:
            screen.print(f"{_count(len(found), severity)}: `brumal check` lists them.")
            continue
        screen.print(f"{_count(len(found), severity)}:")
        for fault in found:
            screen.print(Padding(f"- {fault}", (0, 0, 0, 2), expand=False))


def write(
    args: argparse.Namespace,
    files: Mapping[str, str | bytes],
    screen: Console,
    of_before: Collection[str] = (),
) -> None:
    """Write results and say where they are; see ``write_results``.

    Raises :class:`brumal.records.faults.InputError` where that would be the season folder itself.
    """
    out = out_folder(args)
    season = getattr(args, "folder", None)
    if season is not None and out.resolve() == Path(season).resolve():
        raise InputError(
            [
                Fault(
                    where=Where(file=str(out)),
                    found="the season folder",
                    expected="a folder for results alone",
                    repair="Nothing was written. Choose another folder with --out.",
                )
            ]
        )
    paths = write_results(out, files, of_before)
    screen.print(f"Written to {out_folder(args)}: {', '.join(path.name for path in paths)}")


def _count(number: int, severity: Severity) -> str:
    return f"{number} {severity}" if number == 1 else f"{number} {severity}s"
