"""The overlays of a season folder by name, and which of them a scenario stands on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from brumal.records.cells import quote
from brumal.records.faults import Fault, Where, did_you_mean
from brumal.records.folder import SeasonRecords
from brumal.records.overlay import Overlay, read_overlay

BASE = "base"


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlays:
    """All overlays of a folder by name, sorted; one that cannot be read has only faults."""

    files: Mapping[str, str]
    read: Mapping[str, Overlay]
    faults: Mapping[str, tuple[Fault, ...]]

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of all overlays, those with faults too."""
        return tuple(self.files)


def overlays_of(records: SeasonRecords) -> Overlays:
    """Read every overlay of a season."""
    files, read, faults = {}, {}, {}
    for name, text in sorted(records.what_if.items()):
        files[name] = records.files.get(f"what-if/{name}", f"what-if/{name}.yaml")
        overlay, faults[name] = read_overlay(name, text, files[name])
        if name == BASE:
            overlay, faults[name] = None, (_name_taken(files[name]),)
        if overlay is not None:
            read[name] = overlay
    return Overlays(files=files, read=read, faults=faults)


def _name_taken(file: str) -> Fault:
    return Fault(
        where=Where(file=file),
        found=f"a scenario called {BASE}",
        expected="another name: that one is the season as recorded",
        repair="Rename the file.",
    )


def resolve(
    overlays: Overlays, names: Iterable[str]
) -> tuple[tuple[Overlay, ...], tuple[Fault, ...]]:
    """Return the named overlays with those they extend, each once, what is extended first."""
    order: dict[str, Overlay] = {}
    faults: list[Fault] = []

    def visit(name: str, by: tuple[str, ...]) -> None:
        if name in by:
            circle = " -> ".join((*by[by.index(name) :], name))
            faults.append(_extends_fault(overlays, by[-1], f"a circle: {circle}", "an end to it"))
        elif name not in overlays.files:
            faults.append(unknown_name(overlays, name, by))
        elif name not in overlays.read:
            faults.extend(overlays.faults[name])
        elif name not in order:
            for parent in overlays.read[name].extends:
                visit(parent, (*by, name))
            order[name] = overlays.read[name]

    for name in sorted(names):
        visit(name, ())
    return tuple(order.values()), tuple(dict.fromkeys(faults))


def _extends_fault(
    overlays: Overlays, name: str, found: str, expected: str, repair: str = ""
) -> Fault:
    where = overlays.read[name].where(("extends",))
    return Fault(where=where, found=found, expected=expected, repair=repair)


def unknown_name(overlays: Overlays, name: str, by: tuple[str, ...] = ()) -> Fault:
    """Return the fault of a name without a file; ``by`` is the chain that extends to it."""
    repair = did_you_mean(name, overlays.files)
    if by:
        return _extends_fault(
            overlays, by[-1], quote(name), "the name of a file in what-if", repair
        )
    known = ", ".join(overlays.files) or "none is there"
    return Fault(
        where=Where(file="what-if"),
        found=f"no scenario {quote(name)}",
        expected=f"one of the scenarios in the folder ({known})",
        repair=repair,
    )
