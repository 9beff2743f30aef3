"""``brumal animal FOLDER ID``: what is known of one animal, on one sheet."""

from __future__ import annotations

import argparse

from brumal import library
from brumal.commands.asked import file_word, find_animals
from brumal.commands.common import Exit, add_out, add_season, console, load, write
from brumal.report.animal.report import animal_page, print_animal


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "animal",
        help="show what is known of one animal: genes and why, weights, clutches, kin",
        description="Show what is known of one animal and from what: its genes, whether it may "
        "breed this season, its weights, clutches and kin.",
    )
    add_season(parser)
    parser.add_argument("animal", metavar="ID", help="an animal of the folder, by id or name")
    add_out(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Print the sheet of the animal and write its page."""
    prepared = load(args.folder, args.on)
    (animal,) = find_animals([args.animal], prepared)
    sheet = library.animal(prepared, animal.id)
    screen = console()
    print_animal(sheet, screen)
    screen.print()
    write(args, {f"animal-{file_word(animal.id)}.html": animal_page(sheet)}, screen)
    return Exit.DONE
