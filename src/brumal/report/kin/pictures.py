"""The kinship of a pair as pictures: its lines of descent, and the arcs of its ancestors.

Nothing is told by colour alone: sexes differ by shape, common ancestors by frame and number,
amounts by width and size.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree as Xml

from brumal.pedigree.pair import KinPair
from brumal.records.animals import Sex
from brumal.report.kin.words import coefficient, count
from brumal.report.svg import Picture, shorten

MOST_BOXES = 36
MOST_ARCS = 8

BOX_HEIGHT, ROW, LETTER = 36.0, 78.0, 6.6

Edge = tuple[str, str]
Point = tuple[float, float]
Slot = str | tuple[str, str, int]


@dataclass(frozen=True, slots=True)
class _Layout:
    """Centres of the boxes by id, the points that each step's line passes, the picture's size.

    A line that passes rows without a box of its own has a point between the boxes there.
    """

    centres: Mapping[str, Point]
    ways: Mapping[Edge, tuple[Point, ...]]
    box: float
    width: float
    height: float


def lines_picture(pair: KinPair) -> Picture | None:
    """Draw the lines of descent of a pair; ``None`` without paths, or with too many to draw."""
    flow = pair.paths.by_step()
    names = sorted({name for edge in flow for name in edge} | {pair.one.id, pair.other.id})
    if not flow or len(names) > MOST_BOXES:
        return None
    rows = _rows(pair, flow)
    layout = _layout(rows, sorted(flow))
    picture = Picture(
        layout.width,
        layout.height,
        f"Lines of descent of {pair.names[pair.one.id]} and {pair.names[pair.other.id]}",
        _lines_told(pair),
    )
    for edge, given in sorted(flow.items()):
        _draw_edge(picture, layout.ways[edge], given / pair.phi)
    numbers = {
        end: number for number, source in enumerate(pair.paths.sources, 1) for end in source.ends
    }
    for name in names:
        _draw_box(picture, layout, name, pair, numbers.get(name))
    return picture


def arcs_picture(pair: KinPair) -> Picture | None:
    """Draw one arc between the two animals for each source, as wide as its share of kinship."""
    sources = pair.paths.sources
    if not sources or pair.one.id == pair.other.id:
        return None
    arcs = [
        (f"{number}. {' ~ '.join(pair.names[end] for end in source.ends)}", source.contribution)
        for number, source in enumerate(sources[:MOST_ARCS], 1)
    ]
    if len(sources) > MOST_ARCS:
        arcs.append((f"{len(sources) - MOST_ARCS} more", pair.paths.after(MOST_ARCS)))
    width, gap, left, right = 640.0, 36.0, 60.0, 580.0
    base = gap * len(arcs) + 30.0
    told = "; ".join(f"{name}: {coefficient(given)}" for name, given in arcs)
    picture = Picture(width, base + 34.0, "What each common ancestor gives", f"{told}.")
    for place, (name, given) in enumerate(arcs):
        height = gap * (place + 1) - 4.0
        share = given / pair.phi
        line = f"M {left:g} {base:g} A {(right - left) / 2:g} {height:g} 0 0 1 {right:g} {base:g}"
        picture.add("path", d=line, class_="one", stroke_width=1.0 + 9.0 * share)
        words = f"{cut(name, 300.0)}  {coefficient(given)}"
        picture.text(width / 2, base - height - 6.0 - 4.5 * share, words, "label", "middle")
    for x, animal, anchor in ((left, pair.one.id, "start"), (right, pair.other.id, "end")):
        picture.add("circle", cx=x, cy=base, r=6, class_="fill-two")
        edge = 10.0 if anchor == "start" else width - 10.0
        picture.text(edge, base + 24.0, cut(pair.names[animal], 290.0), "label", anchor)
    return picture


def _rows(pair: KinPair, flow: Iterable[Edge]) -> list[list[str]]:
    """Return the animals row by row from the lowest: each parent above all of its young."""
    height = {name: 0 for edge in flow for name in edge}
    for _ in height:
        for young, parent in flow:
            height[parent] = max(height[parent], height[young] + 1)
    rows: list[list[str]] = [[] for _ in range(max(height.values()) + 1)]
    for name in sorted(height, key=lambda one: (one != pair.one.id, one)):
        rows[height[name]].append(name)
    return rows


def _layout(rows: list[list[str]], edges: list[Edge]) -> _Layout:
    """Spread each row evenly, ordered by the mean place of what it leads down to."""
    level = {name: at for at, row in enumerate(rows) for name in row}
    chains = {edge: _chain(edge, level) for edge in edges}
    slots: list[list[Slot]] = [list(row) for row in rows]
    below: dict[Slot, list[Slot]] = {}
    for (young, _), chain in chains.items():
        for at, slot in enumerate(chain[1:-1], start=level[young] + 1):
            slots[at].append(slot)
        for lower, upper in pairwise(chain):
            below.setdefault(upper, []).append(lower)
    widest = max(len(row) for row in slots)
    width, height = max(640.0, 126.0 * widest), ROW * (len(rows) - 1) + BOX_HEIGHT + 20.0
    places: dict[Slot, Point] = {}
    for at, row in enumerate(slots):
        means = {one: [places[under][0] for under in below.get(one, [])] for one in row}
        if at:
            row = sorted(row, key=lambda one: (sum(means[one]) / len(means[one]), str(one)))
        for place, slot in enumerate(row):
            x = width * (place + 0.5) / len(row)
            places[slot] = (x, height - 10.0 - BOX_HEIGHT / 2 - ROW * at)
    return _Layout(
        centres={name: places[name] for name in level},
        ways={edge: tuple(places[slot] for slot in chain) for edge, chain in chains.items()},
        box=min(150.0, width / widest - 14.0),
        width=width,
        height=height,
    )


def _chain(edge: Edge, level: Mapping[str, int]) -> list[Slot]:
    """Return the young, a gap (young, parent, row) in each row that the line passes, the parent."""
    young, parent = edge
    gaps: list[Slot] = [(young, parent, at) for at in range(level[young] + 1, level[parent])]
    return [young, *gaps, parent]


def _draw_edge(picture: Picture, way: tuple[Point, ...], share: float) -> None:
    """Draw a line from the top of the young's box to the foot of the parent's."""
    last = len(way) - 1
    line = f"M {way[0][0]:.2f} {way[0][1] - BOX_HEIGHT / 2:.2f}"
    for at, ((x1, y1), (x2, y2)) in enumerate(pairwise(way)):
        y1, y2 = y1 - BOX_HEIGHT / 2, y2 + BOX_HEIGHT / 2
        middle = (y1 + y2) / 2
        line += f" C {x1:.2f} {middle:.2f} {x2:.2f} {middle:.2f} {x2:.2f} {y2:.2f}"
        if at + 1 < last:
            line += f" V {y2 - BOX_HEIGHT:.2f}"
    picture.add("path", d=line, class_="one", stroke_width=0.8 + 6.0 * share)


def _draw_box(
    picture: Picture, layout: _Layout, name: str, pair: KinPair, number: int | None
) -> None:
    x, y = layout.centres[name]
    left, top = x - layout.box / 2, y - BOX_HEIGHT / 2
    sex = pair.sexes[name]
    round_by = 15.0 if sex is Sex.FEMALE else 0.0
    dashes = "4 3" if sex is None else "none"
    box = picture.add(
        "rect",
        x=left,
        y=top,
        width=layout.box,
        height=BOX_HEIGHT,
        rx=round_by,
        class_="paper two" if number else "paper one",
        stroke_width=1.5,
        stroke_dasharray=dashes,
    )
    Xml.SubElement(box, "title").text = pair.names[name]
    if number:
        picture.add(
            "rect",
            x=left + 3,
            y=top + 3,
            width=layout.box - 6,
            height=BOX_HEIGHT - 6,
            rx=max(0.0, round_by - 3.0),
            class_="two",
            stroke_dasharray=dashes,
        )
    label = f"{number}. {pair.names[name]}" if number else pair.names[name]
    picture.text(x, y + 4.0, cut(label, layout.box - 14.0), "label", "middle")


def _lines_told(pair: KinPair) -> str:
    ancestors = "; ".join(
        f"{number} {' and '.join(pair.names[end] for end in source.ends)}"
        for number, source in enumerate(pair.paths.sources, 1)
    )
    return f"{count(pair.paths.lines, 'path')}, over {ancestors}."


def cut(words: str, width: float) -> str:
    """Shorten words to the letters that fit into ``width``."""
    return shorten(words, max(4, int(width / LETTER)))
