"""The reference of files names every column, every key and every default that the tool has."""

from __future__ import annotations

import re
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pydantic.fields import FieldInfo

from brumal.records.animal_table import ANIMALS
from brumal.records.animals import Status
from brumal.records.clutch_table import CLUTCHES
from brumal.records.event_table import EVENTS
from brumal.records.plain_values import plain_number
from brumal.records.settings import (
    Keep,
    Limits,
    Locks,
    SeasonDates,
    Settings,
    Values,
    Wanted,
)
from brumal.records.tables import TableShape
from brumal.records.weight_table import WEIGHTS

REFERENCE = (Path(__file__).parent.parent / "docs" / "files.md").read_text(encoding="utf-8")
SETTINGS = Settings(
    season=SeasonDates(name="x", pair_from=date(2026, 12, 1), pair_to=date(2027, 3, 31))
)


@pytest.mark.parametrize(
    "shape", [ANIMALS, WEIGHTS, CLUTCHES, EVENTS], ids=lambda shape: shape.stem
)
def test_every_column_is_described(shape: TableShape) -> None:
    section = REFERENCE.split(f"## {shape.stem}\n")[1].split("\n## ")[0]
    described = re.findall(r"`([a-z_]+)`", "\n".join(re.findall(r"^\|([^|]*)\|", section, re.M)))
    assert tuple(described) == shape.columns
    for column in shape.required:
        (row,) = [line for line in section.splitlines() if line.startswith(f"| `{column}`")]
        assert "required" in row


def test_every_status_is_named() -> None:
    assert all(f"`{status}`" in REFERENCE for status in Status)


def settings_keys() -> list[tuple[str, Any]]:
    found = []
    for group in fields(Settings):
        value = getattr(SETTINGS, group.name)
        if is_dataclass(value) and not isinstance(value, SeasonDates | Values):
            found += [
                (f"{group.name}.{key.name}", getattr(value, key.name)) for key in fields(value)
            ]
    return found


@pytest.mark.parametrize(("key", "default"), settings_keys(), ids=lambda value: str(value)[:40])
def test_every_key_stands_with_its_default(key: str, default: object) -> None:
    firsts = {line: line.split("|")[1] for line in REFERENCE.splitlines() if line.startswith("|")}
    rows = [line for line, first in firsts.items() if f"`{key}`" in first]
    assert len(rows) == 1
    if isinstance(default, int | float) and default != 0:
        assert f"`{plain_number(default)}`" in rows[0]
    elif isinstance(default, tuple) and default:
        shown = [each if isinstance(each, str) else plain_number(each) for each in default]
        assert f"`[{', '.join(shown)}]`" in rows[0]
    else:
        last = rows[0].split("|")[-2].strip()
        assert last.startswith(
            ("none", "no limit", "off", "by his", "as `", "forecast", "`0`", "0")
        )


@pytest.mark.parametrize("group", [Values, Wanted, Keep], ids=lambda group: group.__name__)
def test_every_key_of_a_wish_is_described(group: type) -> None:
    for key in fields(group):
        assert re.search(rf"`(values\.)?{key.name}[`.]", REFERENCE)


def test_the_defaults_that_cannot_be_left_out_say_so() -> None:
    wishes = REFERENCE.split("Each wish:")[1].split("\n### ")[0]
    for key in fields(Wanted):
        if key.default is MISSING or (
            isinstance(key.default, FieldInfo) and key.default.is_required()
        ):
            (row,) = [x for x in wishes.splitlines() if x.startswith(f"| `{key.name}`")]
            assert "must be given" in row


def test_no_key_is_described_that_does_not_exist() -> None:
    known = {key for key, _ in settings_keys()}
    groups = "|".join(sorted({key.split(".")[0] for key in known}))
    named = set(re.findall(rf"`((?:{groups})\.[a-zA-Z_]+)`", REFERENCE))
    assert named == known
    assert {f.name for f in fields(Limits)} <= {key.split(".")[1] for key in known}
    assert {f.name for f in fields(Locks)} <= {key.split(".")[1] for key in known}
