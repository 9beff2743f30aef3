"""Cells of a CSV table that a spreadsheet program must read as text, never as a formula."""

from __future__ import annotations


def inert(*cells: str) -> list[str]:
    """Return the cells, those that would be read as a formula with a leading apostrophe."""
    return [f"'{cell}" if _is_formula(cell) else cell for cell in cells]


def _is_formula(cell: str) -> bool:
    start = cell.lstrip()[:1]
    signed = start in ("+", "-")
    return start in ("=", "@") or cell[:1] in ("\t", "\r") or (signed and _is_text(cell))


def _is_text(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return True
    return False
