"""``brumal review FOLDER``: forecast against what came, and rows for next year's tables."""

from __future__ import annotations

import argparse
from datetime import date

from brumal import library
from brumal.commands.common import Exit, add_out, add_season, console, load, write
from brumal.insight.review.next_year import next_year
from brumal.insight.review.season import review
from brumal.report.review.report import print_review, review_files


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "review",
        help="look back on a season: forecast against what came, clutch by clutch",
        description="Compare what was to be expected on the first day of pairing with what came, "
        "and write rows to take over into next year's tables.",
    )
    add_season(parser)
    add_out(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Read the season twice, as it is and as it was foreseen, and tell the difference."""
    now = load(args.folder, args.on)
    season = now.records.settings.season
    seen = now.records.as_of or season.pair_from
    # What ``now`` set aside is set aside here too.
    before = library.read(args.folder, season.pair_from, max(seen, date.today()))
    found = review(now, before)
    screen = console()
    print_review(found, screen)
    screen.print()
    write(args, review_files(found, next_year(now.records, found)), screen)
    return Exit.DONE
