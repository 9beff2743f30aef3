"""``genes.yaml``: the shipped catalogue, with the keeper's own genes laid over it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from importlib import resources
from typing import TypeVar

import yaml

from brumal.genetics.catalogue.build import build_catalogue
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.catalogue.schema import (
    CombinationEntry,
    Entry,
    GeneEntry,
    GeneFile,
    HidesEntry,
    LinkageEntry,
    LocusEntry,
    Placed,
    WelfareEntry,
    entries_of,
)
from brumal.records.faults import Fault, Severity, is_error
from brumal.records.yaml_text import read_yaml

SHIPPED_FILE = "genes.yaml"

E = TypeVar("E", bound=Entry)


@lru_cache(maxsize=4)
def load_catalogue(
    own: str | None = None, own_file: str = "genes.yaml"
) -> tuple[Catalogue, tuple[Fault, ...]]:
    """Return the catalogue and every fault found.

    ``own`` is the text of the keeper's ``genes.yaml``: its entries join the shipped ones or take
    the place of those with the same name, each with a notice. A faulty entry is left out, so that
    the rest can still be used to check other files; errors among the faults stop the work.
    The catalogues of the last few texts are kept.
    """
    if own is None:
        return _shipped()
    text, faults = read_yaml(own, own_file)
    if text is None:
        return _shipped()[0], tuple(faults)
    added, faults = entries_of(text.data, own_file, text.lines, own=True)
    shipped, _ = _shipped_entries()
    # The shipped locus stands in for one that is not given, before changes are told.
    added = replace(added, genes=tuple(_at_its_locus(shipped, gene) for gene in added.genes))
    catalogue, built = build_catalogue(_laid_over(shipped, added))
    faulty = {fault.where for fault in built if is_error(fault)}
    notices = (told for told in _notices(shipped, added) if told.where not in faulty)
    found = [*faults, *notices, *built]
    return catalogue, tuple(sorted(found, key=lambda fault: fault.where.row or 0))


@lru_cache(maxsize=1)
def _shipped_entries() -> tuple[GeneFile, tuple[Fault, ...]]:
    text = resources.files("brumal.genetics.catalogue").joinpath(SHIPPED_FILE).read_text("utf-8")
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    file, faults = entries_of(yaml.load(text, loader), f"shipped {SHIPPED_FILE}", {}, own=False)  # noqa: S506
    return file, tuple(faults)


@lru_cache(maxsize=1)
def _shipped() -> tuple[Catalogue, tuple[Fault, ...]]:
    file, faults = _shipped_entries()
    catalogue, built = build_catalogue(file)
    return catalogue, (*faults, *built)


def _key(entry: Entry) -> object:
    """Return what an entry is known by: entries with the same key stand for the same thing."""
    match entry:
        case GeneEntry() | CombinationEntry():
            return entry.name.casefold()
        case LocusEntry():
            return entry.locus.casefold()
        case LinkageEntry():
            return entry.group.casefold()
        case WelfareEntry():
            return entry.harm, frozenset((n.casefold(), c) for n, c in entry.carries.items())
        case HidesEntry():
            return frozenset(look.casefold() for look in entry.looks)
    raise TypeError(entry)


def _laid_over(shipped: GeneFile, own: GeneFile) -> GeneFile:
    """Put the keeper's entries first; a shipped one with the same key drops out."""
    return GeneFile(
        genes=_joined(shipped.genes, own.genes),
        loci=_joined(shipped.loci, own.loci),
        linkage=_joined(shipped.linkage, own.linkage),
        combinations=_joined(shipped.combinations, own.combinations),
        hides=_joined(shipped.hides, own.hides),
        welfare=_joined(shipped.welfare, own.welfare),
    )


def _joined(base: tuple[Placed[E], ...], over: tuple[Placed[E], ...]) -> tuple[Placed[E], ...]:
    keys = {_key(placed.entry) for placed in over}
    return (*over, *(placed for placed in base if _key(placed.entry) not in keys))


def _at_its_locus(shipped: GeneFile, placed: Placed[GeneEntry]) -> Placed[GeneEntry]:
    """Leave a shipped gene at its locus where the keeper's entry of that name gives none."""
    if placed.entry.locus is not None:
        return placed
    for known in shipped.genes:
        if _key(known.entry) == _key(placed.entry) and known.entry.locus:
            entry = placed.entry.model_copy(update={"locus": known.entry.locus})
            return Placed(entry, placed.where, placed.own)
    return placed


def _notices(shipped: GeneFile, own: GeneFile) -> Iterator[Fault]:
    for section, kind in _KINDS.items():
        known = {_key(placed.entry): placed.entry for placed in getattr(shipped, section)}
        for placed in getattr(own, section):
            before = known.get(_key(placed.entry))
            yield Fault(
                where=placed.where,
                found=f"{kind} {_title(placed.entry)} of your own",
                expected="the shipped catalogue alone" if before is None else "the shipped entry",
                repair="It joins the catalogue." if before is None else _change(before, placed),
                severity=Severity.NOTICE,
            )


def _change(before: Entry, placed: Placed[Entry]) -> str:
    """Say that an entry takes the place of the shipped one, and what differs."""
    old, new = before.model_dump(mode="json"), placed.entry.model_dump(mode="json")
    changes = [
        f"{key} {_shown(old[key])} -> {_shown(new[key])}"
        for key in new
        if key not in ("source", "note", "text") and new[key] != old[key]
    ]
    told = f" ({'; '.join(changes)})" if changes else ""
    return f"It takes the place of the shipped one{told}."


def _shown(value: object) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(str, value))}]"
    return "none" if value is None else str(value)


_KINDS = {
    "loci": "the locus",
    "genes": "the gene",
    "linkage": "the linkage group",
    "combinations": "the combination",
    "hides": "what is hidden by",
    "welfare": "the welfare note on",
}


def _title(entry: Entry) -> str:
    match entry:
        case GeneEntry() | CombinationEntry():
            return repr(entry.name)
        case LocusEntry():
            return repr(entry.locus)
        case LinkageEntry():
            return repr(entry.group)
        case WelfareEntry():
            return repr(" and ".join(f"{count} {name}" for name, count in entry.carries.items()))
        case HidesEntry():
            return ", ".join(map(repr, entry.looks))
    raise TypeError(entry)
