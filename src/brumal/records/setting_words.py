"""What each key of ``season.yaml`` expects, in words, read off the settings' own types."""

from __future__ import annotations

import types
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import date
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic.fields import FieldInfo

from brumal.records.plain_values import plain_number
from brumal.records.settings import IdPair, Label, Settings
from brumal.records.yaml_text import Path

_FAR = 1e6


def keys_at(path: Path) -> tuple[str, ...]:
    """Return the keys known in the group at ``path``; nothing where any name may stand."""
    for option in _options(_type_at(path)):
        if isinstance(option, type) and is_dataclass(option):
            return tuple(field.name for field in fields(option))
    return ()


def expected_at(path: Path) -> str:
    """Return what may stand at ``path``, in words."""
    return " or ".join(dict.fromkeys(_words(option) for option in _options(_type_at(path))))


def _type_at(path: Path) -> Any:
    current: Any = Settings
    for part in path:
        current = _inner(current, part)
    return current


def _inner(outer: Any, part: str | int) -> Any:
    """Return the type behind one key or place of a type; ``Any`` where there is none."""
    for option in _options(outer):
        if isinstance(option, type) and is_dataclass(option):
            hints = _hints(option)
            if part in hints:
                return hints[str(part)]
        bare = _bare(option)
        arguments = get_args(bare)
        if get_origin(bare) is dict:
            return arguments[1]
        if get_origin(bare) is tuple and isinstance(part, int):
            last = 0 if Ellipsis in arguments else len(arguments) - 1
            return arguments[min(part, last)]
    return Any


@cache
def _hints(group: type) -> dict[str, Any]:
    return get_type_hints(group, include_extras=True)


def _bare(option: Any) -> Any:
    """Return a type without its bounds."""
    return get_args(option)[0] if get_origin(option) is Annotated else option


def _options(annotation: Any) -> Iterator[Any]:
    """Yield the members of a union, ``None`` left out; any other type is its own only member."""
    if get_origin(annotation) in (Union, types.UnionType):
        for member in get_args(annotation):
            if member is not type(None):
                yield from _options(member)
    else:
        yield annotation


def _words(option: Any) -> str:
    origin, arguments = get_origin(option), get_args(option)
    if origin is Annotated and get_origin(arguments[0]) in (tuple, Literal):
        return _words(arguments[0])
    if origin is Annotated:
        return _bounded(arguments[0], arguments[1:])
    if option is date:
        return "a date as year-month-day, such as 2026-12-01"
    if origin is tuple and Ellipsis not in arguments:
        return _together(option)
    if origin is tuple:
        return f"a list in which each entry is {_words(arguments[0])}"
    if origin is Literal:
        return " or ".join("false" if each is False else each for each in arguments)
    if origin is dict and arguments[0] == Label:
        return "per cent with a share of the price each, such as {66: 0.5, 50: 0.3}"
    if origin is dict:
        return "names with a number each, such as {Pastel: 20}"
    if isinstance(option, type) and is_dataclass(option):
        return f"a group of the keys {', '.join(field.name for field in fields(option))}"
    return {str: "text", float: "a number", int: "a whole number", bool: "true or false"}.get(
        option, "a value"
    )


def _together(option: Any) -> str:
    """Say what stands together in brackets."""
    if option == IdPair:
        return "a pair in brackets, [dam, sire]"
    parts = [_bare(part) for part in get_args(option)]
    if parts == [str, str]:
        return "two days of the year in brackets, such as [02-10, 04-07]"
    if parts[:2] == [str, str]:
        return f"two ids and {_words(get_args(option)[2])} in brackets"
    kind = "whole numbers" if parts[0] is int else "numbers"
    return f"two {kind} in brackets, the smaller first, such as [2, 4]"


def _bounded(base: Any, notes: tuple[Any, ...]) -> str:
    bounds: dict[str, Any] = {}
    for note in notes:
        for constraint in note.metadata if isinstance(note, FieldInfo) else ():
            for name in ("ge", "gt", "le", "lt", "pattern"):
                if getattr(constraint, name, None) is not None:
                    bounds[name] = getattr(constraint, name)
    if "pattern" in bounds:
        return str(bounds["pattern"]).strip("^$()").replace("|", " or ")
    kind = {str: "a text", int: "a whole number"}.get(base, "a number")
    if bounds.get("le") == 1:
        return "a share from 0 to 1, such as 0.9"
    if "lt" in bounds:
        return "a share between 0 and 1, such as 0.5"
    if "gt" in bounds:
        return f"{kind} above {plain_number(bounds['gt'])}"
    # A bound so far off only keeps nonsense out: no keeper needs to hear of it.
    if "ge" in bounds and bounds["ge"] > -_FAR:
        return f"{kind} of {plain_number(bounds['ge'])} or more"
    return kind
