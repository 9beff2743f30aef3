"""Kinship of a pair and of a collection: on the terminal, as a page, as tables."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from rich.console import Console
from rich.table import Table

from brumal.pedigree.kinship import KinshipBlock
from brumal.pedigree.pair import KinPair
from brumal.pedigree.summary import KinSummary, PairKin
from brumal.records.settings import Settings
from brumal.report.csv_cells import inert
from brumal.report.kin import words
from brumal.report.kin.heat import heat_picture, pool_line
from brumal.report.kin.pictures import arcs_picture, lines_picture
from brumal.report.page import picture, render
from brumal.report.terminal import and_more, heading, indented

SOURCES_PRINTED = 20
PATHS_PRINTED = 12
ANIMALS_PRINTED = 40

Names = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Told:
    """Which season is told of, and the day it is seen from."""

    season: str
    as_of: date | None = None


def print_pair(
    pair: KinPair, settings: Settings, screen: Console, as_of: date | None = None
) -> None:
    """Print the relationship, the paths with their sum, and what is known of both animals."""
    screen.print(words.relation_line(pair), style="bold")
    if as_of is not None:
        screen.print(f"Seen from {as_of}.")
    for line in (words.phi_line(pair), words.more_line(pair), *words.limit_lines(pair, settings)):
        if line:
            screen.print(line)
    heading("Common ancestors and paths", screen)
    if words.grouped_line(pair):
        screen.print(words.grouped_line(pair))
    for number, source in enumerate(pair.paths.sources[:SOURCES_PRINTED], start=1):
        head = words.source_head(source, pair.names)
        screen.print(f"{number}. {head}: {words.source_sum(source)}")
        for path in source.paths[:PATHS_PRINTED]:
            indented(words.path_words(path, pair.names), screen)
            indented(words.path_sum(source, path), screen, by=7)
        if len(source.paths) > PATHS_PRINTED:
            indented(f"and {len(source.paths) - PATHS_PRINTED} more, on the page.", screen)
    more = len(pair.paths.sources) - SOURCES_PRINTED
    if more > 0:
        given = words.coefficient(pair.paths.after(SOURCES_PRINTED))
        screen.print(f"and {more} more, together {given}, on the page.")
    screen.print(words.sum_line(pair))
    heading("How much is known", screen)
    for standing in dict.fromkeys((pair.one, pair.other)):
        screen.print(words.standing_line(standing, pair.names))
    screen.print(words.BOUND)


def print_collection(
    summary: KinSummary, names: Names, told: Told, outside: int, screen: Console
) -> None:
    """Print the collection: animals by mean kinship, pairs, founders."""
    screen.print(f"{told.season}: kinship of the collection", style="bold")
    if told.as_of is not None:
        screen.print(f"Seen from {told.as_of}.")
    screen.print(words.collection_line(summary))
    screen.print(words.completeness_line(summary))
    if outside:
        screen.print(words.outside_line(outside))
    screen.print(words.BOUND)
    _print_animals(summary, names, screen)
    _print_pairs("Closest pairs", summary.closest, names, screen)
    _print_pairs("Furthest pairs", summary.furthest, names, screen)
    screen.print(words.PAIRS_NOTE)
    heading("Founders", screen)
    screen.print(words.founders_line(summary))
    table = _table("founder", "share of genes")
    for founder in summary.founders[:ANIMALS_PRINTED]:
        table.add_row(names[founder.id], f"{founder.share:.1%}")
    screen.print(table)
    and_more(len(summary.founders) - ANIMALS_PRINTED, screen)
    screen.print(words.FOUNDER_NOTE)


def pair_page(pair: KinPair, settings: Settings, as_of: date | None = None) -> str:
    """Return the page of a pair: self-contained, no script, no network."""
    lines, arcs = lines_picture(pair), arcs_picture(pair)
    return render(
        "kin_pair.html",
        pair=pair,
        words=words,
        season=settings.season.name,
        as_of=as_of,
        limits=words.limit_lines(pair, settings),
        standings=tuple(dict.fromkeys((pair.one, pair.other))),
        lines=lines and picture(lines),
        arcs=arcs and picture(arcs),
    )


def collection_page(
    summary: KinSummary, ordered: KinshipBlock, names: Names, told: Told, outside: int
) -> str:
    """Return the page of a collection; ``ordered`` is its kinship with kin beside each other."""
    return render(
        "kin_collection.html",
        summary=summary,
        names=names,
        words=words,
        season=told.season,
        as_of=told.as_of,
        outside=outside,
        order=ordered.ids,
        pool_line=pool_line(len(ordered.ids)),
        heat=picture(heat_picture(ordered, names)),
    )


def animals_csv(summary: KinSummary, names: Names) -> str:
    """Return the animals as a table, lowest mean kinship first."""
    known = [f"known_{name.replace('-', '_')}" for name in words.GENERATIONS]
    rows = [
        [
            animal.id,
            names[animal.id],
            f"{animal.mean_kinship:.6f}",
            f"{animal.F:.6f}",
            str(animal.generations),
            f"{animal.completeness:.4f}",
            *(f"{share:.4f}" for share in animal.known),
        ]
        for animal in summary.animals
    ]
    header = ["id", "label", "mean_kinship", "F_as_recorded", "generations_in_full", "index"]
    return _csv([[*header, *known], *rows])


def matrix_csv(block: KinshipBlock) -> str:
    """Return the kinship of every two animals as a table, (1 + F) / 2 on the diagonal."""
    rows = [
        [name, *(f"{value:.9g}" for value in block.matrix[at])] for at, name in enumerate(block.ids)
    ]
    return _csv([["id", *block.ids], *rows])


def _csv(rows: Iterable[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(inert(*row) for row in rows)
    return out.getvalue()


def _print_animals(summary: KinSummary, names: Names, screen: Console) -> None:
    heading("Animals, the lowest mean kinship first", screen)
    table = _table("animal", "mean kinship", "F recorded", "generations", "index")
    for animal in summary.animals[:ANIMALS_PRINTED]:
        table.add_row(
            names[animal.id],
            f"{animal.mean_kinship:.4f}",
            words.coefficient(animal.F),
            str(animal.generations),
            f"{animal.completeness:.2f}",
        )
    screen.print(table)
    and_more(len(summary.animals) - ANIMALS_PRINTED, screen)
    screen.print(words.MEAN_NOTE)
    screen.print(words.INDEX_NOTE)


def _print_pairs(title: str, pairs: Iterable[PairKin], names: Names, screen: Console) -> None:
    heading(title, screen)
    table = _table("dam", "sire", "F of young", "generations")
    for pair in pairs:
        table.add_row(
            names[pair.dam], names[pair.sire], words.coefficient(pair.phi), str(pair.generations)
        )
    screen.print(table if table.rows else "None.")


def _table(*columns: str) -> Table:
    """Return a bare table: words to the left, figures to the right."""
    table = Table(box=None, pad_edge=False)
    for name in columns:
        left = name in ("animal", "dam", "sire", "founder")
        table.add_column(name, justify="left" if left else "right", no_wrap=not left)
    return table
