"""The kinship of a collection as a heat map.

Kinship is told by the size of a square as well as by its strength of colour.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from brumal.pedigree.kinship import KinshipBlock
from brumal.pedigree.ordering import pooled
from brumal.report.kin_pictures import cut
from brumal.report.kin_words import coefficient, count
from brumal.report.svg import Picture

MOST_CELLS = 60
SIDE, LABELS = 600.0, 170.0


def heat_picture(block: KinshipBlock, names: Mapping[str, str]) -> Picture:
    """Draw the kinship of a collection in the order of ``block``, lower half and diagonal.

    The area of each square grows with the kinship. More than ``MOST_CELLS`` animals are pooled: a
    square is then the mean over neighbouring animals.
    """
    groups, means = pooled(block, MOST_CELLS)
    pool = max((len(group) for group in groups), default=1)
    cell = SIDE / max(len(groups), 12)
    picture = Picture(
        SIDE + LABELS,
        cell * max(len(groups), 12) + 10.0,
        "Kinship in the collection",
        _heat_told(block, names, pool),
    )
    for row, group in enumerate(groups):
        for column in range(row + 1):
            _draw_cell(picture, column * cell, row * cell, cell, float(means[row, column]))
        label = names[group[0]] if pool == 1 else f"{row * pool + 1} to {row * pool + len(group)}"
        x, y = (row + 1) * cell + 4.0, (row + 0.5) * cell + 3.5
        picture.text(x, y, cut(label, LABELS), "small")
        line = f"M 0 {(row + 1) * cell:.2f} H {(row + 1) * cell:.2f}"
        picture.add("path", d=line, class_="axis", stroke_width=0.4)
    _draw_legend(picture)
    return picture


def _draw_cell(picture: Picture, x: float, y: float, cell: float, phi: float) -> None:
    """Draw a square whose area is the kinship's share of 1/2, the least with itself."""
    if phi <= 0.0:
        return
    strength = min(1.0, 2.0 * phi)
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


def _draw_legend(picture: Picture) -> None:
    x, y, cell = SIDE - 40.0, 16.0, 24.0
    picture.text(x, y, "kinship", "small faint")
    for at, (phi, words) in enumerate(
        (
            (0.5, "1/2: with itself"),
            (0.25, "1/4: full siblings, parent"),
            (0.125, "1/8: half siblings"),
            (0.0625, "1/16: first cousins"),
            (0.03125, "1/32"),
        )
    ):
        top = y + 6.0 + at * cell
        _draw_cell(picture, x, top, cell, phi)
        picture.text(x + cell + 6.0, top + cell / 2 + 3.5, words, "small")


def _heat_told(block: KinshipBlock, names: Mapping[str, str], pool: int) -> str:
    told = f"{count(len(block.ids), 'animal')}, kin beside each other."
    if pool > 1:
        told += f" Each square is the mean over {pool} by {pool} animals."
    between = np.tril(block.matrix, -1)
    if between.size and between.max() > 0.0:
        row, column = divmod(int(between.argmax()), len(block.ids))
        told += (
            f" The closest are {names[block.ids[column]]} and {names[block.ids[row]]}, "
            f"{coefficient(float(between.max()))}."
        )
    return told
