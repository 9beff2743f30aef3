"""A cross on the terminal, as a page and as a table."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from rich.console import Console
from rich.table import Table

from brumal.insight.sheets.cross_sheet import CrossSheet, Parent
from brumal.insight.sheets.young_odds import Chances, Rest
from brumal.report.bidi import isolator
from brumal.report.cross import words
from brumal.report.cross.pictures import looks_picture, undrawn, wanted_picture
from brumal.report.csv_cells import inert
from brumal.report.page import picture, render
from brumal.report.plan.words import CAUTIONS
from brumal.report.terminal import heading, item
from brumal.report.words import figure

COLUMNS = ("kind", "name", "sex", "chance", "females", "expected", "at_least_one")


def print_cross(sheet: CrossSheet, screen: Console) -> None:
    """Print parents, odds of looks and genotypes, what is wanted, welfare, kinship, cautions."""
    screen.print(words.title(sheet), style="bold")
    if sheet.as_of is not None:
        screen.print(f"Seen from {sheet.as_of}.")
    for parent in (sheet.dam, sheet.sire):
        _print_parent(parent, screen)
    for line in (words.warning(sheet.risks), words.count_line(sheet.count)):
        _rest(line, screen)
    _print_looks(sheet, screen)
    _print_genotypes(sheet, screen)
    _print_wanted(sheet, screen)
    if not sheet.certain:
        screen.print()
        screen.print(words.CLUTCH_NOTE)
    heading("Welfare", screen)
    _items(welfare_lines(sheet), screen)
    if sheet.relation:
        heading("Kinship and rules", screen)
        _items(rule_lines(sheet), screen)
    heading("Cautions", screen)
    _items(CAUTIONS, screen)


def cross_page(sheet: CrossSheet) -> str:
    """Return the page of a cross: self-contained, no script, no network."""
    wanted = wanted_picture(sheet)
    return render(
        "cross.html",
        sheet=sheet,
        words=words,
        figure=figure,
        told=isolator(_names(sheet)),
        welfare=welfare_lines(sheet),
        rules=rule_lines(sheet),
        looks=picture(looks_picture(sheet)),
        undrawn=undrawn(sheet),
        wanted=wanted and picture(wanted),
        females=words.sexes_differ(sheet.looks),
    )


def cross_csv(sheet: CrossSheet) -> str:
    """Return the odds as a table: looks, then genotypes and wanted entries where there are any.

    What a list leaves out has a row of its own, with its number for a name and its chance.
    """
    rows = [["look", look.name, "", *_exact(look.chances, look.females)] for look in sheet.looks]
    rows += _not_listed("looks not listed", sheet.looks_left)
    rows += [
        ["genotype", each.name, str(each.sex or ""), *_exact(each.chances)]
        for each in sheet.genotypes or ()
    ]
    rows += _not_listed("genotypes not listed", sheet.genotypes_left)
    rows += [["wanted", wish.morph, "", *_exact(wish.chances)] for wish in sheet.wanted]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([COLUMNS, *(inert(*row) for row in rows)])
    return out.getvalue()


def _not_listed(kind: str, rest: Rest) -> list[list[str]]:
    return [[kind, str(rest.kinds), "", f"{rest.chance:.9g}", "", "", ""]] if rest.kinds else []


def welfare_lines(sheet: CrossSheet) -> list[str]:
    """Tell the welfare notes of the young, then those of the parents themselves."""
    parents = [
        line
        for parent in (sheet.dam, sheet.sire)
        for line in words.own_risks(parent.risks, parent.label or f"The {parent.role}", sheet.risks)
    ]
    return [*(words.young_risks(sheet.risks) or [words.NO_NOTE]), *parents]


def rule_lines(sheet: CrossSheet) -> list[str]:
    """Tell how the two are kin and what the rules say of them."""
    if not sheet.relation:
        return []
    return [
        f"{words.called(sheet.dam)} and {words.called(sheet.sire)}: {sheet.relation}.",
        *words.verdict_lines(sheet.verdicts),
    ]


def _names(sheet: CrossSheet) -> list[str]:
    parents = [text for each in (sheet.dam, sheet.sire) for text in (each.label, each.written)]
    return [*parents, *(wish.morph for wish in sheet.wanted), sheet.season]


def _exact(chances: Chances, females: float | None = None) -> list[str]:
    shown = "" if females is None else f"{females:.9g}"
    return [f"{chances.each:.9g}", shown, f"{chances.expected:.9g}", f"{chances.one:.9g}"]


def _print_parent(parent: Parent, screen: Console) -> None:
    screen.print(words.parent_line(parent))
    _items(words.unsure_lines(parent), screen)


def _print_looks(sheet: CrossSheet, screen: Console) -> None:
    heading("Odds of each look", screen)
    females = words.sexes_differ(sheet.looks)
    table = _table("look", *(["females"] if females else []))
    for look in sheet.looks:
        more = [words.share(look.females)] if females else []
        _row(table, look.chances, words.look_name(look), more)
    screen.print(table)
    _rest(words.rest_line(sheet.looks_left, "look", len(sheet.looks)), screen)


def _print_genotypes(sheet: CrossSheet, screen: Console) -> None:
    if sheet.genotypes is None:
        return
    heading("Odds of each genotype", screen)
    table = _table("genotype")
    for genotype in sheet.genotypes:
        _row(table, genotype.chances, words.genotype_name(genotype))
    screen.print(table)
    _rest(words.rest_line(sheet.genotypes_left, "genotype", len(sheet.genotypes)), screen)
    if any(genotype.sex for genotype in sheet.genotypes):
        screen.print(words.SIDES_NOTE)


def _print_wanted(sheet: CrossSheet, screen: Console) -> None:
    if not sheet.wanted:
        return
    heading("What you want", screen)
    table = _table("morph", "two or more")
    for wish in words.within_reach(sheet):
        _row(table, wish.chances, wish.morph, [words.share(words.more_than_one(wish))])
    if table.rows:
        screen.print(table)
    _rest(words.beyond_line(sheet), screen)


def _table(kind: str, *more: str) -> Table:
    table = Table(box=None, pad_edge=False)
    table.add_column(kind)
    for name in ("odds", "share", *more, "expected", "one or more"):
        table.add_column(name, justify="right", no_wrap=True)
    return table


def _row(table: Table, chances: Chances, name: str, more: Iterable[str] = ()) -> None:
    """Fill a row; columns between share and expected are ``more``."""
    each, one = chances.each, words.share(chances.one)
    expected = figure(chances.expected)
    table.add_row(name, words.odds(each), words.share(each), *more, expected, one)


def _rest(text: str, screen: Console) -> None:
    if text:
        screen.print(text)


def _items(lines: Iterable[str], screen: Console) -> None:
    for line in lines:
        item(line, screen)
