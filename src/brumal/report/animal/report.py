"""One animal on the terminal and as a page."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table

from brumal.insight.sheets.animal_sheet import AnimalSheet
from brumal.report.animal import words
from brumal.report.bidi import isolator
from brumal.report.cross import words as cross_words
from brumal.report.kin import words as kin_words
from brumal.report.page import picture, render
from brumal.report.ready.pictures import weight_picture
from brumal.report.terminal import and_more, heading, item

WEIGHINGS_PRINTED = 12
KIN_PRINTED = 15


def print_animal(sheet: AnimalSheet, screen: Console) -> None:
    """Print the whole sheet: genes, welfare, this season, weights, clutches, kin."""
    screen.print(words.head_line(sheet), style="bold")
    if sheet.as_of is not None:
        screen.print(f"Seen from {sheet.as_of}.")
    for line in words.note_lines(sheet):
        screen.print(line)
    _print_genes(sheet, screen)
    heading(f"This season, judged on {sheet.season.pair_from}", screen)
    screen.print(words.season_line(sheet))
    for line in cross_words.verdict_lines(words.verdicts_by_state(sheet)):
        item(line, screen)
    for line in words.coming_lines(sheet):
        screen.print(line)
    _print_weights(sheet, screen)
    _print_clutches(sheet, screen)
    _print_kin(sheet, screen)


def animal_page(sheet: AnimalSheet) -> str:
    """Return the page of an animal: self-contained, no script, no network."""
    weights = sheet.ready and weight_picture(sheet.ready, sheet.season.pair_from)
    return render(
        "animal.html",
        sheet=sheet,
        words=words,
        told=isolator(sheet.names),
        risks=cross_words.own_risks(sheet.risks, sheet.animal.label),
        verdicts=words.verdicts_by_state(sheet),
        state=cross_words.state,
        weights=weights and picture(weights),
        points=sheet.series.points[::-1],
        bound=kin_words.BOUND,
    )


def _print_genes(sheet: AnimalSheet, screen: Console) -> None:
    heading("What it carries", screen)
    screen.print(words.morph_line(sheet))
    if sheet.genes:
        table = Table(box=None, pad_edge=False)
        table.add_column("locus")
        table.add_column("carries")
        for gene in sheet.genes:
            table.add_row(gene.locus, words.gene_line(gene))
        screen.print(table)
    else:
        screen.print(words.NOTHING)
    screen.print(words.REST_NOTE)
    for why in sheet.why:
        item(why, screen)
    for finding in sheet.findings:
        item(words.finding_line(finding), screen)
    if sheet.risks:
        heading("Welfare", screen)
        for risk in cross_words.own_risks(sheet.risks, sheet.animal.label):
            item(risk, screen)


def _print_weights(sheet: AnimalSheet, screen: Console) -> None:
    heading("Weights", screen)
    series = sheet.series
    for note in words.weight_lines(sheet):
        screen.print(note)
    if not series.points:
        return
    table = Table(box=None, pad_edge=False)
    table.add_column("weighed")
    table.add_column("g", justify="right")
    table.add_column("read as")
    for point in series.points[: -WEIGHINGS_PRINTED - 1 : -1]:
        day = str(point.on or "day not recorded")
        table.add_row(day, f"{point.grams:,.0f}", words.weighing_kind(point))
    screen.print(table)
    and_more(len(series.points) - WEIGHINGS_PRINTED, screen)


def _print_clutches(sheet: AnimalSheet, screen: Console) -> None:
    if not sheet.clutches:
        return
    heading("Clutches", screen)
    for entry in sheet.clutches:
        screen.print(f"{words.laid_words(entry)}, {words.mate_words(entry)}")
        screen.print(Padding(words.clutch_line(entry), (0, 0, 0, 4), expand=False))


def _print_kin(sheet: AnimalSheet, screen: Console) -> None:
    heading("Kin", screen)
    screen.print(words.standing_line(sheet))
    screen.print(kin_words.BOUND)
    for title, lines in words.kin_groups(sheet):
        screen.print(f"{title} ({len(lines)})" if title != "Parents" else title)
        for line in lines[:KIN_PRINTED]:
            item(line, screen)
        and_more(len(lines) - KIN_PRINTED, screen)
