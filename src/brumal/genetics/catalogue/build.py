"""From the entries of gene files to one checked catalogue."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from brumal.genetics.catalogue.genes import (
    Allele,
    Catalogue,
    Combination,
    Inheritance,
    LinkageGroup,
    WelfareNote,
    fold,
)
from brumal.genetics.catalogue.names import checked_combinations, masks_of
from brumal.genetics.catalogue.schema import (
    CombinationEntry,
    Entry,
    GeneEntry,
    GeneFile,
    LinkageEntry,
    Placed,
    WelfareEntry,
)
from brumal.genetics.catalogue.vocabulary import KEYWORDS
from brumal.genetics.genotypes import SEX_GROUP, SEX_LOCUS
from brumal.records.faults import Fault, Severity, Where, did_you_mean

_SPELLING = re.compile(r"[^\W_]+(?:[ .'’-]+[^\W_]+)*")


@dataclass(frozen=True, slots=True)
class _Owner:
    """What a spelling stands for, and the entry that gives it."""

    canonical: str
    placed: Placed[Entry]


@dataclass(slots=True)
class _Draft:
    """A catalogue in the making; ``reserved`` holds the spellings shipped genes cannot lose."""

    alleles: dict[str, Allele] = field(default_factory=dict)
    combinations: dict[str, Combination] = field(default_factory=dict)
    owners: dict[str, _Owner] = field(default_factory=dict)
    reserved: Mapping[str, str] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def tell(
        self,
        where: Where,
        found: str,
        expected: str,
        repair: str = "",
        severity: Severity = Severity.ERROR,
    ) -> None:
        """Note a fault."""
        fault = Fault(where=where, found=found, expected=expected, repair=repair, severity=severity)
        self.faults.append(fault)


def build_catalogue(file: GeneFile) -> tuple[Catalogue, tuple[Fault, ...]]:
    """Join the entries into a catalogue; a faulty entry is left out and told.

    The keeper's own entries take a spelling before the shipped ones do.
    """
    draft = _Draft(reserved=_reserved(file))
    declared = {placed.entry.locus.casefold() for placed in file.loci}
    declared |= {placed.entry.name.casefold() for placed in file.genes if not placed.entry.locus}
    for own in (True, False):
        for gene in file.genes:
            if gene.own == own:
                _add_gene(draft, gene, declared)
        for combination in file.combinations:
            if combination.own == own:
                _add_combination(draft, combination)
    _check_prefixes(draft)
    loci: dict[str, tuple[str, ...]] = {}
    for name, allele in sorted(draft.alleles.items()):
        loci[allele.locus] = (*loci.get(allele.locus, ()), name)
    catalogue = Catalogue(
        alleles=dict(sorted(draft.alleles.items())),
        loci=dict(sorted(loci.items())),
        groups=_groups(draft, file.linkage, loci),
        combinations=dict(sorted(draft.combinations.items())),
        welfare=tuple(_welfare(draft, file.welfare)),
        names={spelling: owner.canonical for spelling, owner in sorted(draft.owners.items())},
    )
    combinations = checked_combinations(
        catalogue,
        {name: draft.owners[fold(name)].placed for name in catalogue.combinations},
        draft.faults,
    )
    catalogue = replace(
        catalogue,
        combinations=combinations,
        names={
            spelling: name
            for spelling, name in catalogue.names.items()
            if name in combinations or name not in catalogue.combinations
        },
    )
    catalogue = replace(catalogue, masks=masks_of(file.hides, catalogue, draft.faults))
    return catalogue, tuple(sorted(draft.faults, key=lambda fault: fault.where.row or 0))


def _reserved(file: GeneFile) -> dict[str, str]:
    """Return what the names and super names of shipped genes stand for.

    The notation writes genes with these spellings, so nothing else may take them.
    """
    shipped = [placed.entry for placed in file.genes if not placed.own]
    names = {fold(entry.name): repr(entry.name) for entry in shipped}
    supers = {
        fold(name): f"two copies of {entry.name!r}"
        for entry in shipped
        if (name := _super_name(entry)) is not None
    }
    return supers | names


def _super_name(entry: GeneEntry) -> str | None:
    """Return what two copies are called, ``None`` for a recessive: they are the visual."""
    if entry.inheritance is Inheritance.RECESSIVE:
        return None
    return entry.super_name or f"Super {entry.name}"


def _add_gene(draft: _Draft, placed: Placed[GeneEntry], declared: set[str]) -> None:
    entry = placed.entry
    locus = (entry.locus or entry.name).casefold()
    super_name = _super_name(entry)
    if locus not in declared or locus == SEX_LOCUS:
        draft.tell(
            placed.where,
            f"the unknown locus {entry.locus!r}",
            "a locus under 'loci', or the name of a gene that has one of its own",
            did_you_mean(locus, sorted(declared)),
        )
        return
    if super_name is None and entry.super_name is not None:
        draft.tell(
            placed.where,
            f"the super name {entry.super_name!r} for a recessive",
            "no super name: two copies of a recessive are the visual",
        )
        return
    if not _take(draft, entry.name, entry.name, placed):
        return
    if super_name is not None and not _take(draft, super_name, super_name, placed):
        del draft.owners[fold(entry.name)]
        return
    draft.alleles[entry.name] = Allele(
        name=entry.name,
        locus=locus,
        inheritance=entry.inheritance,
        super_name=super_name or entry.name,
        aliases=_aliases(draft, entry.aliases, entry.name, placed),
        source=entry.source,
        note=" ".join(entry.note.split()),
    )


def _add_combination(draft: _Draft, placed: Placed[CombinationEntry]) -> None:
    entry = placed.entry
    given = [key for key in ("parts", "readings", "any_of") if getattr(entry, key)]
    if len(given) != 1 or 1 in (len(entry.readings), len(entry.any_of)):
        alone = f"one of {given[0]} alone" if len(given) == 1 else " and ".join(given)
        draft.tell(
            placed.where,
            f"{entry.name!r} with {alone or 'neither parts, readings nor any_of'}",
            "either parts, or two or more readings, or any_of two or more make-ups",
        )
        return
    if not _take(draft, entry.name, entry.name, placed):
        return
    draft.combinations[entry.name] = Combination(
        name=entry.name,
        parts=entry.parts,
        readings=entry.readings,
        any_of=entry.any_of,
        aliases=_aliases(draft, entry.aliases, entry.name, placed),
        source=entry.source,
        note=" ".join(entry.note.split()),
    )


def _aliases(
    draft: _Draft, aliases: tuple[str, ...], canonical: str, placed: Placed[Entry]
) -> tuple[str, ...]:
    return tuple(alias for alias in aliases if _take(draft, alias, canonical, placed))


def _take(draft: _Draft, spelling: str, canonical: str, placed: Placed[Entry]) -> bool:
    """Give a spelling to an entry; say whether it could have it."""
    key = fold(spelling)
    if not _SPELLING.fullmatch(spelling) or key in KEYWORDS or key.isdigit():
        draft.tell(
            placed.where,
            f"the spelling {spelling!r}",
            "letters and digits, with spaces, hyphens or apostrophes between them, and no word "
            "that the notation itself uses",
        )
        return False
    owner = draft.owners.get(key)
    if owner is None and not (placed.own and key in draft.reserved):
        draft.owners[key] = _Owner(canonical, placed)
        return True
    if owner is not None and owner.placed is placed:
        return True
    if owner is not None and owner.placed.own and not placed.own:
        draft.tell(
            owner.placed.where,
            f"{spelling!r}, which the shipped catalogue uses otherwise",
            "a spelling that is free",
            f"It now stands for {owner.canonical!r} of your own.",
            Severity.NOTICE,
        )
        return False
    taken = repr(owner.canonical) if owner is not None else draft.reserved[key]
    draft.tell(
        placed.where,
        f"the spelling {spelling!r} for {canonical!r}",
        f"each spelling for one thing; this one stands for {taken}",
        "Choose another name or alias.",
    )
    return False


def _check_prefixes(draft: _Draft) -> None:
    """Refuse names that read as ``het`` or ``super`` before another gene's name."""
    for key, owner in sorted(draft.owners.items()):
        for word in ("het", "super"):
            other = draft.owners.get(key.removeprefix(word)) if key.startswith(word) else None
            allele = draft.alleles.get(other.canonical) if other else None
            if allele is None or owner.canonical in (allele.name, allele.super_name):
                continue
            draft.tell(
                owner.placed.where,
                f"a spelling of {owner.canonical!r} that reads as {word + ' ' + allele.name!r}",
                "a spelling with one meaning",
                "Choose another name or alias.",
            )


def _groups(
    draft: _Draft, linkage: tuple[Placed[LinkageEntry], ...], loci: Mapping[str, object]
) -> dict[str, LinkageGroup]:
    groups: dict[str, LinkageGroup] = {}
    placed_loci: dict[str, str] = {}
    # Shipped groups first: a keeper's group that takes a locus from one is told of it.
    for placed in sorted(linkage, key=lambda placed: placed.own):
        entry = placed.entry
        names = tuple(locus.casefold() for locus in entry.loci)
        problem = _linkage_problem(entry, names, loci, placed_loci)
        if problem:
            draft.tell(placed.where, *problem)
            continue
        group = entry.group.casefold()
        placed_loci |= dict.fromkeys(names, group)
        groups[group] = LinkageGroup(
            id=group, loci=names, recombination=entry.recombination, source=entry.source
        )
    groups.setdefault(SEX_GROUP, LinkageGroup(id=SEX_GROUP, loci=(SEX_LOCUS,)))
    for locus in loci:
        if locus not in placed_loci:
            groups[locus] = LinkageGroup(id=locus, loci=(locus,))
    return dict(sorted(groups.items()))


def _linkage_problem(
    entry: LinkageEntry,
    names: tuple[str, ...],
    loci: Mapping[str, object],
    placed_loci: Mapping[str, str],
) -> tuple[str, str, str] | None:
    """Return what is wrong with a linkage group: found, expected, repair."""
    group = entry.group.casefold()
    unknown = [name for name in names if name not in loci and name != SEX_LOCUS]
    if unknown:
        repair = did_you_mean(unknown[0], loci)
        return f"the unknown locus {unknown[0]!r}", "a locus of the catalogue", repair
    twice = [name for name in names if name in placed_loci or names.count(name) > 1]
    if twice:
        there = placed_loci.get(twice[0], group)
        found = f"the locus {twice[0]!r}, which the group {there!r} holds too"
        return found, "each locus once, in one linkage group", "Write all loci of a group as one."
    if len(entry.recombination) != len(names) - 1:
        found = f"{len(entry.recombination)} recombination fractions for {len(names)} loci"
        return found, f"{len(names) - 1}: one between each locus and the next", ""
    if (SEX_LOCUS in names or group == SEX_GROUP) and (names[0], group) != (SEX_LOCUS, SEX_GROUP):
        return f"the group {entry.group!r}", "the group 'sex', with the locus 'sex' first", ""
    if group in loci and group not in names:
        return f"the group {entry.group!r}", "a name that no locus outside the group has", ""
    return None


def _welfare(draft: _Draft, notes: tuple[Placed[WelfareEntry], ...]) -> Iterator[WelfareNote]:
    for placed in notes:
        entry = placed.entry
        carries: dict[str, int] = {}
        at_locus: dict[str, int] = {}
        for name, copies in entry.carries.items():
            owner = draft.owners.get(fold(name))
            allele = draft.alleles.get(owner.canonical) if owner else None
            if allele is None:
                draft.tell(
                    placed.where,
                    f"the unknown gene {name!r}",
                    "a gene of the catalogue",
                    did_you_mean(name, draft.alleles),
                )
                break
            carries[allele.name] = carries.get(allele.name, 0) + copies
            at_locus[allele.locus] = at_locus.get(allele.locus, 0) + copies
        else:
            if max(at_locus.values()) > 2:
                draft.tell(placed.where, "three copies at one locus", "two at the most")
                continue
            yield WelfareNote(
                harm=entry.harm,
                carries=dict(sorted(carries.items())),
                text=" ".join(entry.text.split()),
                source=entry.source,
                sex=entry.sex,
                fertile=entry.fertile,
            )
