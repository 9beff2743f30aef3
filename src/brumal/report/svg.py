"""Pictures as inline SVG: a thin builder over the standard library's XML elements."""

from __future__ import annotations

import math
from xml.etree import ElementTree as Xml

from brumal.report.words import visible


class Picture:
    """One SVG picture with a title and a description for screen readers.

    Coordinates are user units; ``width`` by ``height`` is the view box, and the picture scales to
    the width of the page. Colours come from the page's CSS through ``class`` names, so that light,
    dark and print each set their own; text is escaped by the XML writer.
    """

    def __init__(self, width: float, height: float, title: str, description: str) -> None:
        self.root = Xml.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": f"0 0 {_number(width)} {_number(height)}",
                "role": "img",
                "class": "picture",
            },
        )
        Xml.SubElement(self.root, "title").text = visible(title)
        Xml.SubElement(self.root, "desc").text = visible(description)

    def add(self, tag: str, text: str | None = None, **attributes: str | float) -> Xml.Element:
        """Add an element; ``class_`` and ``stroke_width`` become ``class`` and ``stroke-width``."""
        named = {
            key.rstrip("_").replace("_", "-"): value if isinstance(value, str) else _number(value)
            for key, value in attributes.items()
        }
        element = Xml.SubElement(self.root, tag, named)
        element.text = None if text is None else visible(text)
        return element

    def text(
        self, x: float, y: float, words: str, class_: str = "label", anchor: str = "start"
    ) -> None:
        """Write ``words`` with their baseline at (x, y)."""
        self.add("text", words, x=x, y=y, class_=class_, text_anchor=anchor)

    def __str__(self) -> str:
        return Xml.tostring(self.root, encoding="unicode")


def shorten(words: str, most: int) -> str:
    """Cut ``words`` to ``most`` characters for a place of fixed width, an ellipsis at the cut.

    The whole text belongs into the description or the table beside the picture.
    """
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"


def _number(value: float) -> str:
    """Write a coordinate with at most two decimals, so that equal pictures are equal bytes."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def ticks(low: float, high: float, least: float = 1e-9) -> list[float]:
    """Return at most six round figures between two, ``least`` or more apart.

    Steps are 1, 2 or 5 times a power of ten.
    """
    rough = max((high - low) / 5, least)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(size * power for size in (1, 2, 5, 10) if size * power >= rough * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]
