"""Entries that say things in trade notation: combination names, and looks that hide others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from brumal.genetics.catalogue.genes import Catalogue, Combination, Mask, fold
from brumal.genetics.catalogue.schema import Entry, HidesEntry, Placed
from brumal.genetics.claims import MorphProblem
from brumal.genetics.genotypes import AllelePair, Claim, ClaimKind
from brumal.genetics.notation.parse import parse_morph
from brumal.records.faults import Fault, Severity, did_you_mean

_ONE_LOCUS = MorphProblem(
    found="more or less than one locus", expected="two alleles of one locus that show"
)


def checked_combinations(
    catalogue: Catalogue, placed: Mapping[str, Placed[Entry]], faults: list[Fault]
) -> dict[str, Combination]:
    """Return the combinations whose parts, readings or make-ups are genes that show; tell others.

    A shipped one can only break through a gene that the keeper has changed: that is a warning.
    """
    kept: dict[str, Combination] = {}
    # Looks of unknown make-up first: a name with more than one meaning may mean one of them.
    for unknown in (True, False):
        for name, combination in catalogue.combinations.items():
            if bool(combination.any_of) == unknown:
                made, problems = _checked(combination, catalogue)
                # Of a shipped name it is enough to know the first thing that broke it.
                told = problems if placed[name].own else problems[:1]
                faults += [_fault(problem, placed[name], name) for problem in told]
                if not problems:
                    kept[name] = made
        catalogue = _with_looks(catalogue, kept)
    return dict(sorted(kept.items()))


def _with_looks(catalogue: Catalogue, kept: Mapping[str, Combination]) -> Catalogue:
    """Return the catalogue with the looks of unknown make-up that could be read, and no other."""
    combinations = {
        name: kept.get(name, combination)
        for name, combination in catalogue.combinations.items()
        if name in kept or not combination.any_of
    }
    lost = catalogue.combinations.keys() - combinations.keys()
    names = {spelling: name for spelling, name in catalogue.names.items() if name not in lost}
    return replace(catalogue, combinations=combinations, names=names)


def _fault(problem: MorphProblem, placed: Placed[Entry], name: str = "") -> Fault:
    """Tell the keeper's own entry as an error, a shipped one that a changed gene broke as less."""
    return Fault(
        where=placed.where,
        found=f"{problem.found} in {name!r}" if name else problem.found,
        expected=problem.expected,
        repair=problem.repair if placed.own else "It is left out.",
        severity=Severity.ERROR if placed.own else Severity.WARNING,
    )


def _checked(
    combination: Combination, catalogue: Catalogue
) -> tuple[Combination, tuple[MorphProblem, ...]]:
    if combination.any_of:
        claims, problems = _looks(combination.any_of, catalogue)
        if problems or len({claim.locus for claim in claims}) != 1:
            return combination, problems or (_ONE_LOCUS,)
        pairs = tuple(sorted(claim.pairs[0] for claim in claims))
        return replace(combination, locus=claims[0].locus, pairs=pairs), ()
    # The name itself is read where it has parts: a combination may hold no other one.
    texts = combination.readings or (combination.name,)
    return combination, tuple(p for text in texts for p in _visual_problems(text, catalogue))


def masks_of(
    entries: Sequence[Placed[HidesEntry]], catalogue: Catalogue, faults: list[Fault]
) -> tuple[Mask, ...]:
    """Return the looks that hide others, the keeper's own first; a pair counts where it is first.

    A look that hides nothing is no mask: that is how a keeper takes a shipped one back.
    """
    found: list[Mask] = []
    taken: set[tuple[str, AllelePair]] = set()
    for placed in sorted(entries, key=lambda placed: not placed.own):
        entry = placed.entry
        claims, problems = _looks(entry.looks, catalogue)
        if entry.genes != "all":
            problems = (*problems, *_unknown(entry.genes, catalogue))
        problems = (*problems, *_unknown(entry.but, catalogue))
        faults += [_fault(problem, placed) for problem in problems]
        if problems and placed.own:
            continue
        hides = _loci(catalogue.alleles if entry.genes == "all" else entry.genes, catalogue)
        hides -= _loci(entry.but, catalogue)
        by_locus: dict[str, set[AllelePair]] = {}
        for claim in claims:
            fresh = {pair for pair in claim.pairs if (claim.locus, pair) not in taken}
            taken |= {(claim.locus, pair) for pair in fresh}
            by_locus.setdefault(claim.locus, set()).update(fresh)
        found += [
            Mask(
                locus=locus,
                pairs=frozenset(pairs),
                hides=frozenset(hides - {locus}),
                source=entry.source,
                note=" ".join(entry.note.split()),
            )
            for locus, pairs in by_locus.items()
            if pairs and hides - {locus}
        ]
    return tuple(found)


def _loci(genes: Sequence[str] | Mapping[str, object], catalogue: Catalogue) -> set[str]:
    return {catalogue.alleles[catalogue.names[fold(gene)]].locus for gene in genes}


def _unknown(genes: Sequence[str], catalogue: Catalogue) -> tuple[MorphProblem, ...]:
    return tuple(
        MorphProblem(
            found=f"the unknown gene {gene!r}",
            expected="a gene of the catalogue",
            repair=did_you_mean(gene, catalogue.alleles),
        )
        for gene in genes
        if catalogue.names.get(fold(gene)) not in catalogue.alleles
    )


def _looks(
    texts: Sequence[str], catalogue: Catalogue
) -> tuple[list[Claim], tuple[MorphProblem, ...]]:
    """Read looks of one locus each."""
    claims: list[Claim] = []
    problems: list[MorphProblem] = []
    for text in texts:
        morph, unread = parse_morph(text, catalogue)
        problems += [*unread, *(_visual_problems(text, catalogue) if morph else ())]
        if morph is not None and len(morph.claims) != 1:
            problems.append(replace(_ONE_LOCUS, found=f"{text!r}, of more or less than one locus"))
        elif morph is not None:
            claims += morph.claims
    return claims, tuple(problems)


def _visual_problems(text: str, catalogue: Catalogue) -> tuple[MorphProblem, ...]:
    """Return what keeps a text from being genes that show."""
    morph, problems = parse_morph(text, catalogue)
    if morph is None:
        return problems
    hidden = [
        claim
        for claim in morph.claims
        if claim.kind not in (ClaimKind.VISUAL, ClaimKind.ANY_OF)
        and claim.pairs[0][0] != claim.pairs[0][1]
    ]
    return (
        (MorphProblem(found="hets or pinned pairs", expected="genes that show, or supers"),)
        if hidden
        else ()
    )
