"""Pencil marks: what is being tried on the page, one change a mark, and the overlay they come to.

Marks are kept in the order in which they were made. A mark that decides what an earlier one decided
takes its place. Nothing here touches the keeper's files.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

import yaml

from brumal.records.settings import IdPair, Locks
from brumal.records.whole import put_whole
from brumal.records.yaml_text import show_path

VERSION = 1
OVERLAY = "pencil"
Entry = TypeVar("Entry")


class Kind(StrEnum):
    """What a mark does."""

    WITH = "with"
    APART = "apart"
    LIFT = "lift"
    REST = "rest"
    FREE = "free"
    SET = "set"
    ANIMAL = "animal"


_ON_PAIR = (Kind.APART, Kind.LIFT)


@dataclass(frozen=True, slots=True)
class Mark:
    """One change.

    ``subject`` is (dam, sire) for a pair kept, kept apart or no longer kept apart, (animal,) for
    one that rests, is decided freely, or whose row changes or is added, and the path of a setting
    that is set.
    ``value`` is what is set, as written; ``columns`` are those of an animal's row, as written.
    """

    kind: Kind
    subject: tuple[str, ...]
    value: str = ""
    columns: tuple[tuple[str, str], ...] = ()


def made(marks: Sequence[Mark], new: Mark, locks: Locks) -> tuple[Mark, ...]:
    """Return marks with a new one, without those that it takes the place of.

    What the season (``locks``) and the other marks decide already leaves no mark.
    """
    kept = tuple(mark for mark in marks if not _replaces(new, mark))
    if new.kind in (Kind.SET, Kind.ANIMAL):
        return (*kept, new) if new.value.strip() or new.columns else kept
    both = (*kept, new)
    return kept if locks_under(both, locks) == locks_under(kept, locks) else both


def _replaces(new: Mark, old: Mark) -> bool:
    """Say whether an old mark could not stand beside a new one, or would say nothing any more."""
    if new.kind in (Kind.SET, Kind.ANIMAL) or old.kind in (Kind.SET, Kind.ANIMAL):
        return old.kind is new.kind and old.subject == new.subject
    if old.kind in _ON_PAIR and new.kind in (*_ON_PAIR, Kind.WITH):
        return old.subject == new.subject
    if old.kind in _ON_PAIR:
        return False
    if old.kind is Kind.WITH:
        return _ends_pair(new, old)
    return new.kind not in _ON_PAIR and old.subject[0] in new.subject


def _ends_pair(new: Mark, old: Mark) -> bool:
    """Say whether a mark ends an earlier wish to pair two animals."""
    if new.kind is Kind.REST:
        return new.subject[0] in old.subject
    return new.subject == old.subject if new.kind in _ON_PAIR else new.subject[0] == old.subject[0]


def without(marks: Sequence[Mark], name: str) -> tuple[Mark, ...]:
    """Return marks without the one of this name; a name that is not there changes nothing."""
    return tuple(mark for mark in marks if name_of(mark) != name)


def name_of(mark: Mark) -> str:
    """Return what names a mark among others: no two that stand together share it."""
    return json.dumps([mark.kind, *mark.subject], ensure_ascii=False)


def locks_under(marks: Sequence[Mark], locks: Locks) -> Locks:
    """Return the season's locks with the marks on pairs and rests made; pairs made stay."""
    must, never, rest = list(locks.must_pair), list(locks.never_pair), list(locks.sit_out)
    for mark in marks:
        animal = mark.subject[0]
        if mark.kind is Kind.WITH:
            must = [each for each in must if each[0] != animal] + [_pair(mark)]
            never = [each for each in never if each != _pair(mark)]
            rest = [each for each in rest if each not in mark.subject]
        elif mark.kind is Kind.REST:
            must = [each for each in must if animal not in each]
            rest += [] if animal in rest else [animal]
        elif mark.kind is Kind.FREE:
            must = [each for each in must if each[0] != animal]
            rest = [each for each in rest if each != animal]
        elif mark.kind is Kind.APART:
            must = [each for each in must if each != _pair(mark)]
            never += [] if _pair(mark) in never else [_pair(mark)]
        elif mark.kind is Kind.LIFT:
            never = [each for each in never if each != _pair(mark)]
    return replace(
        locks,
        must_pair=_as_before(locks.must_pair, must),
        never_pair=_as_before(locks.never_pair, never),
        sit_out=_as_before(locks.sit_out, rest),
    )


def _as_before(old: Sequence[Entry], new: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the new entries, those that stood already in their old order: it means nothing."""
    return (*(each for each in old if each in new), *(each for each in new if each not in old))


def _pair(mark: Mark) -> IdPair:
    return mark.subject[0], mark.subject[1]


def overlay_tree(marks: Sequence[Mark], locks: Locks) -> dict[str, object]:
    """Return what the marks change as the tree of an overlay (``what-if/NAME.yaml``)."""
    tree: dict[str, object] = {}
    after = locks_under(marks, locks)
    for key in ("must_pair", "never_pair", "sit_out"):
        if getattr(after, key) != getattr(locks, key):
            _put(tree, ("locks", key), _plain(getattr(after, key)))
    for mark in marks:
        if mark.kind is Kind.SET:
            _put(tree, mark.subject, mark.value.strip())
        elif mark.kind is Kind.ANIMAL:
            for column, value in mark.columns:
                _put(tree, ("animals", mark.subject[0], column), value or None)
    return tree


def _plain(entries: tuple[object, ...]) -> list[object]:
    return [list(each) if isinstance(each, tuple) else each for each in entries]


def _put(tree: dict[str, object], path: Sequence[str], value: object) -> None:
    node = tree
    for part in path[:-1]:
        below = node.setdefault(part, {})
        if not isinstance(below, dict):
            below = node[part] = {}
        node = below
    node[path[-1]] = value


def overlay_text(tree: Mapping[str, object]) -> str:
    """Write an overlay as YAML text that reads back as the same tree."""
    text = yaml.dump(dict(tree), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=100)
    return str(text)


class _Dumper(yaml.SafeDumper):
    """A dumper of plain values: everything the reader takes as text is quoted where it must be."""

    def ignore_aliases(self, _: object) -> bool:
        """Write every value out: the reader takes no references."""
        return True

    def text(self, value: str) -> yaml.ScalarNode:
        """Write a text; one with breaks in it in the quotes that keep them."""
        style = None if value.isprintable() else '"'
        return self.represent_scalar("tag:yaml.org,2002:str", value, style=style)


_Dumper.add_representer(str, _Dumper.text)


def mark_words(mark: Mark, names: Mapping[str, str], before: str | None = None) -> str:
    """Say what a mark does in one plain sentence; ``before`` is what a setting is in the season."""
    told = [names.get(each, each) for each in mark.subject]
    if mark.kind is Kind.WITH:
        return f"{told[0]} with {told[1]}"
    if mark.kind is Kind.APART:
        return f"{told[0]} not with {told[1]}"
    if mark.kind is Kind.LIFT:
        return f"{told[0]} may go with {told[1]} again"
    if mark.kind is Kind.REST:
        return f"{told[0]} rests"
    if mark.kind is Kind.FREE:
        return f"{told[0]} as the plan decides, whatever the season says"
    if mark.kind is Kind.ANIMAL:
        return f"{told[0]}: {', '.join(_column(*each) for each in mark.columns)}"
    return _set_words(mark, names, before)


def _column(name: str, value: str) -> str:
    return f"{name} {value or 'empty'}"


def _set_words(mark: Mark, names: Mapping[str, str], before: str | None) -> str:
    path = mark.subject
    if path[0] == "animals" and len(path) == 3:
        what = f"{names.get(path[1], path[1])}, {path[2]}"
    elif path[0] == "scale":
        what = f"All prices of {path[1]}"
    elif path[:2] == ("values", "wanted"):
        what = ", ".join(path[2:])
    else:
        what = show_path(path)
    was = f" (in the season {before})" if before else ""
    return f"{what}: {mark.value.strip()}{was}"


def to_json(marks: Sequence[Mark]) -> str:
    """Write marks as they are kept in the results folder."""
    kept = [
        {
            "kind": str(mark.kind),
            "subject": list(mark.subject),
            "value": mark.value,
            "columns": [list(each) for each in mark.columns],
        }
        for mark in marks
    ]
    return json.dumps({"version": VERSION, "marks": kept}, indent=1, ensure_ascii=False) + "\n"


def from_json(text: str) -> tuple[Mark, ...]:
    """Read marks again; raises ``ValueError`` for a text that is none of ours."""
    try:
        kept = json.loads(text)
        if kept["version"] != VERSION:
            raise ValueError(f"pencil of version {kept['version']}")
        return tuple(
            Mark(
                Kind(each["kind"]),
                tuple(map(str, each["subject"])),
                str(each["value"]),
                tuple((str(key), str(value)) for key, value in each["columns"]),
            )
            for each in kept["marks"]
        )
    except (KeyError, TypeError, IndexError) as problem:
        raise ValueError("no pencil marks") from problem


def save(path: Path, marks: Sequence[Mark]) -> None:
    """Keep marks in a file, whole or not at all."""
    put_whole(path.parent, {path.name: to_json(marks).encode()})


def load(path: Path) -> tuple[Mark, ...]:
    """Return the marks kept in a file; none where there is no file.

    Raises ``ValueError`` where the file is none of ours.
    """
    if not path.is_file():
        return ()
    return from_json(path.read_text(encoding="utf-8"))
