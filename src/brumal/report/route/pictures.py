"""A route as a picture: generations downward, each pair over its young, the odds on the lines.

Drawn is the line of outcomes that brings most of the chance. Females have round boxes, males square
ones, the target a double frame. A phone has no room for a whole route: it shows a picture a pair.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from xml.etree import ElementTree as Xml

from brumal.records.animals import Sex
from brumal.report.svg import Picture, shorten
from brumal.report.words import odds, percent
from brumal.routes.route import Kept, Route, Step

ROW, BOX_HEIGHT, LEAST_WIDTH, SLOT = 118.0, 44.0, 640.0, 176.0
LETTER, SMALL_LETTER = 6.4, 5.4
PHONE = 320.0
"""Width of the picture of one pair."""
TARGET = "target"


@dataclass(slots=True, kw_only=True)
class _Box:
    """An animal of the picture: its words, its row, and the pair it comes from."""

    lines: tuple[str, str]
    sex: Sex | None
    row: int = 0
    x: float = 0.0
    parents: list[tuple[str, str, str]] = field(default_factory=list)


def route_picture(route: Route, target: str, number: int) -> Picture:
    """Draw the main line of a route."""
    boxes = _boxes(route, target)
    rows = _rows(boxes)
    width = max(LEAST_WIDTH, SLOT * max(len(row) for row in rows))
    for row in rows:
        row.sort(key=lambda name: (_above(boxes, name), name))
        for place, name in enumerate(row):
            boxes[name].x = width * (place + 0.5) / len(row)
    picture = Picture(
        width,
        ROW * (len(rows) - 1) + BOX_HEIGHT + 20.0,
        f"Route {number} to {target}",
        _described(boxes),
    )
    _draw(picture, boxes, width / max(len(row) for row in rows))
    return picture


def _draw(picture: Picture, boxes: dict[str, _Box], slot: float) -> None:
    """Draw lines, odds and boxes, in this order."""
    for box in boxes.values():
        for parents in box.parents:
            _draw_lines(picture, boxes, box, parents)
    for box in boxes.values():
        for parents in box.parents:
            _draw_odds(picture, boxes, box, parents)
    for name, box in boxes.items():
        _draw_box(picture, box, min(slot - 12.0, 190.0), name == TARGET)


def pair_pictures(route: Route, target: str, number: int) -> list[Picture]:
    """Draw each pair of the main line over its young, the first generation first."""
    boxes = _boxes(route, target)
    young: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for name, box in sorted(boxes.items(), key=lambda each: (each[1].row, each[0])):
        for dam, sire, told in box.parents:
            young.setdefault((dam, sire), []).append((name, told))
    return [
        _pair_picture(boxes, pair, own, f"Route {number} to {target}, pair {place}")
        for place, (pair, own) in enumerate(young.items(), 1)
    ]


def _pair_picture(
    boxes: dict[str, _Box], pair: tuple[str, str], young: list[tuple[str, str]], title: str
) -> Picture:
    dam, sire = pair
    own = {
        parent: replace(boxes[parent], row=0, x=PHONE * place, parents=[])
        for parent, place in ((dam, 0.25), (sire, 0.75))
    }
    # Two young to a row; those of a row further down hang below the others.
    for place, (name, told) in enumerate(young):
        first = place - place % 2
        beside = len(young[first : first + 2])
        x = PHONE * (place % 2 + 0.5) / beside
        own[name] = replace(boxes[name], row=1 + place // 2, x=x, parents=[(dam, sire, told)])
    rows = max(box.row for box in own.values())
    picture = Picture(PHONE, ROW * rows + BOX_HEIGHT + 20.0, title, _described(own))
    _draw(picture, own, PHONE / 2)
    return picture


def _boxes(route: Route, target: str) -> dict[str, _Box]:
    """Return the animals of the main line by name."""
    steps = [step for step in route.steps if step.main]
    kept = {each.name: (step, each) for step in steps for each in step.keep if each.main}
    finals = [step for step in steps if step.target > 0]
    boxes: dict[str, _Box] = {}
    needed = [name for step in finals for name in (step.dam, step.sire)]
    while needed:
        name = needed.pop(0)
        if name in boxes:
            continue
        step, young = kept.get(name, (None, None))
        boxes[name] = _box(route, name, young)
        if step is not None and young is not None:
            told = f"{odds(young.odds)}, {percent(young.chance)}"
            boxes[name].parents.append((step.dam, step.sire, told))
            needed += [step.dam, step.sire]
    _set_rows(boxes, finals)
    boxes[TARGET] = _Box(lines=(target, _when(finals)), sex=None)
    for dam, sire in dict.fromkeys((step.dam, step.sire) for step in finals):
        own = [step for step in finals if (step.dam, step.sire) == (dam, sire)]
        boxes[TARGET].parents.append((dam, sire, odds(own[0].target)))
    boxes[TARGET].row = 1 + max((box.row for box in boxes.values()), default=0)
    return boxes


def _when(finals: list[Step]) -> str:
    years = sorted({step.year for step in finals})
    return f"{years[0]}" if years[0] == years[-1] else f"{years[0]} to {years[-1]}"


def _box(route: Route, name: str, young: Kept | None) -> _Box:
    if young is not None:
        return _Box(lines=(name, young.look), sex=young.sex)
    founder = next(each for each in route.frame.founders if each.id == name)
    return _Box(lines=(route.labels[name], route.morphs[name]), sex=founder.sex)


def _set_rows(boxes: dict[str, _Box], finals: list[Step]) -> None:
    """Set young below their parents, and founders in the row of their first mate."""
    for _ in boxes:
        for box in boxes.values():
            for dam, sire, _told in box.parents:
                box.row = max(box.row, boxes[dam].row + 1, boxes[sire].row + 1)
    pairs = [(d, s) for box in boxes.values() for d, s, _ in box.parents]
    pairs += [(step.dam, step.sire) for step in finals]
    for name, box in boxes.items():
        if not box.parents:
            mates = [boxes[d if s == name else s].row for d, s in pairs if name in (d, s)]
            box.row = min(mates, default=0)


def _rows(boxes: dict[str, _Box]) -> list[list[str]]:
    rows: list[list[str]] = [[] for _ in range(1 + max(box.row for box in boxes.values()))]
    for name, box in boxes.items():
        rows[box.row].append(name)
    return [row for row in rows if row]


def _above(boxes: dict[str, _Box], name: str) -> float:
    """Return the mean place of the parents; founders stand by the young of their pairs."""
    own = boxes[name].parents
    if own:
        return sum(boxes[p].x for d, s, _ in own for p in (d, s)) / (2 * len(own))
    order = list(boxes)
    return float(
        min(
            (order.index(n) for n, b in boxes.items() for d, s, _ in b.parents if name in (d, s)),
            default=0,
        )
    )


def _knot(boxes: dict[str, _Box], parents: tuple[str, str, str]) -> tuple[float, float]:
    """Return the point where the lines of two parents meet."""
    dam, sire = boxes[parents[0]], boxes[parents[1]]
    lowest = max(dam.row, sire.row)
    return (dam.x + sire.x) / 2, 10.0 + ROW * lowest + BOX_HEIGHT + 26.0


def _draw_lines(
    picture: Picture, boxes: dict[str, _Box], box: _Box, parents: tuple[str, str, str]
) -> None:
    """Draw the lines from both parents to a knot and from there to the young."""
    dam, sire, _ = parents
    top = 10.0 + ROW * box.row
    knot_x, knot_y = _knot(boxes, parents)
    for parent in (boxes[dam], boxes[sire]):
        foot = 10.0 + ROW * parent.row + BOX_HEIGHT
        picture.add(
            "path",
            d=f"M {parent.x:.2f} {foot:.2f} L {knot_x:.2f} {knot_y:.2f}",
            class_="one",
            stroke_width=1.5,
        )
    picture.add(
        "path",
        d=f"M {knot_x:.2f} {knot_y:.2f} L {box.x:.2f} {top:.2f}",
        class_="one",
        stroke_width=1.5,
    )
    picture.add("circle", cx=knot_x, cy=knot_y, r=4, class_="fill-one")


def _draw_odds(
    picture: Picture, boxes: dict[str, _Box], box: _Box, parents: tuple[str, str, str]
) -> None:
    """Write the odds: above each young its own, those of a target beside the knot of its pair."""
    told = parents[2]
    knot_x, knot_y = _knot(boxes, parents)
    above = (box.x + 8.0, 10.0 + ROW * box.row - 9.0)
    at = (knot_x + 9.0, knot_y + 5.0) if box.sex is None else above
    picture.add(
        "rect",
        x=at[0] - 2.0,
        y=at[1] - 12.0,
        width=5.6 * len(told) + 4.0,
        height=16.0,
        class_="paper",
    )
    picture.text(*at, told, "label")


def _draw_box(picture: Picture, box: _Box, width: float, target: bool) -> None:
    left, top = box.x - width / 2, 10.0 + ROW * box.row
    frames = ((0.0, "paper two"), (3.0, "two")) if target else ((0.0, "paper one"),)
    for inset, kind in frames:
        drawn = picture.add(
            "rect",
            x=left + inset,
            y=top + inset,
            width=width - 2 * inset,
            height=BOX_HEIGHT - 2 * inset,
            rx=18.0 - inset if box.sex is Sex.FEMALE else 0.0,
            class_=kind,
            stroke_width=1.5,
        )
        Xml.SubElement(drawn, "title").text = ": ".join(box.lines)
    for line, y, letter, kind in (
        (box.lines[0], 18.0, LETTER, "label"),
        (box.lines[1], 34.0, SMALL_LETTER, "small"),
    ):
        most = max(4, int((width - 14.0) / letter))
        picture.text(box.x, top + y, shorten(line, most), kind, "middle")


def _described(boxes: dict[str, _Box]) -> str:
    told = [
        f"{boxes[dam].lines[0]} with {boxes[sire].lines[0]}: {box.lines[0]} {box.lines[1]} ({odds})"
        for box in boxes.values()
        for dam, sire, odds in box.parents
    ]
    return f"{'; '.join(told)}."
