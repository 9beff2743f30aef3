"""``brumal kin FOLDER [A B]``: how two animals are kin, or the kinship of the whole collection."""

from __future__ import annotations

import argparse
import re
from collections.abc import Mapping

from brumal import library
from brumal.commands.common import Exit, add_out, add_season, console, load, write
from brumal.pedigree.graph import Pedigree
from brumal.pedigree.ordering import line_order
from brumal.pedigree.summary import summarise
from brumal.pipeline import Prepared
from brumal.records.faults import Fault, InputError, Where, did_you_mean
from brumal.report.kin.report import (
    Told,
    animals_csv,
    collection_page,
    matrix_csv,
    pair_page,
    print_collection,
    print_pair,
)


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "kin",
        help="show how two animals are kin, or the kinship of the whole collection",
        description="With two animals: their common ancestors, path by path, and the inbreeding "
        "coefficient F of their young. Without: the kinship of the whole collection.",
    )
    add_season(parser)
    parser.add_argument(
        "animals",
        nargs="*",
        metavar="ANIMAL",
        help="two animals or ancestors, by id or name; left out for the whole collection",
    )
    add_out(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Print the kinship and write its page."""
    if len(args.animals) not in (0, 2):
        raise InputError([_not_two(args.animals)])
    prepared = load(args.folder, args.on)
    if args.animals:
        _run_pair(args, prepared)
    else:
        _run_collection(args, prepared)
    return Exit.DONE


def _run_pair(args: argparse.Namespace, prepared: Prepared) -> None:
    one, other = _found(args.animals, prepared.pedigree)
    pair = library.kinship(prepared, one, other)
    screen, settings = console(), prepared.records.settings
    as_of = prepared.records.as_of
    print_pair(pair, settings, screen, as_of)
    screen.print()
    name = f"kin-{_plain(one)}-{_plain(other)}.html"
    write(args, {name: pair_page(pair, settings, as_of)}, screen)


def _run_collection(args: argparse.Namespace, prepared: Prepared) -> None:
    kinship = prepared.kinship.only(animal.id for animal in prepared.records.collection)
    summary = summarise(prepared.pedigree, kinship)
    ordered = kinship.only(line_order(kinship))
    names = {name: prepared.pedigree.label(name) for name in prepared.pedigree.ids}
    told = Told(prepared.records.settings.season.name, prepared.records.as_of)
    outside = len(prepared.records.known) - len(kinship.ids)
    screen = console()
    print_collection(summary, names, told, outside, screen)
    screen.print()
    files = {
        "kin.html": collection_page(summary, ordered, names, told, outside),
        "kin.csv": animals_csv(summary, names),
        "kinship.csv": matrix_csv(ordered),
    }
    write(args, files, screen)


def _found(asked: list[str], pedigree: Pedigree) -> list[str]:
    """Return the ids meant by what was typed; raises :class:`InputError` for those not known."""
    by_name = _by_name(pedigree)
    found = [_resolve(word, pedigree, by_name) for word in asked]
    faults = [one for one in found if isinstance(one, Fault)]
    if faults:
        raise InputError(faults)
    return [one for one in found if isinstance(one, str)]


def _words(pedigree: Pedigree) -> list[str]:
    """Return every id and name in the pedigree."""
    names = {row.name for row in pedigree.animals.values() if row.name}
    return sorted(names | set(pedigree.ids))


def _by_name(pedigree: Pedigree) -> dict[str, list[str]]:
    """Return ids by id and by name, in small letters."""
    known: dict[str, list[str]] = {}
    for animal in sorted(pedigree.ids):
        row = pedigree.animals.get(animal)
        for word in {animal.casefold(), (row.name if row else "").casefold() or animal.casefold()}:
            known.setdefault(word, []).append(animal)
    return known


def _resolve(word: str, pedigree: Pedigree, by_name: Mapping[str, list[str]]) -> str | Fault:
    """Return the id for a word as typed: the id itself, else the only id or name like it."""
    if word in pedigree.index:
        return word
    meant = by_name.get(word.casefold(), [])
    if len(meant) == 1:
        return meant[0]
    where = Where(file="command line")
    if meant:
        return Fault(
            where=where,
            found=f"'{word}', the name of {', '.join(meant)}",
            expected="the id of one animal",
        )
    return Fault(
        where=where,
        found=f"'{word}'",
        expected="an animal or ancestor of the season folder, by id or name",
        repair=did_you_mean(word, _words(pedigree)),
    )


def _not_two(animals: list[str]) -> Fault:
    return Fault(
        where=Where(file="command line"),
        found=f"{len(animals)} animal{'' if len(animals) == 1 else 's'} ({', '.join(animals)})",
        expected="two animals for their kinship, none for the whole collection",
    )


def _plain(name: str) -> str:
    """Return an id as part of a file name."""
    return re.sub(r"[^\w.]+", "_", name).strip("._") or "animal"
