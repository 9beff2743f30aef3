"""The command line: ``brumal COMMAND FOLDER``."""

from __future__ import annotations

import argparse
import importlib
import io
import sys
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, NoReturn

from brumal import __version__
from brumal.processes import collect_garbage_seldom, skip_last_collection

if TYPE_CHECKING:
    from brumal.records.faults import Fault

COMMANDS = (
    "new",
    "import",
    "check",
    "plan",
    "open",
    "week",
    "ready",
    "kin",
    "cross",
    "animal",
    "compare",
    "why",
    "simulate",
    "route",
    "review",
)
_INTERRUPTED = 130
_CAUTION = (
    "Figures are estimates; living animals differ. Not veterinary advice: a licensed vet decides "
    "on health. Local law decides on keeping, breeding and sale."
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A name that the terminal's encoding lacks is shown with a mark in its place.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    collect_garbage_seldom()
    words = sys.argv[1:] if argv is None else list(argv)
    try:
        code = _run(_parser(words).parse_args(words or ["--help"]))
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted: results are as they were before.\n")
        code = _INTERRUPTED
    if argv is None:
        skip_last_collection()
    return code


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints end as other faults of the input do."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        lines = textwrap.wrap(f"{self.prog}: {message}", 80, break_long_words=False)
        self.exit(1, "\n".join(lines) + "\n")


def _parser(words: Sequence[str]) -> argparse.ArgumentParser:
    if words and not words[0].startswith("-") and words[0] not in COMMANDS:
        _refuse(words[0])
    parser = _Parser(
        prog="brumal",
        description="Plan the breeding season of a ball (royal) python collection.",
        epilog=_CAUTION,
    )
    parser.add_argument("--version", action="version", version=f"brumal {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    # A known command needs none of the others: loading them all would double the start.
    for name in words[:1] if words and words[0] in COMMANDS else COMMANDS:
        # `import` is a word of Python's own.
        module = f"{name}_" if name == "import" else name
        importlib.import_module(f"brumal.commands.{module}").add_parser(commands)
    return parser


def _refuse(word: str) -> NoReturn:
    """Say what a mistyped command most likely is."""
    from brumal.records.faults import did_you_mean

    hint = did_you_mean(word, COMMANDS) or f"Commands: {', '.join(COMMANDS)}."
    sys.stderr.write(f"brumal: no command {word!r}. {hint}\n")
    raise SystemExit(1)


def _run(args: argparse.Namespace) -> int:
    from brumal.commands.common import Exit, console, print_faults
    from brumal.records.faults import InputError

    try:
        return int(args.func(args))
    except InputError as error:
        print_faults(error.faults, console(stderr=True))
    except OSError as problem:
        # What a library left open fails once more when it is closed: it is told once.
        sys.unraisablehook = lambda _: None
        print_faults([_refused(problem)], console(stderr=True))
    return Exit.FAULTS


def _refused(problem: OSError) -> Fault:
    """Say what the system would not do; whatever was under way is undone by then."""
    from brumal.records.faults import Fault, Where

    return Fault(
        where=Where(file=str(problem.filename or "this machine's disk")),
        found=problem.strerror or type(problem).__name__,
        expected="room on the disk, and files that may be read and written",
        repair="Make room or close what holds the file, and run the command again.",
    )
