"""Body condition in a keeper's book, where it is told on the scale from 1 to 5."""

from __future__ import annotations

from brumal.importing.collect import Raw
from brumal.importing.grids import Cell, Grid
from brumal.importing.study import Study
from brumal.importing.tables import Column
from brumal.importing.words import is_not_known

LEAST, MOST = 1.0, 5.0


def condition_of(study: Study, raw: Raw) -> str:
    """Return an animal's body condition from 1 (thin) to 5 (obese), blank where it is asked."""
    pairs = raw.fields.get("condition", [])
    if not pairs or is_not_known(pairs[0][1].text):
        return ""
    column, cell = pairs[0]
    read = _score(cell.text)
    if read and not _of_another_scale(study, raw.grid, column):
        return read
    answer = study.asker.ask(
        "scale",
        "condition",
        raw.grid,
        [cell],
        item=raw.key,
        column=column.heading,
        text="Not body condition from 1 (thin) over 3 (ideal) to 5 (obese), or a column that also "
        "has higher figures. Which score is it?",
        until="left blank and not planned",
    )
    return study.use("condition", raw.key, answer, _score)


def _figure(text: str) -> float | None:
    try:
        return float(text.strip().removesuffix("/5").replace(",", "."))
    except ValueError:
        return None


def _score(text: str) -> str:
    found = _figure(text)
    return f"{found:g}" if found is not None and LEAST <= found <= MOST else ""


def _of_another_scale(study: Study, grid: Grid, column: Column) -> bool:
    """Say whether a figure of the column is above 5: then a 4 of it may be thin."""
    cells: list[Cell] = study.beside(grid, column)
    figures = (_figure(cell.text) for cell in cells)
    return any(figure is not None and figure > MOST for figure in figures)
