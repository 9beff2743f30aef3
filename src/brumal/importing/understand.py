"""A book understood: everything settled, in one straight line from grids to tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from brumal.genetics.catalogue.genes import Catalogue
from brumal.importing import clutches, prices, weighings
from brumal.importing.animals import YES, Settled, settle_animals
from brumal.importing.collect import Raw, by_kind, find_cards, merged, rows_of
from brumal.importing.grids import MOST_UNPACKED, Cell, Grid, read_book
from brumal.importing.morphs import are_morphs
from brumal.importing.prices import BookPrices
from brumal.importing.questions import Answers, Asker, Question
from brumal.importing.register import Register
from brumal.importing.study import Study
from brumal.importing.tables import Kind, Table, find_tables, found_by_content, kind_of, sorted_rows
from brumal.importing.told_notes import notes_told
from brumal.importing.weighings import Weighing
from brumal.importing.weights import read_weight
from brumal.records.faults import Fault, InputError, Where

Told = Mapping[str, Mapping[str, str]]
"""What ``import.yaml`` says of tables and columns: ``read as``, ``field``, ``dates``, ``unit``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadAs:
    """How a table was read: for the report and for ``import.yaml``."""

    table: Table
    orders: Mapping[str, str]
    units: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """All that a book says: rows by column as they are written, and what is asked."""

    books: Mapping[str, str]
    animals: tuple[Mapping[str, str], ...]
    weights: tuple[Mapping[str, str], ...]
    clutches: tuple[Mapping[str, str], ...]
    prices: BookPrices
    limits: Mapping[str, str]
    questions: tuple[Question, ...]
    refused: Mapping[tuple[str, str], str]
    notes: tuple[str, ...]
    read_as: tuple[ReadAs, ...]
    unread: tuple[str, ...] = field(default=())


def understand(
    paths: Sequence[Path],
    catalogue: Catalogue,
    on: date,
    answers: Answers | None = None,
    told: Told | None = None,
    most_unpacked: int = MOST_UNPACKED,
) -> Understood:
    """Read books that belong together.

    ``answers`` and ``told`` come from an earlier ``import.yaml``; a book may hold
    ``most_unpacked`` bytes. Raises :class:`InputError`
    where a book cannot be read or none of them holds animals.
    """
    sources, grids = _read(paths, most_unpacked)
    cards = [(grid, find_cards(grid)) for grid in grids]
    tables: list[Table] = []
    for grid, found in cards:
        taken = [row for card in found for row in card.rows]
        for table in find_tables(grid, taken):
            tables.append(_told(_with_morphs(table, catalogue), told or {}))
    study = Study(
        on=on,
        asker=Asker(answers or {}),
        catalogue=catalogue,
        tables=tables,
        told=told or {},
        other_units=_other_units(tables),
    )
    kinds = by_kind(tables)
    on_cards = [card.raw for _, found in cards for card in found]
    for raw in on_cards:
        for name, pairs in raw.fields.items():
            study.cards.setdefault(name, []).extend(cell for _, cell in pairs)
    raws = merged([*(raw for table in kinds[Kind.ANIMALS] for raw in rows_of(table)), *on_cards])
    raws.extend(_loose(study, kinds[Kind.ANIMALS]))
    animals, register = settle_animals(study, raws, _legends(grids))
    if not animals:
        raise InputError([_no_animals(study, sources)])
    return _gathered(study, sources, grids, kinds, animals, register)


def _gathered(
    study: Study,
    sources: Mapping[str, str],
    grids: Sequence[Grid],
    kinds: Mapping[Kind, list[Table]],
    animals: list[Settled],
    register: Register,
) -> Understood:
    sexes = {each.key: each.values["sex"] for each in animals}
    heaps = [weighing for each in animals for weighing in weighings.of_animal(study, each)]
    for table in kinds[Kind.WEIGHTS]:
        card = _card_over(table, animals)
        if card or table.of("id", "name", "tub"):
            heaps += weighings.of_table(study, table, register, animals, card)
    across = []
    for grid in grids:
        if not any(table.grid is grid for table in study.tables):
            heaps_here = _across(study, grid, register)
            across += [grid] if heaps_here else []
            heaps += heaps_here
    heaps = weighings.checked(study, heaps)
    laid = [
        clutch
        for table in kinds[Kind.CLUTCHES]
        for clutch in clutches.of_table(study, table, register, sexes)
    ]
    listed = prices.price_lists(study, kinds[Kind.PRICES])
    rows = [_animal_row(study, each, heaps) for each in animals]
    study.notes += notes_told(rows, laid)
    used = {table.grid.sheet for table in study.tables if table.kind is not Kind.NOTHING}
    room = {grid.sheet: prices.limits_in([grid]) for grid in grids}
    used |= {sheet for sheet, limits in room.items() if limits}
    used |= {grid.sheet for grid in across} | {raw.grid.sheet for raw in register.raws}
    return Understood(
        books=sources,
        animals=tuple(rows),
        weights=tuple(_weight_row(each) for each in heaps if len(each.day) == 10),
        clutches=tuple(laid),
        prices=listed,
        limits=prices.limits_in(grids),
        questions=study.asker.questions(),
        refused=study.asker.refused,
        notes=tuple(dict.fromkeys(study.notes)),
        read_as=tuple(
            ReadAs(table=table, orders=study.orders, units=study.units) for table in study.tables
        ),
        unread=tuple(grid.sheet for grid in grids if grid.sheet not in used and grid.cells),
    )


def _read(paths: Sequence[Path], most_unpacked: int) -> tuple[dict[str, str], list[Grid]]:
    sources: dict[str, str] = {}
    grids: list[Grid] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            source, found = read_book(path, most_unpacked)
        except InputError as error:
            faults.extend(error.faults)
            continue
        sources[source.file] = source.fingerprint
        grids.extend(found)
    if faults:
        raise InputError(faults)
    return sources, grids


def _with_morphs(table: Table, catalogue: Catalogue) -> Table:
    """Find the morphs of a table of animals in a column whose heading says nothing."""
    if table.fields & {"morph", "het", "eggs"} or not table.fields & {"id", "name"}:
        return table
    if not table.fields & {"sex", "hatched", "dam", "sire"}:
        return table
    found = found_by_content(table, "morph", lambda cells: are_morphs(cells, catalogue))
    return table if found is table else sorted_rows(replace(found, kind=kind_of(found)))


def _told(table: Table, told: Told) -> Table:
    """Read a table as the keeper's ``import.yaml`` says."""
    columns = tuple(
        replace(column, field=said["field"])
        if "field" in (said := told.get(f"{table.grid.sheet}/{column.heading}", {}))
        else column
        for column in table.columns
    )
    if columns != table.columns:
        table = replace(table, columns=columns)
        table = replace(table, kind=kind_of(table))
    said = told.get(table.key, {})
    if said.get("read as") in tuple(Kind):
        table = replace(table, kind=Kind(said["read as"]))
    return table


def _other_units(tables: Iterable[Table]) -> bool:
    """Say whether a unit other than grams stands anywhere among the weights of the book."""
    for table in tables:
        for column in table.of("weight", "weight on"):
            units = {column.unit} | {read_weight(cell).unit for cell in table.down(column)}
            if units - {"", "g"}:
                return True
    return False


def _legends(grids: Iterable[Grid]) -> dict[str, str]:
    """Return what colours mean where a coloured cell of its own says so: ``red = sold``."""
    found: dict[str, str] = {}
    for grid in grids:
        for _, cells in grid.rows():
            for cell in cells:
                if cell.fill and "=" in cell.text and not cell.formula and len(cells) <= 2:
                    found[cell.fill] = cell.text.rsplit("=", 1)[1].strip()
    return found


def _loose(study: Study, tables: Iterable[Table]) -> list[Raw]:
    """Ask about rows that hold one text alone; those that the keeper calls animals are kept."""
    found = []
    for table in tables:
        names = {column.number: column for column in table.of("id", "name")}
        for row in table.loose:
            (cell, *_) = table.cells(row)
            if cell.column not in names or "=" in cell.text or _is_remark(cell):
                continue
            answer = study.asker.ask(
                "name alone", "animal", table.grid, [cell], item=cell.text,
                text="Rows with a name and nothing else. Are these animals?",
                until="not imported", choices=("yes", "no"),
            )  # fmt: skip
            if answer.casefold() in YES:
                column = names[cell.column]
                fields = {column.field: [(column, cell)]}
                found.append(Raw(grid=table.grid, row=row, fields=fields, table=table))
    return found


def _is_remark(cell: Cell) -> bool:
    return len(cell.text.split()) > 3 or cell.text.endswith((".", ":", "!"))


def _no_animals(study: Study, sources: Mapping[str, str]) -> Fault:
    asked = study.asker.questions()
    return Fault(
        where=Where(file=", ".join(sources)),
        found="no table of animals" if not asked else "no animal that is sure",
        expected="a header row with a name or id and a sex or morph, and rows of animals below it",
        repair="Nothing was written. Give the sheet such a header, or name the columns in "
        "`import.yaml`; the docs on importing list the words that are known.",
    )


def _card_over(table: Table, animals: Sequence[Settled]) -> str:
    """Return the animal of the card that a table of weights without names stands under."""
    if table.of("id", "name", "tub"):
        return ""
    over = [
        each
        for each in animals
        if each.raw.table is None
        and each.raw.grid is table.grid
        and each.raw.row < table.header_row
    ]
    return max(over, key=lambda each: each.raw.row).key if over else ""


def _across(study: Study, grid: Grid, register: Register) -> list[Weighing]:
    for row, cells in grid.rows():
        columns = [
            (cell.column, raw)
            for cell in cells
            if cell.column > 1 and (raw := register.exactly(cell.text)) is not None
        ]
        if len({raw.key for _, raw in columns}) >= 2 and len(columns) == len(
            {raw.key for _, raw in columns}
        ):
            return weighings.animals_across(study, grid, row, columns)
    return []


def _animal_row(study: Study, animal: Settled, heaps: Sequence[Weighing]) -> dict[str, str]:
    values = dict(animal.values)
    undated = [each for each in heaps if each.animal == animal.key and not each.day]
    partial = [each for each in heaps if each.animal == animal.key and 0 < len(each.day) < 10]
    values["weight_g"] = f"{undated[0].grams:.10g}" if undated else ""
    notes = [values["notes"]]
    notes += [f"weighed {each.grams:.10g} g {each.day}" for each in partial]
    price = animal.raw.cell("price")
    if price is not None:
        column = animal.raw.column("price")
        asked = prices.asked_for(
            study, animal.raw.grid, price, animal.key, column.heading if column else ""
        )
        notes += [f"asking price {asked}"] if asked else []
    values["notes"] = "; ".join(note for note in notes if note)
    return values


def _weight_row(weighing: Weighing) -> dict[str, str]:
    return {
        "animal": weighing.animal,
        "date": weighing.day,
        "grams": f"{weighing.grams:.10g}",
        "note": weighing.note,
    }
