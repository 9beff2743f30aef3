"""``what-if/NAME.yaml``: one overlay read into what it changes, with every fault by line.

Keys mirror ``season.yaml``; ``animals`` changes rows of the animals table or adds to them. Keys of
the overlay's own: ``extends``, ``note``, ``option``, ``excludes``, ``paid``, ``received``,
``sweep``, ``scale``, ``groups``. ``values.wanted`` may be a list, which takes the place of the
whole list, or a mapping by morph, which changes, adds or drops single entries.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from brumal.records.animal_table import ANIMALS
from brumal.records.cells import quote
from brumal.records.faults import Fault, Where, did_you_mean
from brumal.records.plain_values import fold_morph, parse_number, parse_step
from brumal.records.setting_words import keys_at
from brumal.records.sweep_range import SweepAxis, axis_of
from brumal.records.yaml_text import Path, Place, read_yaml

WANTED: Path = ("values", "wanted")
COMBINATIONS: Path = ("values", "combinations")
DROP = "drop"
OWN_KEYS = (
    "animals",
    "extends",
    "note",
    "option",
    "excludes",
    "paid",
    "received",
    "sweep",
    "scale",
    "groups",
)
MONEY_KEYS = ("paid", "received")
ANIMAL_KEYS = (*(column for column in ANIMALS.columns if column != "id"), *MONEY_KEYS)
GROUP_COLUMNS = tuple(
    column for column in ANIMALS.columns if column not in ("id", "name", "sex", "hatched")
)
MOST_AXES = 2
GROUP_KEYS = ("where", "set")
CHOSEN_BY = ("line", "sex", "status")
TRUE_WORDS = {"true": True, "yes": True, "false": False, "no": False}

Tree: TypeAlias = Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """One thing an overlay sets: the path as written and folded, the value as written."""

    path: Path
    written: Path
    value: object


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Changes to all animals that are so: ``where`` and ``columns`` as written."""

    where: Mapping[str, str]
    columns: Tree


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlay:
    """One overlay as read.

    ``settings`` is shaped like ``season.yaml``; ``animals`` maps ids to columns as written.
    ``paid`` and ``received`` are money that passes once, for the whole and by animal (``fees``).
    ``lines`` gives the line of each path in ``file``. ``leaves`` are all single changes.
    ``scale`` is the factor of all prices that name a gene, ``groups`` changes to groups of animals:
    both have to be written out as single changes, by someone who knows genes, before the overlay
    can be laid over a season.
    """

    name: str
    file: str
    settings: Tree = field(default_factory=dict)
    animals: Mapping[str, Tree] = field(default_factory=dict)
    lines: Mapping[Path, int] = field(default_factory=dict)
    leaves: tuple[Leaf, ...] = ()
    extends: tuple[str, ...] = ()
    note: str = ""
    option: bool = False
    excludes: tuple[str, ...] = ()
    paid: float = 0.0
    received: float = 0.0
    fees: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    axes: tuple[SweepAxis, ...] = ()
    scale: Mapping[str, float] = field(default_factory=dict)
    groups: tuple[Group, ...] = ()

    def where(self, path: Path) -> Where:
        """Return the place of a path, or of the nearest part of it that the file holds."""
        return Place(self.file, self.lines)(path)


def read_overlay(name: str, text: str, file: str) -> tuple[Overlay | None, tuple[Fault, ...]]:
    """Read one overlay; ``None`` where a fault makes it meaningless.

    Settings are only placed here; whether their values are right is told when they are laid over
    a season.
    """
    document, faults = read_yaml(text, file)
    if document is None:
        return None, tuple(faults)
    if not isinstance(document.data, dict):
        return None, (_nothing_in(file),)
    reader = _Reader(name, file, document.data, document.lines)
    overlay = reader.overlay()
    return (None if reader.faults else overlay), tuple(reader.faults)


def overlay_of(name: str, data: Tree) -> Overlay:
    """Return an overlay made in code from a tree of right form (a sweep point, a swapped input)."""
    reader = _Reader(name, name, data, {})
    return reader.overlay()


def _nothing_in(file: str) -> Fault:
    return Fault(
        where=Where(file=file),
        found="no keys",
        expected="what the scenario changes, such as `limits: {boxes: 16}`",
    )


class _Reader:
    """Takes one document apart, gathering faults on the way."""

    def __init__(self, name: str, file: str, data: Tree, lines: Mapping[Path, int]) -> None:
        self.name, self.file, self.data, self.lines = name, file, data, lines
        self.faults: list[Fault] = []
        self.place = Place(file, lines)

    def overlay(self) -> Overlay:
        known = (*keys_at(()), *OWN_KEYS)
        for key in self.data:
            if key not in known:
                self.unknown((key,), known)
        settings = {key: value for key, value in self.data.items() if key in keys_at(())}
        animals = self.animals()
        leaves = (*_leaves(settings, ()), *_animal_leaves(animals))
        overlay = Overlay(
            name=self.name,
            file=self.file,
            settings=settings,
            animals={id: _without(row, MONEY_KEYS) for id, row in animals.items()},
            lines=self.lines,
            leaves=leaves,
            extends=self.names("extends"),
            note=self.note(),
            option=self.option(),
            excludes=self.names("excludes"),
            paid=self.money(("paid",), self.data),
            received=self.money(("received",), self.data),
            fees=self.fees(animals),
            axes=self.sweep(),
            scale=self.scale(),
            groups=self.groups(),
        )
        open_ = overlay.scale or overlay.groups
        if not (leaves or open_ or overlay.axes or len(overlay.extends) > 1 or self.faults):
            self.faults.append(_nothing_in(self.file))
        return overlay

    def fault(self, path: Path, found: str, expected: str, repair: str = "") -> None:
        where = self.place(path)
        self.faults.append(Fault(where=where, found=found, expected=expected, repair=repair))

    def unknown(self, path: Path, known: Sequence[str]) -> None:
        key = str(path[-1])
        self.fault(
            path,
            f"an unknown key {quote(key)}",
            f"one of {', '.join(known)}",
            did_you_mean(key, known),
        )

    def animals(self) -> dict[str, Tree]:
        found = self.data.get("animals")
        if "animals" not in self.data:
            return {}
        if not isinstance(found, Mapping) or not found:
            self.fault(("animals",), _shown(found), "ids with columns, `M03: {status: outside}`")
            return {}
        rows: dict[str, Tree] = {}
        for id, row in found.items():
            path: Path = ("animals", id)
            if not isinstance(row, Mapping) or not row:
                expected = "columns with values, such as {status: outside}"
                self.fault(path, _shown(row), expected)
                continue
            rows[id] = row
            for column, value in row.items():
                if column not in ANIMAL_KEYS:
                    self.unknown((*path, column), ANIMAL_KEYS)
                elif isinstance(value, Mapping | list):
                    self.fault((*path, column), _shown(value), "one value")
        return rows

    def fees(self, animals: Mapping[str, Tree]) -> dict[str, tuple[float, float]]:
        fees = {}
        for id, row in animals.items():
            if any(key in row for key in MONEY_KEYS):
                paid, received = (self.money(("animals", id, key), row) for key in MONEY_KEYS)
                fees[id] = (paid, received)
        return fees

    def money(self, path: Path, within: Tree) -> float:
        """Return money that passes once; nothing where the key is not there."""
        key = str(path[-1])
        if key not in within:
            return 0.0
        text = within[key]
        value, repair = parse_number(str(text)) if text is not None else (None, "")
        if value is None or value < 0:
            other = "received" if key == "paid" else "paid"
            repair = repair or f"Money that goes the other way is `{other}`."
            self.fault(path, _shown(text), "money of 0 or more, such as 900", repair)
            return 0.0
        return value

    def scale(self) -> dict[str, float]:
        """Return the factors of prices by gene."""
        found = self.data.get("scale", {})
        if not isinstance(found, Mapping) or ("scale" in self.data and not found):
            self.fault(("scale",), _shown(found), "genes with a difference each, {Clown: -30%}")
            return {}
        factors = {}
        for gene, text in found.items():
            step = parse_step(str(text).strip())
            if step is None or not step.percent or step.amount < -100:
                expected = "a difference in per cent, such as -30% or +10%"
                self.fault(("scale", gene), _shown(text), expected)
            else:
                factors[gene] = 1 + step.amount / 100
        return factors

    def groups(self) -> tuple[Group, ...]:
        """Return the changes to groups of animals."""
        found = self.data.get("groups", [])
        if not isinstance(found, list) or ("groups" in self.data and not found):
            expected = "a list, such as [{where: {line: Spider}, set: {status: outside}}]"
            self.fault(("groups",), _shown(found), expected)
            return ()
        before = len(self.faults)
        for number, each in enumerate(found):
            path: Path = ("groups", number)
            parts = each if isinstance(each, Mapping) else {}
            for key in parts:
                if key not in GROUP_KEYS:
                    self.unknown((*path, key), GROUP_KEYS)
            self.part_of_group((*path, "where"), parts.get("where"), CHOSEN_BY)
            self.part_of_group((*path, "set"), parts.get("set"), GROUP_COLUMNS)
        if len(self.faults) > before:
            return ()
        return tuple(Group(where=each["where"], columns=each["set"]) for each in found)

    def part_of_group(self, path: Path, part: object, known: Sequence[str]) -> None:
        if not isinstance(part, Mapping) or not part:
            self.fault(path, _shown(part), f"one or more of {', '.join(known)}")
            return
        for name, value in part.items():
            if name not in known:
                self.unknown((*path, name), known)
            elif isinstance(value, Mapping | list) or (path[-1] == "where" and value is None):
                self.fault((*path, name), _shown(value), "one value")

    def names(self, key: str) -> tuple[str, ...]:
        """Return the names of other overlays: one, or a list."""
        found = self.data.get(key)
        names = found if isinstance(found, list) else [found] if found is not None else []
        if key in self.data and (not names or not all(isinstance(name, str) for name in names)):
            self.fault((key,), _shown(found), "the name of another scenario, or a list of names")
            return ()
        if self.name in names:
            self.fault((key,), quote(self.name), "the name of another scenario, not its own")
        return tuple(dict.fromkeys(str(name) for name in names))

    def note(self) -> str:
        found = self.data.get("note", "")
        if isinstance(found, str):
            return found
        self.fault(("note",), _shown(found), "text")
        return ""

    def option(self) -> bool:
        found = self.data.get("option", "false")
        if isinstance(found, bool):
            return found
        word = TRUE_WORDS.get(str(found).casefold())
        if word is None:
            self.fault(("option",), _shown(found), "true or false")
        return bool(word)

    def sweep(self) -> tuple[SweepAxis, ...]:
        """Return the axes of a sweep; more than two cannot be drawn."""
        if "sweep" not in self.data:
            return ()
        found = self.data["sweep"]
        if not isinstance(found, Mapping) or not 1 <= len(found) <= MOST_AXES:
            expected = "one or two keys with a range, such as limits.boxes: {from: 10, to: 40}"
            self.fault(("sweep",), _shown(found), expected)
            return ()
        axes = []
        for key, steps in found.items():
            axis, faults = axis_of(key, steps, self.place(("sweep", key)))
            self.faults += faults
            if axis is not None and self.right_key(axis):
                axes.append(axis)
        return tuple(axes)

    def right_key(self, axis: SweepAxis) -> bool:
        before = len(self.faults)
        check_axis(axis, self.place(("sweep", axis.key)), self.faults)
        return len(self.faults) == before


def check_axis(axis: SweepAxis, where: Where, faults: list[Fault]) -> None:
    """Note a fault where a sweep's key cannot be set: no such group or column."""
    first = str(axis.path[0])
    known: tuple[str, ...] = ("animals", "scale", *keys_at(()))
    if first not in known or len(axis.path) == 1:
        hint = did_you_mean(first, known) if first not in known else ""
        faults.append(
            Fault(
                where=where,
                found=f"the key {quote(axis.key)}",
                expected="a key such as limits.boxes, values.wanted.Clown.value or "
                "animals.F01.weight_g",
                repair=hint,
            )
        )
        return
    if first == "animals" and (len(axis.path) != 3 or axis.path[2] not in ANIMAL_KEYS):
        column = str(axis.path[-1])
        faults.append(
            Fault(
                where=where,
                found=f"the key {quote(axis.key)}",
                expected="animals.ID.COLUMN, the column one of the animals table",
                repair=did_you_mean(column, ANIMAL_KEYS),
            )
        )


def _leaves(tree: object, path: Path) -> Iterator[Leaf]:
    """Yield what a tree of settings sets; a list, a scalar or nothing at all is one thing."""
    if isinstance(tree, Mapping) and tree:
        for key, value in tree.items():
            yield from _leaves(value, (*path, key))
    elif path:
        yield Leaf(path=fold_path(path), written=path, value=tree)


def _animal_leaves(animals: Mapping[str, Tree]) -> Iterator[Leaf]:
    for id, row in animals.items():
        for column, value in row.items():
            path: Path = ("animals", id, column)
            yield Leaf(path=path, written=path, value=value)


def fold_path(path: Path) -> Path:
    """Return a path with the keys that may be spelt in more than one way folded.

    These are the names of morphs and genes: keys of ``values.wanted``, ``values.combinations`` and
    ``values.extra``.
    """
    place = {WANTED: 2, COMBINATIONS: 2, ("values", "extra"): 3}.get(path[:2], len(path))
    if place >= len(path):
        return path
    return (*path[:place], fold_morph(str(path[place])), *path[place + 1 :])


def _without(row: Tree, keys: Sequence[str]) -> Tree:
    return {key: value for key, value in row.items() if key not in keys}


def _shown(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return f"a group with the keys {', '.join(value)}" if value else "an empty group"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    return quote(str(value))


def tree_at(path: Path, value: object) -> dict[str, object]:
    """Return a tree that sets one path: ``(limits, boxes), 9`` is ``{limits: {boxes: 9}}``."""
    tree: object = value
    for part in reversed(path):
        tree = {str(part): tree}
    assert isinstance(tree, dict)
    return tree
