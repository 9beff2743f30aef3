"""What the evidence makes the keeper look at: contradictions, proofs, figures that differ."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.evidence.bucket_tree import LARGEST_TABLE
from brumal.genetics.evidence.clutch_evidence import ClutchYoung
from brumal.genetics.evidence.family_network import Item, forward
from brumal.genetics.evidence.group_solver import GroupResult
from brumal.genetics.evidence.kindred import Kindred
from brumal.genetics.genotypes import WILD, Claim, ClaimKind, Morph
from brumal.genetics.looks import pair_at
from brumal.genetics.notation.words import carried_words, format_chance, format_morph
from brumal.records.animals import Animal
from brumal.records.faults import Severity

TOLD_DIFFERENCE = 0.02
"""A stated possible het is reported when the pedigree's figure differs by more than this."""

_SURE = 1 - 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class GeneticFinding:
    """One thing that the evidence shows, in the words of a fault.

    ``animals`` are the ids concerned, young before their parents in a contradiction;
    ``clutch_rows`` are the rows of the clutches table.
    """

    animals: tuple[str, ...]
    severity: Severity
    found: str
    expected: str
    repair: str = ""
    clutch_rows: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Collection:
    """What the findings speak of."""

    kin: Kindred
    animals: Mapping[str, Animal]
    morphs: Mapping[str, Morph]
    clutches: Sequence[ClutchYoung]
    catalogue: Catalogue

    def label(self, number: int) -> str:
        """Return how an animal is named to the keeper."""
        return self.kin.labels[number]

    def ids(self, numbers: Iterable[int]) -> tuple[str, ...]:
        """Return the ids of those animals that have one."""
        return tuple(self.kin.ids[n] for n in numbers if not self.kin.is_anonymous(n))

    def words(self, morph: Morph) -> str:
        """Return a morph as it is quoted."""
        return f"'{format_morph(morph, self.catalogue)}'"


def findings_of(
    collection: Collection, groups: Mapping[str, GroupResult]
) -> tuple[GeneticFinding, ...]:
    """Return every finding, errors first, then in the order of linkage groups."""
    found = [
        finding
        for result in groups.values()
        for each in (_clashes, _approximations, _proofs, _differing_figures)
        for finding in each(collection, result)
    ]
    rank = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTICE: 2}
    return tuple(sorted(found, key=lambda finding: rank[finding.severity]))


def alleles_named(collection: Collection, result: GroupResult, items: Iterable[Item]) -> list[str]:
    """Return the mutant alleles that these pieces of evidence speak of, sorted."""
    loci = result.evidence.space.group.loci
    named = {
        allele
        for item in items
        for claim in _claims(collection, item)
        if claim.locus in loci
        for pair in claim.pairs
        for allele in pair
    }
    return sorted(named - {WILD})


def _claims(collection: Collection, item: Item) -> tuple[Claim, ...]:
    kind, place = item
    if kind == "animal":
        return collection.morphs.get(collection.kin.ids[place], Morph()).claims
    return tuple(claim for _, morph in collection.clutches[place].young for claim in morph.claims)


def carrier_chance(result: GroupResult, number: int, locus: str, allele: str) -> float:
    """Return the probability that an animal carries one or two copies of the allele."""
    space = result.evidence.space
    place = space.group.loci.index(locus)
    return sum(
        chance
        for state, chance in result.odds(number)
        if allele in pair_at(space.pairs[state], place)
    )


def _clashes(collection: Collection, result: GroupResult) -> Iterator[GeneticFinding]:
    for clash in result.clashes:
        # Young stand after their parents in the numbering: the youngest is named first.
        by_age = [(result.evidence.numbers(item), item) for item in clash]
        by_age.sort(key=lambda both: (max(both[0]), len(both[0])), reverse=True)
        items = [item for _, item in by_age]
        numbers = list(dict.fromkeys(n for item in items for n in result.evidence.numbers(item)))
        named = alleles_named(collection, result, clash)
        told = "; ".join(_told(collection, item, set(numbers), result) for item in items)
        names = ", ".join(collection.label(n) for n in numbers)
        yield GeneticFinding(
            animals=collection.ids(numbers),
            severity=Severity.ERROR,
            found=f"records of {', '.join(named) or 'genes'} that cannot all be true: {told}",
            expected="young that carry only what their parents can pass on",
            repair=f"Check the morphs and the parents of {names}; one of these records is wrong.",
            clutch_rows=_rows(collection, clash),
        )


def _told(collection: Collection, item: Item, others: set[int], result: GroupResult) -> str:
    """Say in a few words what a piece of evidence is."""
    kin = collection.kin
    kind, place = item
    if kind == "animal":
        text = f"{collection.label(place)} is {collection.words(_morph(collection, place))}"
        parents = kin.parents[place]
        if parents is not None and others & set(parents):
            dam, sire = (collection.label(parent) for parent in parents)
            text += f", young of {dam} and {sire}"
        return text
    dam, sire = (collection.label(parent) for parent in kin.clutches[place])
    loci = result.evidence.space.group.loci
    young = [morph for _, morph in collection.clutches[place].young]
    telling = [morph for morph in young if any(claim.locus in loci for claim in morph.claims)]
    words = ", ".join(dict.fromkeys(collection.words(morph) for morph in telling or young))
    row = collection.clutches[place].row
    where = f" (row {row})" if row else ""
    return f"the clutch of {dam} and {sire}{where} has young {words}"


def _proofs(collection: Collection, result: GroupResult) -> Iterator[GeneticFinding]:
    if not result.proofs:
        return
    recorded, _ = forward(result.evidence.network(()))
    for item in result.proofs:
        for allele in alleles_named(collection, result, [item]):
            finding = _proof(collection, result, item, allele, recorded)
            if finding is not None:
                yield finding


def _proof(
    collection: Collection,
    result: GroupResult,
    item: Item,
    allele: str,
    recorded: Mapping[int, int],
) -> GeneticFinding | None:
    """Return what one piece of evidence proves of the ancestors that no record explains."""
    kin, space = collection.kin, result.evidence.space
    locus = collection.catalogue.alleles[allele].locus
    place = space.group.loci.index(locus)
    own = {item[1]} if item[0] == "animal" else set()
    chances = {
        number: carrier_chance(result, number, locus, allele)
        for number in sorted(kin.ancestors(result.evidence.numbers(item)) - own)
        if not kin.is_anonymous(number) and not space.has_allele(recorded[number], place, allele)
    }
    sure = [number for number, chance in chances.items() if chance >= _SURE]
    maybe = [number for number, chance in chances.items() if 0 < chance < _SURE]
    if not sure and not maybe:
        return None
    if sure:
        names = " and ".join(collection.label(number) for number in sure)
        verb = "carry" if len(sure) > 1 else "carries"
        repair = f"This proves that {names} {verb} {allele}: write it in the morph."
    else:
        names = ", ".join(
            f"{collection.label(number)} ({100 * chances[number]:.0f}%)" for number in maybe
        )
        repair = f"Of these at least one carries {allele}: {names}."
    return GeneticFinding(
        animals=collection.ids(sure or maybe),
        severity=Severity.NOTICE,
        found=f"{_told(collection, item, set(chances), result)}",
        expected=f"ancestors on record as carrying {allele}",
        repair=repair,
        clutch_rows=_rows(collection, [item]),
    )


def _differing_figures(collection: Collection, result: GroupResult) -> Iterator[GeneticFinding]:
    kin = collection.kin
    for number, claims in sorted(result.evidence.claims.items()):
        for claim in claims:
            if claim.kind is ClaimKind.POSSIBLE_HET:
                allele = claim.pairs[0][1]
                chance = carrier_chance(result, number, claim.locus, allele)
                own_word = kin.parents[number] is None or number in result.evidence.brought
                told = chance >= _SURE if own_word else abs(chance - claim.chance) > TOLD_DIFFERENCE
                if told and claim.chance < 1:
                    yield _figure(collection, number, allele, claim.chance, chance)


def _figure(
    collection: Collection, number: int, allele: str, stated: float, chance: float
) -> GeneticFinding:
    words = carried_words(allele, collection.catalogue)
    if chance >= _SURE:
        expected = f"{words} for certain: parents and young prove it"
        repair = f"Write '{words}'."
    elif chance <= 0:
        expected, repair = f"no {allele}: parents and young rule it out", f"Leave out {allele}."
    else:
        expected = f"{100 * chance:.1f}% by its parents and all recorded young"
        repair = "The pedigree's figure is used."
    return GeneticFinding(
        animals=collection.ids([number]),
        severity=Severity.NOTICE,
        found=f"{collection.label(number)} as {format_chance(stated)} {words}",
        expected=expected,
        repair=repair,
    )


def _approximations(collection: Collection, result: GroupResult) -> Iterator[GeneticFinding]:
    for part in result.parts:
        if part.tree is None:
            loci = ", ".join(result.evidence.space.group.loci)
            yield GeneticFinding(
                animals=collection.ids(part.numbers),
                severity=Severity.WARNING,
                found=(
                    f"{len(part.numbers)} animals so closely tied in {loci} that exact chances "
                    f"need a table of {part.cells:,} cells"
                ),
                expected=f"at most {LARGEST_TABLE:,} cells",
                repair=(
                    f"Their chances at {loci} are approximate (loopy belief propagation), and each "
                    "pair is reckoned as if its two animals were independent there."
                ),
            )


def _morph(collection: Collection, number: int) -> Morph:
    return collection.morphs.get(collection.kin.ids[number], Morph())


def _rows(collection: Collection, items: Iterable[Item]) -> tuple[int, ...]:
    rows = (collection.clutches[place].row for kind, place in items if kind == "clutch")
    return tuple(sorted({row for row in rows if row}))
