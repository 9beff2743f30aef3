"""Animals under an overlay: rows changed or added, weights moved, each change old to new."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from brumal.records.animal_table import ANIMALS, read_animals
from brumal.records.animals import GONE, Animal, Weighing
from brumal.records.cells import quote
from brumal.records.faults import Fault, Where, is_error
from brumal.records.files import Source
from brumal.records.folder import SeasonRecords
from brumal.records.known_ids import KnownIds, fold
from brumal.records.overlay import Overlay
from brumal.records.overlay_tree import NOT_THERE, Change
from brumal.records.plain_values import Step, parse_grams, parse_step, plain_number
from brumal.records.tables import Row, Table
from brumal.records.yaml_text import Path

NEW_NEEDS = ("sex", "morph")
FIGURES = ("condition", "max_pairings", "expected_eggs")
"""Columns beside the weight that may be changed by a difference."""


@dataclass(slots=True)
class Stock:
    """Animals and weighings under overlays, with what changed and what is wrong.

    ``laid`` is the last day on which a female laid by the clutches table.
    """

    animals: dict[str, Animal]
    weighings: tuple[Weighing, ...]
    laid: Mapping[str, date]
    changes: list[Change]
    faults: list[Fault]


def lay_animals(records: SeasonRecords, overlays: tuple[Overlay, ...]) -> Stock:
    """Lay the animal part of overlays over a season's records, which stay as they are."""
    laid: dict[str, date] = {}
    for clutch in records.clutches:
        if clutch.laid is not None and clutch.eggs != 0:
            laid[clutch.dam] = max(clutch.laid, laid.get(clutch.dam, clutch.laid))
    stock = Stock({a.id: a for a in records.animals}, records.weighings, laid, [], [])
    for overlay in overlays:
        for id, columns in overlay.animals.items():
            cells = {column: _cell(value) for column, value in columns.items()}
            if id in stock.animals:
                _change(stock, overlay, stock.animals[id], cells)
            else:
                _add(stock, overlay, id, cells)
    return stock


def _cell(value: object) -> str:
    return "" if value is None else " ".join(str(value).split())


def _add(stock: Stock, overlay: Overlay, id: str, cells: Mapping[str, str]) -> None:
    where = overlay.where(("animals", id))
    close = KnownIds(stock.animals).nearest(id)
    hint = f"Did you mean {quote(close)}?" if close is not None else ""
    lacking = [column for column in NEW_NEEDS if not cells.get(column)]
    if lacking or (close is not None and fold(close) == fold(id)):
        needs = "an id of the animals table, or a new animal with sex and morph"
        stock.faults.append(Fault(where=where, found=quote(id), expected=needs, repair=hint))
        return
    last = max((animal.row for animal in stock.animals.values()), default=1)
    animal, faults = _read(overlay, id, cells, row=last + 1)
    stock.faults += faults
    if animal is None or any(is_error(fault) for fault in faults):
        return
    stock.animals[id] = animal
    told = [cells[column] for column in ("name", "sex", "morph", "status") if cells.get(column)]
    path = ("animals", id)
    words = f"added ({', '.join(told)})"
    stock.changes.append(
        Change(where=f"animals.{id}", old=NOT_THERE, new=words, by=overlay.name, path=path)
    )


def _change(stock: Stock, overlay: Overlay, animal: Animal, cells: Mapping[str, str]) -> None:
    cells = _moved_figures(stock, overlay, animal, cells)
    cells = _moved_weight(stock, overlay, animal, cells)
    written = _cells_of(animal)
    changed, faults = _read(overlay, animal.id, {**written, **cells}, animal.row)
    _, before = _read(overlay, animal.id, written, animal.row)
    stock.faults += [fault for fault in faults if fault not in before]
    if changed is None:
        return
    # Columns that the overlay leaves alone keep their value to the last digit.
    blank = animal.blank.difference(cells) | changed.blank.intersection(cells)
    kept = {column: getattr(changed, column) for column in cells}
    new = replace(animal, **kept, blank=blank)
    stock.animals[animal.id] = new
    stock.changes += [replace(each, by=overlay.name) for each in row_changes(animal, new)]
    _check_weight(stock, overlay, new, cells)


def row_changes(old: Animal, new: Animal) -> list[Change]:
    """Return every column in which two rows of one animal differ."""
    before, after = _cells_of(old), _cells_of(new)
    return [
        _changed(new.id, column, before[column], after[column])
        for column in before
        if before[column] != after[column]
    ]


def _changed(id: str, column: str, old: str, new: str) -> Change:
    return Change(
        where=f"animals.{id}.{column}",
        old=old or "not known",
        new=new or "not known",
        path=("animals", id, column),
    )


def _moved_figures(
    stock: Stock, overlay: Overlay, animal: Animal, cells: Mapping[str, str]
) -> dict[str, str]:
    """Make differences (``+1``, ``-10%``) to the figures in an animal's row."""
    found = dict(cells)
    for column in FIGURES:
        step = parse_step(cells.get(column, ""))
        if step is None:
            continue
        old = getattr(animal, column)
        if old is None:
            _no_figure(stock, overlay, ("animals", animal.id, column), cells[column])
            del found[column]
        else:
            found[column] = plain_number(step.of(float(old)))
    return found


def _no_figure(stock: Stock, overlay: Overlay, path: Path, text: str) -> None:
    stock.faults.append(
        Fault(
            where=overlay.where(path),
            found=quote(text),
            expected="a figure: there is none yet that could be more or less",
            repair="Without a sign it is the figure itself.",
        )
    )


def _weight_step(text: str) -> tuple[Step | None, str]:
    """Read a difference of weight: grams, or per cent of each weighing."""
    if text.endswith("%"):
        return parse_step(text), ""
    grams, repair = parse_grams(text)
    return (None if grams is None else Step(grams, percent=False)), repair


def _moved_weight(
    stock: Stock, overlay: Overlay, animal: Animal, cells: dict[str, str]
) -> dict[str, str]:
    """Put a weight where it counts and return the cells that are left to read.

    A signed weight (``+50``, ``-5%``) is a difference at every weighing that tells of now: those
    since she last laid. A weight without a day of its own takes the place of the animal's last
    weighing, be it in the weights table or in its row.
    """
    text = cells.get("weight_g", "")
    last = _last_weighing(stock.weighings, animal)
    if text.startswith(("+", "-")):
        now = animal.weight_g if last is None else last.grams
        step, repair = _weight_step(text)
        if now is None or step is None:
            where = overlay.where(("animals", animal.id, "weight_g"))
            expected = "grams more or less than a weight on record, such as +50"
            stock.faults.append(
                Fault(where=where, found=quote(text), expected=expected, repair=repair)
            )
            return {column: cell for column, cell in cells.items() if column != "weight_g"}
        cells["weight_g"] = text = plain_number(step.of(now))
        _shift(stock, animal, last, step)
    if not text or "weighed" in cells or last is None:
        return cells
    read, faults = _read(overlay, animal.id, {"weight_g": text}, animal.row)
    stock.faults += [
        fault for fault in faults if fault.where.column == f"animals.{animal.id}.weight_g"
    ]
    del cells["weight_g"]
    if read is None or read.weight_g is None or read.weight_g == last.grams:
        return cells
    stock.weighings = tuple(
        replace(each, grams=read.weight_g) if each is last else each for each in stock.weighings
    )
    on = last.date.isoformat()
    old, new = plain_number(last.grams), plain_number(read.weight_g)
    change = _changed(animal.id, "weight_g", f"{old} (weighed {on})", new)
    stock.changes.append(replace(change, by=overlay.name))
    return cells


def _shift(stock: Stock, animal: Animal, last: Weighing | None, step: Step) -> None:
    """Move the weighings that tell of now, but the ``last`` one, which is set by itself."""
    since = max(filter(None, (stock.laid.get(animal.id), animal.last_laid)), default=date.min)
    stock.weighings = tuple(
        replace(each, grams=step.of(each.grams))
        if each.animal == animal.id and each.date > since and each is not last
        else each
        for each in stock.weighings
    )


def animal_value(records: SeasonRecords, id: str, column: str) -> str | None:
    """Return one column of an animal as text, the weight as it counts; ``None`` if not known."""
    animal = next((each for each in records.animals if each.id == id), None)
    if animal is None or column not in ANIMALS.columns:
        return None
    last = _last_weighing(records.weighings, animal) if column == "weight_g" else None
    return _cell_of(getattr(animal, column) if last is None else last.grams) or None


def _last_weighing(weighings: Iterable[Weighing], animal: Animal) -> Weighing | None:
    """Return the weighing that counts as the last one, ``None`` where the animal's row does."""
    own = [each for each in weighings if each.animal == animal.id]
    last = max(own, key=lambda each: (each.date, each.row), default=None)
    in_row = animal.weight_g is not None and animal.weighed is not None
    if last is None or (in_row and animal.weighed > last.date):  # type: ignore[operator]
        return None
    return last


def _check_weight(stock: Stock, overlay: Overlay, animal: Animal, cells: Mapping[str, str]) -> None:
    """Note a dated weight that a later weighing overrules: it would change nothing."""
    if not {"weight_g", "weighed"} & set(cells) or animal.weighed is None:
        return
    later = [
        each.date
        for each in stock.weighings
        if each.animal == animal.id and each.date >= animal.weighed
    ]
    if later:
        stock.faults.append(
            Fault(
                where=overlay.where(("animals", animal.id, "weighed")),
                found=f"a weight of {animal.weighed.isoformat()}",
                expected=f"a day after the last weighing on record ({max(later).isoformat()})",
                repair="It would touch nothing. Without `weighed` it takes that weighing's place.",
            )
        )


def _read(
    overlay: Overlay, id: str, cells: Mapping[str, str], row: int
) -> tuple[Animal | None, list[Fault]]:
    """Read one row of the animals table whose faults stand in the overlay."""
    table = Table(source=Source(overlay.file, b""), rows=(Row(row, {**cells, "id": id}),))
    animals, faults = read_animals(table)
    placed = [_placed(overlay, id, fault) for fault in faults]
    return (animals[0] if animals else None), placed


def _placed(overlay: Overlay, id: str, fault: Fault) -> Fault:
    return replace(fault, where=overlay.where(("animals", id, str(fault.where.column))))


def _cells_of(animal: Animal) -> dict[str, str]:
    """Write an animal as its row of the table."""
    return {
        column: ""
        if column in animal.blank
        else animal.hatched_written
        if column == "hatched"
        else _cell_of(getattr(animal, column))
        for column in ANIMALS.columns
        if column != "id"
    }


def _cell_of(value: object) -> str:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return plain_number(value)
    return "" if value is None else str(value)


def joined(before: Animal | None, after: Animal) -> bool:
    """Say whether an animal comes into the collection: added, or no longer outside it."""
    was_in = before is not None and before.status not in GONE
    return not was_in and after.status not in GONE


def joining(before: Iterable[Animal], after: Iterable[Animal]) -> tuple[str, ...]:
    """Return the ids of animals that come into the collection."""
    was = {animal.id: animal for animal in before}
    return tuple(animal.id for animal in after if joined(was.get(animal.id), animal))


def animal_place(overlays: tuple[Overlay, ...], id: str, column: str | None) -> Where | None:
    """Return where an overlay touches an animal, that column of it if it can be told."""
    touching = [overlay for overlay in overlays if id in overlay.animals]
    for overlay in reversed(touching):
        if column in overlay.animals[id]:
            return overlay.where(("animals", id, str(column)))
    return touching[-1].where(("animals", id)) if touching else None
