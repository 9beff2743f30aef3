"""``brumal why FOLDER [ANIMAL [MATE]]``: why the plan is as it is, and what would change it."""

from __future__ import annotations

import argparse

from rich.console import Console

from brumal.commands.asked import COMMAND_LINE, find_animals
from brumal.commands.common import Exit, add_out, add_season, console, load_season, write
from brumal.commands.solving import add_solving, solve_options, solved
from brumal.insight.why.answers import why_animal, why_pair
from brumal.insight.why.counterfactuals import Questions, Told
from brumal.insight.why.whole import subject_of, why_season
from brumal.planner.describe import plan_of
from brumal.planner.season import SolvedSeason
from brumal.planner.solver.answer import Verdict
from brumal.planner.solver.interrupt import stopping_all
from brumal.records.animals import Animal, Sex
from brumal.records.faults import Fault, InputError
from brumal.report.plan.terminal import print_plan
from brumal.report.why.files import why_json
from brumal.report.why.page import why_page
from brumal.report.why.terminal import print_animal_why, print_pair_why, print_whole_why


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "why",
        help="say why each female rests or is paired as she is, and what to change first",
        description="Make the plan, then solve the season again without each pair and with each "
        "female that rests, and say what that costs and which limits are worth loosening.",
    )
    add_season(parser)
    parser.add_argument(
        "animals",
        nargs="*",
        metavar="ANIMAL",
        help="an animal, or a female and a male, by id or name (left out: the whole season)",
    )
    parser.add_argument(
        "--quick", action="store_true", help="tell only what needs no further solve"
    )
    add_out(parser)
    add_solving(parser)
    parser.set_defaults(func=run)


def run(args: argparse.Namespace) -> int:
    """Explain an animal, a pair or the whole season; the whole one is also written."""
    prepared = load_season(args)
    asked = find_animals(args.animals, prepared)
    _check(asked, prepared.kinship.index)
    season = solved(prepared, solve_options(args), console(stderr=True), keep=False)
    screen = console()
    if season.solution.chosen is None:
        return no_plan(season, screen)
    told = _told(console(stderr=True))
    if not asked:
        return _whole(args, season, told, screen)
    questions = Questions(season, told)
    if len(asked) == 2:
        dam, sire = sorted(asked, key=lambda animal: animal.sex is Sex.MALE)
        with stopping_all():
            why = why_pair(questions, dam.id, sire.id, args.quick)
        print_pair_why(why, subject_of(questions), screen)
    else:
        with stopping_all():
            told_of = why_animal(questions, asked[0].id, args.quick)
        print_animal_why(told_of, subject_of(questions), screen)
    return exit_of(season)


def _whole(
    args: argparse.Namespace, season: SolvedSeason, told: Told | None, screen: Console
) -> int:
    """Explain the whole season."""
    with stopping_all():
        whole = why_season(Questions(season, told), args.quick)
    print_whole_why(whole, screen)
    screen.print()
    write(args, {"why.html": why_page(whole), "why.json": why_json(whole)}, screen)
    return exit_of(season)


def exit_of(season: SolvedSeason) -> int:
    """Return the exit code of a season that has a plan."""
    return Exit.DONE if season.solution.verdict is Verdict.PROVEN else Exit.NOT_PROVEN


def no_plan(season: SolvedSeason, screen: Console) -> int:
    """Print why there is no plan."""
    plan = plan_of(season)
    print_plan(plan, screen)
    return Exit.NO_PLAN if plan.verdict is Verdict.IMPOSSIBLE else Exit.NOT_PROVEN


def _check(asked: list[Animal], collection: object) -> None:
    """Refuse what cannot be asked about; raises :class:`InputError`."""
    faults = [
        Fault(
            where=COMMAND_LINE,
            found=f"{animal.label}, entered as outside the collection",
            expected="an animal of the collection",
        )
        for animal in asked
        if animal.id not in collection  # type: ignore[operator]
    ]
    sexes = [animal.sex for animal in asked]
    if len(asked) > 2 or (len(asked) == 2 and sorted(map(str, sexes)) != ["female", "male"]):
        found = ", ".join(f"{animal.label} ({animal.sex or 'sex not known'})" for animal in asked)
        faults.append(
            Fault(where=COMMAND_LINE, found=found, expected="one animal, or a female and a male")
        )
    if faults:
        raise InputError(faults)


def _told(screen: Console) -> Told | None:
    """Report each question on a terminal; a file or a pipe gets none."""
    if not screen.is_terminal:
        return None

    def report(what: str) -> None:
        screen.print(f"solving: {what}")

    return report
