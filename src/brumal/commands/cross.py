"""``brumal cross [FOLDER] DAM SIRE``: the odds of a pair's young, of a folder or of two morphs."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path

from brumal.commands.asked import COMMAND_LINE, file_word, find_animals
from brumal.commands.common import Exit, add_day, add_out, console, load, write
from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import Morph, Y
from brumal.genetics.notation.parse import morph_faults, parse_morph
from brumal.insight.sheets.cross_sheet import (
    DAM,
    EGGS,
    MOST,
    SIRE,
    Asked,
    CrossSheet,
    cross_animals,
    cross_notations,
)
from brumal.pipeline import Prepared
from brumal.records.animals import Animal, Sex
from brumal.records.faults import Fault, InputError, Severity, Where
from brumal.report.cross.report import cross_csv, cross_page, print_cross

MOST_ASKED = 60
MOST_ROWS = 100_000
_FORMS = "FOLDER DAM SIRE for two animals of a folder, or two morphs, each in quotes"


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "cross",
        help="tell the odds of the young of two animals, or of two morphs",
        usage="brumal cross FOLDER DAM SIRE [options]\n       brumal cross MORPH MORPH [options]",
        description="The odds of the young: of two animals of a season folder by all that is "
        "known of them, or of two morphs in trade notation, each in quotes, such as "
        "'Pastel het Clown' '66% het Clown'. The dam comes first.",
    )
    parser.add_argument(
        "parents",
        nargs="+",
        metavar="PARENT",
        help="a folder, a dam and a sire; or two morphs, the dam's first",
    )
    parser.add_argument(
        "--eggs",
        type=_eggs,
        metavar="N",
        help="count on N eggs, each taken to hatch (default: the clutch forecast of the folder's "
        f"pair; {EGGS} for two morphs)",
    )
    parser.add_argument(
        "--genotypes", action="store_true", help="list the odds of each genotype as well"
    )
    parser.add_argument(
        "--most",
        type=_rows,
        default=MOST,
        metavar="N",
        help="list at most N looks and N genotypes, the likeliest; how many more there are is told "
        "(default: %(default)s)",
    )
    add_out(parser)
    add_day(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Print the odds, write their page and table."""
    asked = Asked(eggs=args.eggs, most=args.most, genotypes=args.genotypes)
    if len(args.parents) == 2:
        sheet, names = _notations(args.parents, asked), args.parents
        args.out = args.out or Path("brumal-out") / "cross"
    elif len(args.parents) == 3:
        args.folder = Path(args.parents[0])
        sheet, names = _animals(args.folder, args.parents[1:], asked, args.on)
    else:
        raise InputError([_wrong_number(args.parents)])
    screen = console()
    print_cross(sheet, screen)
    screen.print()
    name = f"cross-{'-'.join(file_word(each) for each in names)}"
    write(args, {f"{name}.html": cross_page(sheet), f"{name}.csv": cross_csv(sheet)}, screen)
    return Exit.DONE


def _animals(
    folder: Path, asked: list[str], how: Asked, on: date | None
) -> tuple[CrossSheet, list[str]]:
    """Return the cross of two animals, and their ids."""
    if not folder.is_dir():
        raise InputError([_no_folder(str(folder))])
    prepared = load(folder, on)
    dam, sire = find_animals(asked, prepared)
    faults = _role_faults(prepared, dam, sire)
    if faults:
        raise InputError(faults)
    return cross_animals(prepared, dam.id, sire.id, how), [dam.id, sire.id]


def _role_faults(prepared: Prepared, dam: Animal, sire: Animal) -> list[Fault]:
    """Return what is wrong with the two as dam and sire; an unknown sex may be either."""
    if dam.id == sire.id:
        return [Fault(where=COMMAND_LINE, found=f"{dam.label} twice", expected="a dam and a sire")]
    sexes = prepared.pedigree.sexes
    wrong = [
        (animal, role, expected)
        for animal, role, expected in ((dam, DAM, Sex.FEMALE), (sire, SIRE, Sex.MALE))
        if sexes.get(animal.id) not in (expected, None)
    ]
    return [
        Fault(
            where=COMMAND_LINE,
            found=f"{animal.label}, a {sexes[animal.id]}, as the {role}",
            expected=f"a {expected}",
            repair="Turn the two round: the dam comes first." if len(wrong) == 2 else "",
        )
        for animal, role, expected in wrong
    ]


def _notations(asked: list[str], how: Asked) -> CrossSheet:
    catalogue, _ = load_catalogue()
    read = [_morph(text, role, catalogue) for text, role in zip(asked, (DAM, SIRE), strict=True)]
    faults = [fault for _, found in read for fault in found]
    if faults and asked[0].strip() and Path(asked[0]).is_dir():
        raise InputError([_one_animal(asked)])
    dam, sire = (morph for morph, _ in read)
    if faults or dam is None or sire is None:
        raise InputError([*faults, _two_forms()])
    return cross_notations((asked[0], dam), (asked[1], sire), catalogue, how)


def _morph(text: str, role: str, catalogue: Catalogue) -> tuple[Morph | None, tuple[Fault, ...]]:
    where = Where(file=COMMAND_LINE.file, column=role)
    morph, problems = parse_morph(text, catalogue)
    if morph is not None and role == DAM:
        on_y = [claim.pairs[0][1] for claim in morph.claims if claim.carried_on == Y]
        if on_y:
            fault = Fault(
                where=where,
                found=f"{on_y[0]} on Y",
                expected="a dam's morph: females have no Y",
                repair="The dam comes first, then the sire.",
            )
            return None, (fault,)
    return morph, morph_faults(problems, where)


def _wrong_number(parents: list[str]) -> Fault:
    told = ", ".join(f"'{word}'" for word in parents)
    return Fault(
        where=COMMAND_LINE,
        found=f"{len(parents)} words ({told})" if len(parents) > 1 else f"only {told}",
        expected=_FORMS,
    )


def _no_folder(word: str) -> Fault:
    return Fault(
        where=COMMAND_LINE,
        found=f"'{word}', which is no folder",
        expected=_FORMS,
        repair="A morph of several words needs quotes round it.",
    )


def _one_animal(asked: list[str]) -> Fault:
    return Fault(
        where=COMMAND_LINE,
        found=f"the folder '{asked[0]}' and '{asked[1]}' alone",
        expected=_FORMS,
    )


def _two_forms() -> Fault:
    return Fault(
        where=COMMAND_LINE,
        found="two words, read as morphs",
        expected=_FORMS,
        severity=Severity.NOTICE,
    )


def _eggs(text: str) -> int:
    return _whole(text, MOST_ASKED)


def _rows(text: str) -> int:
    return _whole(text, MOST_ROWS)


def _whole(text: str, most: int) -> int:
    if not text.strip().isdecimal() or not 1 <= int(text) <= most:
        raise argparse.ArgumentTypeError(f"a whole number from 1 to {most}, not {text!r}")
    return int(text)
