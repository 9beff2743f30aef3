"""What-ifs that speak of genes, written out as single changes to prices and animals.

``scale`` moves every price that names a gene, ``groups`` changes all animals that are so. Which
prices and animals these are takes the catalogue; the overlay written out is the one that a keeper
with a calculator would have written by hand. What the same file sets by itself stays as set.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import WILD
from brumal.genetics.notation.parse import morph_faults, parse_morph
from brumal.records.animals import Animal, Status
from brumal.records.cells import quote
from brumal.records.faults import Fault, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.overlay import WANTED, Leaf, Overlay, fold_path
from brumal.records.overlay_animals import animal_value
from brumal.records.overlays import Overlays, overlays_of
from brumal.records.plain_values import parse_step, plain_number
from brumal.records.yaml_text import Path

_Priced = tuple[Path, tuple[str, ...], Callable[[float], object] | None]


def season_overlays(records: SeasonRecords) -> Overlays:
    """Read every overlay of a season, those that speak of genes written out."""
    overlays = overlays_of(records)
    read, faults = dict(overlays.read), dict(overlays.faults)
    for name, overlay in overlays.read.items():
        read[name], found = written_out(records, overlay)
        faults[name] = (*faults[name], *found)
        if any(map(is_error, found)):
            del read[name]
    return replace(overlays, read=read, faults=faults)


def written_out(records: SeasonRecords, overlay: Overlay) -> tuple[Overlay, tuple[Fault, ...]]:
    """Return an overlay with ``scale`` and ``groups`` as single changes, and what is wrong."""
    if not (overlay.scale or overlay.groups):
        return overlay, ()
    catalogue, _ = load_catalogue(records.own_genes, records.files.get("genes", "genes.yaml"))
    writer = _Writer(records, overlay, catalogue)
    writer.scale()
    writer.groups()
    return writer.written(), tuple(writer.faults)


@dataclass(slots=True)
class _Writer:
    """Gathers the single changes that one overlay comes to."""

    records: SeasonRecords
    overlay: Overlay
    catalogue: Catalogue
    faults: list[Fault] = field(default_factory=list)
    leaves: dict[Path, tuple[Leaf, Path]] = field(default_factory=dict)

    def written(self) -> Overlay:
        """Return the overlay with all changes in it; each stands in the line that asks for it."""
        settings = copy.deepcopy(dict(self.overlay.settings))
        animals = {id: dict(columns) for id, columns in self.overlay.animals.items()}
        lines = dict(self.overlay.lines)
        for leaf, source in self.leaves.values():
            line = self.overlay.where(source).row
            if line is not None:
                lines.setdefault(leaf.written, line)
            if leaf.path[0] == "animals":
                animals.setdefault(str(leaf.path[1]), {})[str(leaf.path[2])] = leaf.value
                continue
            node: dict[str, object] = settings
            for part in leaf.written[:-1]:
                below = node.setdefault(str(part), {})
                assert isinstance(below, dict)
                node = below
            node[str(leaf.written[-1])] = leaf.value
        return replace(
            self.overlay,
            settings=settings,
            animals=animals,
            lines=lines,
            leaves=(*self.overlay.leaves, *(leaf for leaf, _ in self.leaves.values())),
            scale={},
            groups=(),
        )

    def add(self, path: Path, value: object, source: Path) -> None:
        """Note a change, unless the file itself sets the same thing."""
        folded = fold_path(path)
        for own in self.overlay.leaves:
            shorter = min(len(own.path), len(folded))
            if own.path[:shorter] == folded[:shorter]:
                return
        if folded in self.leaves:
            self.fault(source, "two groups that set the same thing of an animal", "one of them")
            return
        self.leaves[folded] = (Leaf(path=folded, written=path, value=value), source)

    def fault(self, path: Path, found: str, expected: str, repair: str = "") -> None:
        where = self.overlay.where(path)
        self.faults.append(Fault(where=where, found=found, expected=expected, repair=repair))

    def genes(self, text: str) -> frozenset[str]:
        """Return the genes that a morph names."""
        morph, _ = parse_morph(text, self.catalogue)
        claims = morph.claims if morph else ()
        return frozenset(name for claim in claims for name in claim.pairs[0] if name != WILD)

    def asked(self, text: str, path: Path) -> frozenset[str]:
        """Return the genes that a key names; unknown ones are a fault."""
        _, problems = parse_morph(text, self.catalogue)
        self.faults += morph_faults(problems, self.overlay.where(path))
        genes = self.genes(text)
        if not genes and not problems:
            self.fault(path, quote(text), "the name of a gene or of a combination")
        return genes

    def scale(self) -> None:
        """Write out ``scale``: every price that names the gene, each in per cent of itself."""
        asked = {gene: self.asked(gene, ("scale", gene)) for gene in self.overlay.scale}
        if not self.overlay.scale or self.faults:
            return
        values = self.overlay.settings.get("values")
        if isinstance(values, Mapping) and isinstance(values.get("wanted"), list):
            expected = "wishes by morph where prices are scaled, not a new list"
            self.fault(WANTED, "a list", expected)
            return
        met: set[str] = set()
        for path, texts, figure in self.prices():
            named = [self.genes(text) for text in texts]
            keys = [key for key, genes in asked.items() if any(genes <= own for own in named)]
            met.update(keys)
            if keys:
                factor = math.prod(self.overlay.scale[key] for key in keys)
                value = f"{(factor - 1) * 100:+.10g}%" if figure is None else figure(factor)
                self.add(path, value, ("scale", keys[0]))
        for key in asked.keys() - met:
            self.fault(("scale", key), quote(key), "a gene that some price names")

    def prices(self) -> Iterator[_Priced]:
        """Yield every price: its path, the morphs it is of, and how to write it if not in %."""
        values = self.records.settings.values
        for wanted in values.wanted:
            path: Path = (*WANTED, wanted.morph)
            yield (*path, "value"), (wanted.morph,), None
            if wanted.value_after is not None:
                yield (*path, "value_after"), (wanted.morph,), None
            if wanted.keep is not None and wanted.keep.extra:
                yield (*path, "keep", "extra"), (wanted.morph,), None
            if wanted.keep is not None and wanted.keep.worth is not None:
                yield (*path, "keep", "worth"), (wanted.morph,), None
        for morph in values.combinations:
            yield ("values", "combinations", morph), (morph,), None
        for kind in ("visual", "het"):
            for gene in getattr(values.extra, kind):
                yield ("values", "extra", kind, gene), (gene,), None
        if values.markets:
            yield from self.markets()

    def markets(self) -> Iterator[_Priced]:
        """Yield the markets, whose list is written anew as a whole."""
        markets = self.records.settings.values.markets
        asked = {gene: self.genes(gene) for gene in self.overlay.scale}

        def less(market: int) -> float:
            named = [self.genes(morph) for morph in markets[market].morphs]
            keys = [key for key, genes in asked.items() if any(genes <= own for own in named)]
            factor = math.prod(self.overlay.scale[key] for key in keys)
            return round(markets[market].less * factor, 6)

        def written(_: float) -> object:
            return [
                {
                    "morphs": list(each.morphs),
                    "need": str(each.need),
                    "less": plain_number(less(number)),
                }
                for number, each in enumerate(markets)
            ]

        morphs = tuple(morph for market in markets for morph in market.morphs)
        yield ("values", "markets"), morphs, written

    def groups(self) -> None:
        """Write out ``groups``: every animal that is so, as a row of its own."""
        for number, group in enumerate(self.overlay.groups):
            path: Path = ("groups", number)
            before = len(self.faults)
            line = None
            if "line" in group.where:
                line = self.asked(group.where["line"], (*path, "where", "line"))
            if len(self.faults) > before:
                continue
            chosen = [
                animal
                for animal in self.records.known
                if _is_so(animal, group.where)
                and (line is None or line <= self.genes(animal.morph))
            ]
            touched = 0
            for animal in chosen:
                for column, value in group.columns.items():
                    if self.changes(animal, column, value):
                        self.add(("animals", animal.id, column), value, path)
                        touched += 1
            if not touched:
                told = ", ".join(f"{key}: {value}" for key, value in group.where.items())
                self.fault((*path, "where"), quote(told), "animals that the group would change")

    def changes(self, animal: Animal, column: str, value: object) -> bool:
        """Say whether a column of an animal would differ; a difference needs a figure there."""
        now = animal_value(self.records, animal.id, column)
        text = "" if value is None else str(value).strip()
        if parse_step(text) is not None:
            return now is not None
        return (now or "") != text


def _is_so(animal: Animal, where: Mapping[str, str]) -> bool:
    """Say whether an animal is of a sex and status; those outside only where it is asked for."""
    sex, status = where.get("sex", "").strip().casefold(), where.get("status", "").casefold()
    if sex and (animal.sex is None or not str(animal.sex).startswith(sex)):
        return False
    if not status:
        return animal.status is not Status.OUTSIDE
    return str(animal.status) == status.strip()
