"""Contrast of every colour of the pages, light, dark and printed, by WCAG 2.2."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

CSS = files("brumal.report").joinpath("templates/page.css").read_text("utf-8")
SCHEMES = {
    name: dict(re.findall(r"--(\w+): (#\w+)", block))
    for name, block in zip(
        ("light", "dark", "print"), re.findall(r":root \{(.*?)\}", CSS, re.S), strict=True
    )
}
TEXT, GRAPHIC = 4.5, 3.0


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 (definition in its glossary)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    shares = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_the_standards_own() -> None:
    """WCAG: 21 for black on white; #777 on white fails 4.5 by a hair, #767676 passes."""
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#777", "#fff") < 4.5 < contrast("#767676", "#ffffff")


@pytest.mark.parametrize("scheme", SCHEMES)
def test_every_colour_of_text_and_picture_stands_out(scheme: str) -> None:
    colours = SCHEMES[scheme]
    for paper in ("paper", "wash"):
        for ink in ("ink", "faint", "one", "two", "three", "stop"):
            assert contrast(colours[ink], colours[paper]) >= TEXT, (ink, paper)


def test_every_class_uses_a_colour_of_the_scheme() -> None:
    used = set(re.findall(r"var\(--(\w+)\)", CSS))
    assert used <= set(SCHEMES["light"])
    assert all(set(colours) == set(SCHEMES["light"]) for colours in SCHEMES.values())
    loose = re.sub(r":root \{.*?\}", "", CSS, flags=re.S)
    assert not re.findall(r"#[0-9a-fA-F]{3,6}\b", loose)


def test_only_lines_between_rows_may_be_pale() -> None:
    """``--line`` is decoration: nothing that tells anything is drawn or written in it."""
    users = re.findall(r"([^{}]+)\{[^{}]*var\(--line\)[^{}]*\}", CSS)
    named = {part.strip() for user in users for part in user.split(",")}
    assert named <= {"h2", "th", "td", "footer", ".picture .axis", ".stack tr"}
