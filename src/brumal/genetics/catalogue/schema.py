"""The form of ``genes.yaml``: what an entry of each section holds, and every fault by line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError
from pydantic_core import ErrorDetails

from brumal.genetics.catalogue.genes import COMMON_PRACTICE, Harm, Inheritance
from brumal.records.animals import Sex
from brumal.records.faults import Fault, Where, did_you_mean
from brumal.records.yaml_text import Path, Place

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


class Entry(BaseModel):
    """What all entries share: no unknown keys, never changed, a source."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    source: Name = COMMON_PRACTICE


class GeneEntry(Entry):
    """A gene; without a ``locus`` it has one of its own, named after it in small letters."""

    name: Name
    inheritance: Inheritance
    locus: Name | None = None
    super_name: Name | None = Field(default=None, alias="super")
    aliases: tuple[Name, ...] = ()
    note: str = ""


class LocusEntry(Entry):
    """A locus that does not bear the name of one of its genes."""

    locus: Name


class LinkageEntry(Entry):
    """Loci inherited together, in order, with the fraction between each and the next."""

    group: Name
    loci: tuple[Name, ...] = Field(min_length=2)
    recombination: tuple[Annotated[float, Field(ge=0, le=0.5)], ...]


class CombinationEntry(Entry):
    """A name for several genes, its ``parts``; or for one of several things.

    A name has ``readings`` where it may mean different things, ``any_of`` where several make-ups
    of one locus look the same.
    """

    name: Name
    parts: str = ""
    readings: tuple[Name, ...] = ()
    any_of: tuple[Name, ...] = ()
    aliases: tuple[Name, ...] = ()
    note: str = ""


class HidesEntry(Entry):
    """Looks, each of one locus, that hide other genes: those named, or ``all`` ``but`` some."""

    looks: tuple[Name, ...] = Field(min_length=1)
    genes: Literal["all"] | tuple[Name, ...]
    but: tuple[Name, ...] = ()
    note: str = ""


class WelfareEntry(Entry):
    """A disorder and the genotype it is tied to."""

    harm: Harm
    carries: dict[Name, Annotated[int, Field(ge=1, le=2)]] = Field(min_length=1)
    text: Name
    sex: Sex | None = None
    fertile: Annotated[float, Field(ge=0, le=1)] = 1.0


E = TypeVar("E", bound=Entry, covariant=True)


@dataclass(frozen=True, slots=True)
class Placed(Generic[E]):
    """An entry, where it stands, and whether it is the keeper's own."""

    entry: E
    where: Where
    own: bool


@dataclass(frozen=True, slots=True)
class GeneFile:
    """The entries of one file, section by section."""

    genes: tuple[Placed[GeneEntry], ...] = ()
    loci: tuple[Placed[LocusEntry], ...] = ()
    linkage: tuple[Placed[LinkageEntry], ...] = ()
    combinations: tuple[Placed[CombinationEntry], ...] = ()
    hides: tuple[Placed[HidesEntry], ...] = ()
    welfare: tuple[Placed[WelfareEntry], ...] = ()


SECTIONS: Mapping[str, type[Entry]] = {
    "loci": LocusEntry,
    "genes": GeneEntry,
    "linkage": LinkageEntry,
    "combinations": CombinationEntry,
    "hides": HidesEntry,
    "welfare": WelfareEntry,
}
_WORDS = {
    "inheritance": "recessive, incomplete dominant or dominant",
    "harm": "lethal, neurological, shape, fertility, laying or eyes",
    "sex": "female or male",
    "fertile": "a share from 0 to 1 of the usual fertility, such as 0.5",
    "recombination": "a list of recombination fractions, each from 0 to 0.5",
    "loci": "a list of two or more loci, such as [sex, banana]",
    "aliases": "a list of names, such as [Pied]",
    "readings": "a list of two or more readings in trade notation",
    "any_of": "a list of two or more make-ups, such as [Super Mojave, Super Lesser]",
    "looks": "a list of looks in trade notation, such as [Ivory]",
    "genes": "all, or a list of the genes that cannot be seen",
    "but": "a list of genes that can be seen all the same",
    "carries": "genes with their number of copies (1 or 2), such as {Spider: 1}",
}
_ITEM_WORDS = {
    "recombination": "a recombination fraction from 0 to 0.5",
    "carries": "1 or 2 copies",
}


def entries_of(
    data: object, file: str, lines: Mapping[Path, int], *, own: bool
) -> tuple[GeneFile, list[Fault]]:
    """Check a file's data section by section; a faulty entry is left out and told."""
    faults: list[Fault] = []
    place = Place(file, lines)
    if not isinstance(data, Mapping):
        if data is not None:
            faults.append(
                Fault(
                    where=place(()),
                    found="no sections",
                    expected=f"the sections {', '.join(SECTIONS)}",
                )
            )
        return GeneFile(), faults
    for key in data:
        if key not in (*SECTIONS, "version", "sources"):
            faults.append(_unknown_key((str(key),), ("version", "sources", *SECTIONS), place))
    if str(data.get("version", "1")) != "1":
        faults.append(
            Fault(
                where=place(("version",)),
                found=f"version {data['version']}",
                expected="version 1, the only form of this file so far",
            )
        )
    sources = _sources(data.get("sources"), place, faults)
    read: dict[str, tuple[Placed[Any], ...]] = {
        section: tuple(_section(section, data.get(section), sources, place, faults, own=own))
        for section in SECTIONS
    }
    return GeneFile(**read), faults


def _sources(found: object, place: Place, faults: list[Fault]) -> Mapping[str, str]:
    """Return the short names of sources that entries may use instead of the full reference."""
    if found is None:
        return {}
    if isinstance(found, Mapping) and all(isinstance(text, str) for text in found.values()):
        return {str(key): " ".join(str(text).split()) for key, text in found.items()}
    faults.append(
        Fault(
            where=place(("sources",)),
            found="something else",
            expected="short names with the full reference of each",
        )
    )
    return {}


def _section(
    section: str,
    found: object,
    sources: Mapping[str, str],
    place: Place,
    faults: list[Fault],
    *,
    own: bool,
) -> Iterator[Placed[Entry]]:
    if found is None:
        return
    if not isinstance(found, list):
        faults.append(
            Fault(
                where=place((section,)),
                found="no list",
                expected=f"a list of {section}, each entry after a dash",
            )
        )
        return
    for index, item in enumerate(found):
        path: Path = (section, index)
        try:
            entry = SECTIONS[section].model_validate(_with_source(item, sources))
        except ValidationError as error:
            faults.extend(_entry_faults(error, path, SECTIONS[section], place))
        else:
            yield Placed(entry, place(path), own)


def _with_source(item: object, sources: Mapping[str, str]) -> object:
    """Write out a source given by its short name; an empty key counts as left out."""
    if not isinstance(item, Mapping):
        return item
    filled = {key: value for key, value in item.items() if value is not None}
    source = filled.get("source")
    if isinstance(source, str) and source in sources:
        filled["source"] = sources[source]
    return filled


def _entry_faults(
    error: ValidationError, path: Path, model: type[Entry], place: Place
) -> Iterator[Fault]:
    keys = tuple(field.alias or name for name, field in model.model_fields.items())
    told: set[Path] = set()
    for detail in error.errors(include_url=False):
        inside = tuple(part for part in detail["loc"] if part != "[key]")
        if (*path, *inside) in told:
            continue
        told.add((*path, *inside))
        if detail["type"] == "extra_forbidden" and len(inside) == 1:
            yield _unknown_key((*path, *inside), keys, place)
        else:
            yield _wrong_value((*path, *inside), detail, keys, place)


def _unknown_key(path: Path, known: Iterable[str], place: Place) -> Fault:
    key = str(path[-1])
    return Fault(
        where=place(path),
        found=f"an unknown key {key!r}",
        expected=f"one of {', '.join(known)}",
        repair=did_you_mean(key, known),
    )


def _wrong_value(path: Path, detail: ErrorDetails, keys: Iterable[str], place: Place) -> Fault:
    field = next((part for part in path[2:] if isinstance(part, str)), "")
    words = _WORDS.get(field, "text") if field else f"the keys {', '.join(keys)}"
    if len(path) > 3:
        words = _ITEM_WORDS.get(field, "text")
    value = detail["input"]
    return Fault(
        where=place(path),
        found="nothing" if detail["type"] == "missing" else _shown(value),
        expected=words,
        repair=did_you_mean(value, words.replace(" or ", ", ").split(", "))
        if isinstance(value, str)
        else "",
    )


def _shown(value: object) -> str:
    if isinstance(value, Mapping):
        return f"a group with the keys {', '.join(map(str, value))}" if value else "an empty group"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    return repr(str(value))
