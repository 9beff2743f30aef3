"""The kinship of a collection as a heat map.

Kinship is told by the size of a square as well as by its strength of colour.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from brumal.pedigree.kinship import KinshipBlock
from brumal.pedigree.ordering import pooled
from brumal.report.kin.pictures import cut
from brumal.report.kin.words import coefficient, count
from brumal.report.svg import Picture

MOST_CELLS = 60
SIDE, LABELS = 600.0, 170.0
OWN = 0.5
"""Kinship of an animal that is not inbred with itself: a full square."""

KIN = ("with itself", "full siblings", "half siblings", "first cousins", "once removed")


def heat_picture(block: KinshipBlock, names: Mapping[str, str]) -> Picture:
    """Draw the kinship of a collection in the order of ``block``, lower half and diagonal.

    The area of each square grows with the kinship. More than ``MOST_CELLS`` animals are pooled: a
    square is then the mean over neighbouring animals, a full one the highest of these means.
    """
    groups, means = pooled(block, MOST_CELLS)
    pool = max((len(group) for group in groups), default=1)
    full = OWN if pool == 1 else float(means.max())
    cell = SIDE / max(len(groups), 12)
    picture = Picture(
        SIDE + LABELS,
        cell * max(len(groups), 12) + 10.0,
        "Kinship in the collection",
        _heat_told(block, names),
    )
    for row, group in enumerate(groups):
        for column in range(row + 1):
            _draw_cell(picture, column * cell, row * cell, cell, float(means[row, column]) / full)
        label = names[group[0]] if pool == 1 else f"{row * pool + 1} to {row * pool + len(group)}"
        x, y = (row + 1) * cell + 4.0, (row + 0.5) * cell + 3.5
        picture.text(x, y, cut(label, LABELS), "small")
        line = f"M 0 {(row + 1) * cell:.2f} H {(row + 1) * cell:.2f}"
        picture.add("path", d=line, class_="axis", stroke_width=0.4)
    _draw_legend(picture, full)
    return picture


def _draw_cell(picture: Picture, x: float, y: float, cell: float, strength: float) -> None:
    """Draw a square whose area is ``strength`` of the cell's (a full one at most)."""
    if strength <= 0.0:
        return
    strength = min(1.0, strength)
    side = 0.94 * cell * strength**0.5
    inset = (cell - side) / 2
    picture.add(
        "rect",
        x=x + inset,
        y=y + inset,
        width=side,
        height=side,
        class_="fill-one",
        fill_opacity=0.4 + 0.6 * strength,
    )


def _draw_legend(picture: Picture, full: float) -> None:
    x, y, cell = SIDE - 40.0, 16.0, 24.0
    picture.text(x, y, "kinship", "small faint")
    for at, kin in enumerate(KIN):
        phi = full / 2**at
        top = y + 6.0 + at * cell
        _draw_cell(picture, x, top, cell, phi / full)
        words = f"{phi:.4g}: {kin}" if full == OWN else f"{phi:.4f}"
        picture.text(x + cell + 6.0, top + cell / 2 + 3.5, words, "small")


def pool_line(animals: int) -> str:
    """Say that a square of the heat map stands for several animals; empty where it does not."""
    pool = -(-animals // MOST_CELLS)
    return f" Each square is the mean over {pool} by {pool} animals." if pool > 1 else ""


def _heat_told(block: KinshipBlock, names: Mapping[str, str]) -> str:
    told = f"{count(len(block.ids), 'animal')}, kin beside each other."
    told += pool_line(len(block.ids))
    between = np.tril(block.matrix, -1)
    if between.size and between.max() > 0.0:
        row, column = divmod(int(between.argmax()), len(block.ids))
        told += (
            f" The closest are {names[block.ids[column]]} and {names[block.ids[row]]}, "
            f"{coefficient(float(between.max()))}."
        )
    return told
