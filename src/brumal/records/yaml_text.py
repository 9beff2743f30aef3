"""YAML read with the line of every key; scalars stay as the keeper wrote them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import yaml

from brumal.records.faults import Fault, Where

Path = tuple[str | int, ...]
"""The way to a value: keys and places in lists (counted from 0)."""

NULLS = frozenset({"", "~", "null", "Null", "NULL"})


@dataclass(frozen=True, slots=True)
class YamlText:
    """A YAML document as mappings, lists and text; ``lines`` gives the line of each path.

    Nothing is guessed: ``no`` and ``007`` stay text, and what they mean is decided by the setting
    they stand in. A key with nothing behind it holds ``None``.
    """

    data: object
    lines: Mapping[Path, int]


class _Reference(Exception):  # noqa: N818  (it is no error of the program's)
    """An alias was met: a text of a few lines may stand for millions of values by them."""

    def __init__(self, event: yaml.AliasEvent) -> None:
        super().__init__(event.anchor)
        self.event = event


class _NoReferences(yaml.SafeLoader):
    """Composes nodes until it meets an alias."""

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        if self.check_event(yaml.AliasEvent):
            raise _Reference(self.peek_event())  # type: ignore[no-untyped-call]
        return super().compose_node(parent, index)


def show_path(path: Path) -> str:
    """Write a path as keepers read it; entries of a list are counted from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


@dataclass(frozen=True, slots=True)
class Place:
    """Turns the path of a key into its place in a file; ``lines`` gives the line of each path.

    A path that does not stand in the file itself has the line of the nearest part of it that does.
    """

    file: str
    lines: Mapping[Path, int]

    def __call__(self, path: Path) -> Where:
        """Return the place of a path."""
        found = (path[:end] for end in range(len(path), 0, -1) if path[:end] in self.lines)
        line = self.lines.get(next(found, ()))
        return Where(file=self.file, row=line, column=show_path(path) or None)


def read_yaml(text: str, file: str) -> tuple[YamlText | None, list[Fault]]:
    """Read one YAML document; a syntax error, an alias or a key that stands twice is a fault."""
    try:
        node = yaml.compose(text, Loader=_NoReferences)
    except _Reference as found:
        return None, [_reference_fault(found.event, file)]
    except yaml.MarkedYAMLError as error:
        return None, [_syntax_fault(error, file)]
    except yaml.YAMLError as error:
        return None, [_unreadable(file, str(error).splitlines()[0])]
    except RecursionError:
        return None, [_unreadable(file, "brackets nested without end")]
    lines: dict[Path, int] = {}
    faults: list[Fault] = []
    data = _value(node, (), lines, faults, file)
    return (YamlText(data, lines) if not faults else None), faults


def _value(
    node: yaml.Node | None, path: Path, lines: dict[Path, int], faults: list[Fault], file: str
) -> object:
    if isinstance(node, yaml.SequenceNode):
        items = []
        for place, item in enumerate(node.value):
            lines[(*path, place)] = item.start_mark.line + 1
            items.append(_value(item, (*path, place), lines, faults, file))
        return items
    if isinstance(node, yaml.MappingNode):
        return _mapping(node, path, lines, faults, file)
    if isinstance(node, yaml.ScalarNode):
        text = str(node.value)
        return None if node.style is None and text in NULLS else text
    return None


def _mapping(
    node: yaml.MappingNode,
    path: Path,
    lines: dict[Path, int],
    faults: list[Fault],
    file: str,
) -> dict[str, object]:
    found: dict[str, object] = {}
    for key_node, value_node in node.value:
        line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode):
            faults.append(
                Fault(
                    where=Where(file=file, row=line, column=show_path(path) or None),
                    found="brackets where a key should be",
                    expected="a key, a colon and a value",
                )
            )
            continue
        key = str(key_node.value)
        if key in found:
            faults.append(
                Fault(
                    where=Where(file=file, row=line, column=show_path((*path, key))),
                    found=f"the key {key!r} again (first in line {lines[(*path, key)]})",
                    expected="each key once",
                    repair="Remove one of them, or put both together.",
                )
            )
            continue
        lines[(*path, key)] = line
        found[key] = _value(value_node, (*path, key), lines, faults, file)
    return found


def _reference_fault(event: yaml.AliasEvent, file: str) -> Fault:
    mark = event.start_mark
    return Fault(
        where=Where(file=file, row=mark.line + 1 if mark else None),
        found=f"a reference (*{event.anchor})",
        expected="plain values",
        repair="Write the value out; a text that starts with * needs quotation marks.",
    )


def _unreadable(file: str, found: str) -> Fault:
    return Fault(where=Where(file=file), found=found, expected="YAML text")


def _syntax_fault(error: yaml.MarkedYAMLError, file: str) -> Fault:
    mark = error.problem_mark or error.context_mark
    problem = error.problem or error.context or "something unreadable"
    repair = "Look at this line and the one above: a colon, a bracket or a quotation mark is off."
    if "\\t" in problem or "'\t'" in problem:
        problem, repair = "a tab", "Indent with spaces."
    elif "<block end>" in problem:
        problem = "a key or a bracket that does not fit the indent"
        repair = "Indent keys of one group alike, with spaces."
    elif "mapping values are not allowed" in problem:
        problem = "a colon where none can stand"
        repair = "Indent keys alike, and put a text that holds a colon in quotation marks."
    return Fault(
        where=Where(file=file, row=mark.line + 1 if mark else None),
        found=problem,
        expected="YAML: a key, a colon, a space and a value",
        repair=repair,
    )
