"""A YAML text changed where it has to be and nowhere else: every comment, quote and space stays.

Changes are made to spans of the text that the parser reports; what cannot be changed so is said,
and nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import yaml

from brumal.records.yaml_text import Path, show_path

_COMMENT = re.compile(r"(?:(?<=\s)|^)#.*$", re.MULTILINE)


class NotByHandError(ValueError):
    """A change that this module does not make in a text written so; the message says where."""


def with_value(text: str, path: Path, value: object) -> str:
    """Return a text in which ``value`` stands at ``path``; groups that are not there are added.

    Raises :class:`NotByHandError`, and ``yaml.YAMLError`` for a text that is no YAML.
    """
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    if root is None:
        return f"{text.rstrip()}\n{_lines(path, value)}\n".lstrip()
    node: yaml.Node = root
    for depth, part in enumerate(path):
        found = _child(node, part)
        if found is None:
            return _with_key(text, node, path, depth, value)
        key, node = found
        if _is_nothing(node):
            inside = _flow(_nested(path[depth + 1 :], value))
            return _behind_colon(text, key, inside)
    start, end = node.start_mark.index, _end(node)
    _refuse_comments(text[start:end], path)
    return text[:start] + _flow(value) + text[end:]


def with_list(text: str, path: Path, old: Sequence[object], new: Sequence[object]) -> str:
    """Return a text in which the list at ``path`` holds ``new`` instead of ``old``.

    Entries in both stay as they are written, with their comments; a comment behind an entry that
    goes stays in its place. Entries are told by their order in ``old``. Raises ``NotByHandError``
    where what stands at ``path`` is not such a list.
    """
    node = _at(text, path)
    if not isinstance(node, yaml.SequenceNode) or len(node.value) != len(old):
        if old:
            raise NotByHandError(f"{show_path(path)} is not written as a list of {len(old)}")
        return with_value(text, path, list(new))
    kept = [place for place, each in enumerate(old) if each in new]
    added = [each for each in new if each not in old]
    if not kept and not node.flow_style:
        text = _emptied(text, path, node)
        return with_list(text, path, (), added)
    if node.flow_style:
        return _flow_list(text, path, node, kept, added)
    return _block_list(text, node, kept, added)


def comments_of(text: str) -> tuple[str, ...]:
    """Return every comment of a YAML text, in order."""
    letters = list(text)
    for token in yaml.scan(text, Loader=yaml.SafeLoader):
        if isinstance(token, yaml.ScalarToken):
            for place in range(token.start_mark.index, token.end_mark.index):
                letters[place] = "\n" if letters[place] == "\n" else "x"
    bare = "".join(letters)
    return tuple(text[found.start() : found.end()].strip() for found in _COMMENT.finditer(bare))


def _at(text: str, path: Path) -> yaml.Node | None:
    node: yaml.Node | None = yaml.compose(text, Loader=yaml.SafeLoader)
    for part in path:
        found = None if node is None else _child(node, part)
        node = None if found is None else found[1]
    return node


def _child(node: yaml.Node, part: str | int) -> tuple[yaml.Node, yaml.Node] | None:
    """Return the key and the value at one part of a path; an entry of a list is its own key."""
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            if isinstance(key, yaml.ScalarNode) and str(key.value) == str(part):
                return key, value
    if isinstance(node, yaml.SequenceNode) and isinstance(part, int) and part < len(node.value):
        return node.value[part], node.value[part]
    return None


def _is_nothing(node: yaml.Node) -> bool:
    """Say whether nothing is written behind a key."""
    return isinstance(node, yaml.ScalarNode) and node.style is None and node.value == ""


def _with_key(text: str, node: yaml.Node, path: Path, depth: int, value: object) -> str:
    """Add a key to a group."""
    if not isinstance(node, yaml.MappingNode):
        raise NotByHandError(f"{show_path(path[:depth])} is not written as a group of keys")
    entry = f"{_flow(path[depth])}: {_flow(_nested(path[depth + 1 :], value))}"
    if node.flow_style:
        if not node.value:
            place = text.index("{", node.start_mark.index) + 1
            return text[:place] + entry + text[place:]
        place = _end(node.value[-1][1])
        return f"{text[:place]}, {entry}{text[place:]}"
    indent = " " * node.value[0][0].start_mark.column
    return _new_line(text, _last(node.value[-1][1]), indent + entry)


def _new_line(text: str, after: int, line: str) -> str:
    """Add a line behind the one that a place stands in."""
    end = text.find("\n", after)
    if end < 0:
        return f"{text}\n{line}\n"
    mark = "\r\n" if text[end - 1 : end] == "\r" else "\n"
    return f"{text[: end + 1]}{line}{mark}{text[end + 1 :]}"


def _behind_colon(text: str, key: yaml.Node, inside: str) -> str:
    place = text.index(":", key.end_mark.index) + 1
    return f"{text[:place]} {inside}{text[place:]}"


def _end(node: yaml.Node) -> int:
    """Return where a value ends; one in block style ends with its last part."""
    block = isinstance(node, yaml.CollectionNode) and not node.flow_style
    return _last(node) if block else int(node.end_mark.index)


def _last(node: yaml.Node) -> int:
    """Return where the last thing written in a node ends."""
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _last(last[1] if isinstance(last, tuple) else last)
    if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        raise NotByHandError("a text over several lines stands last in its group")
    return int(node.end_mark.index)


def _flow_list(
    text: str, path: Path, node: yaml.SequenceNode, kept: Sequence[int], added: Sequence[object]
) -> str:
    start, end = node.start_mark.index + 1, node.end_mark.index - 1
    _refuse_comments(text[start:end], path)
    entries = [text[node.value[n].start_mark.index : _end(node.value[n])] for n in kept]
    entries += [_flow(each) for each in added]
    return text[:start] + ", ".join(entries) + text[end:]


def _block_list(
    text: str, node: yaml.SequenceNode, kept: Sequence[int], added: Sequence[object]
) -> str:
    dash = " " * node.start_mark.column + "- "
    for each in reversed(added):
        text = _new_line(text, _last(node), dash + _flow(each))
    for place in reversed(range(len(node.value))):
        if place not in kept:
            text = _without_lines(text, node.value[place])
    return text


def _emptied(text: str, path: Path, node: yaml.SequenceNode) -> str:
    """Take every entry of a block list out, and write an empty one behind the key."""
    for entry in reversed(node.value):
        text = _without_lines(text, entry)
    found = _child(_parent(text, path), path[-1])
    if found is None:
        raise NotByHandError(f"{show_path(path)} cannot be emptied")
    return _behind_colon(text, found[0], "[]")


def _parent(text: str, path: Path) -> yaml.Node:
    node = _at(text, path[:-1])
    assert node is not None
    return node


def _without_lines(text: str, entry: yaml.Node) -> str:
    """Take the lines of an entry of a block list out; the comments in them stay."""
    start = text.rfind("\n", 0, entry.start_mark.index) + 1
    end = text.find("\n", _last(entry))
    end = len(text) if end < 0 else end + 1
    indent = " " * (entry.start_mark.column - 2)
    left = "".join(f"{indent}{comment}\n" for comment in comments_of(text[start:end]))
    return text[:start] + left + text[end:]


def _refuse_comments(part: str, path: Path) -> None:
    if comments_of(part):
        raise NotByHandError(f"there are comments inside {show_path(path)}")


def _nested(path: Path, value: object) -> object:
    for part in reversed(path):
        value = {part: value}
    return value


def _lines(path: Path, value: object) -> str:
    return f"{path[0]}: {_flow(_nested(path[1:], value))}"


def _flow(value: object) -> str:
    """Write a value on one line, so that it may stand inside brackets as well."""
    text = yaml.safe_dump(
        [value], default_flow_style=True, allow_unicode=True, width=float("inf"), sort_keys=False
    )
    return str(text).rstrip("\n")[1:-1]
