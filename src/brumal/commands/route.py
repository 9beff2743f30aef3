"""``brumal route FOLDER MORPH``: crosses over several seasons that lead to a target."""

from __future__ import annotations

import argparse

from brumal.commands.asked import COMMAND_LINE
from brumal.commands.common import Exit, add_folder, add_out, console, load, write
from brumal.commands.numbers import share, whole_number
from brumal.genetics.notation.parse import morph_faults
from brumal.genetics.wishes import Wish, wish_of
from brumal.pipeline import Prepared
from brumal.records.faults import Fault, InputError, Where
from brumal.report.route.report import Routes, print_routes, routes_json, routes_page
from brumal.routes.find import Asked, find_routes
from brumal.routes.framing import start_of
from brumal.routes.genes import target_genes
from brumal.routes.missing import harmful_target, missing_for
from brumal.routes.ready import hatch_day

SEASONS, MOST_SEASONS = 5, 10
KEEP, MOST_KEEP = 3, 6


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "route",
        help="find crosses over several seasons that lead to a morph",
        description="Which pairs now, which young to hold back, which pairs then: routes from the "
        "animals of a season folder to a morph that one season cannot make, with the chance by "
        "each year. The morph is written in trade notation, in quotes.",
    )
    add_folder(parser)
    parser.add_argument("morph", metavar="MORPH", help="what is to hatch, such as 'Clown Piebald'")
    parser.add_argument(
        "--by",
        type=whole_number(1900, 2999),
        metavar="YEAR",
        help=f"the last year in which it may hatch (default: the {SEASONS}th season from now)",
    )
    parser.add_argument(
        "--keep",
        type=whole_number(0, MOST_KEEP),
        default=KEEP,
        metavar="N",
        help="the most young held back at once (default: %(default)s)",
    )
    parser.add_argument(
        "--chance",
        type=share,
        metavar="P",
        help="say which route first reaches this chance, such as 0.9",
    )
    add_out(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Print the routes, write their page and data."""
    prepared = load(args.folder)
    wish = _wish(args.morph, prepared)
    first = hatch_day(prepared, 1).year
    seasons = _seasons(args.by, first)
    start = start_of(prepared, target_genes(wish, prepared.catalogue))
    screen = console()
    with console(stderr=True).status(f"Looking for routes over {seasons} seasons"):
        routes = find_routes(start, Asked(seasons=seasons, keep=args.keep))
    settings = prepared.records.settings
    found = Routes(
        target=wish.text,
        season=settings.season.name,
        on=prepared.records.as_of or prepared.rules.on,
        currency=settings.currency,
        last=first + seasons - 1,
        keep=args.keep,
        chance=args.chance,
        routes=routes,
        missing=None if routes else missing_for(start, seasons, args.keep),
    )
    print_routes(found, screen)
    screen.print()
    write(args, {"route.html": routes_page(found), "route.json": routes_json(found)}, screen)
    return Exit.DONE if routes else Exit.NO_PLAN


def _wish(morph: str, prepared: Prepared) -> Wish:
    """Return what is asked for; a target that is itself harmed is refused."""
    where = Where(file=COMMAND_LINE.file, column="MORPH")
    wish, problems = wish_of(morph, prepared.catalogue)
    if wish is None:
        raise InputError(morph_faults(problems, where))
    if not wish.needs:
        fault = Fault(
            where=where, found=repr(morph), expected="a morph with at least one gene to breed for"
        )
        raise InputError([fault])
    harmful = harmful_target(prepared, wish)
    if harmful:
        fault = Fault(
            where=where,
            found=f"{morph!r}, which falls under the welfare note on {harmful}",
            expected="a target without a lethal or neurological note",
            repair="docs/genes.md says what is known of it; no route is offered.",
        )
        raise InputError([fault])
    return wish


def _seasons(by: int | None, first: int) -> int:
    """Return the number of seasons up to a year."""
    if by is None:
        return SEASONS
    if not first <= by < first + MOST_SEASONS:
        fault = Fault(
            where=Where(file=COMMAND_LINE.file, column="--by"),
            found=str(by),
            expected=f"a year from {first}, when this season's young hatch, to "
            f"{first + MOST_SEASONS - 1}",
        )
        raise InputError([fault])
    return by - first + 1
