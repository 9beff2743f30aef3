"""One animal on a sheet: genes and why they are known, kin, clutches, weights, the verdicts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from brumal.forecast.weight import WeightSeries
from brumal.genetics.evidence.findings import GeneticFinding
from brumal.genetics.evidence.why_known import why_known
from brumal.genetics.notation.parse import format_morph
from brumal.genetics.welfare import WelfareRisk, animal_welfare
from brumal.insight.sheets.known_genes import GeneOdds, gene_odds
from brumal.pedigree.completeness import known_generations, known_shares
from brumal.pedigree.graph import Pedigree
from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.pair import PairMember
from brumal.pedigree.relationship import relationship
from brumal.pipeline import Prepared
from brumal.records.animals import Animal, Clutch
from brumal.records.settings import SeasonDates
from brumal.rules.readiness import Readiness, readiness
from brumal.rules.table import judge_animal
from brumal.rules.verdict import RuleVerdict


@dataclass(frozen=True, slots=True, kw_only=True)
class ClutchOnRecord:
    """A clutch of hers or his; ``mate`` is the other parent's label, empty where not known."""

    clutch: Clutch
    mate: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Relative:
    """Another animal or ancestor: its label, and its row where it has one."""

    label: str
    animal: Animal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mate:
    """A mate on record, the relationship in words and F of their young as recorded."""

    label: str
    relation: str
    F: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """Kin on record; a parent that is not known is ``None``.

    ``half`` holds half siblings with the parent they share, ``young`` each young of the animals
    table with the label of its other parent (empty where not known).
    """

    dam: Relative | None
    sire: Relative | None
    full: tuple[Relative, ...]
    half: tuple[tuple[Relative, str], ...]
    mates: tuple[Mate, ...]
    young: tuple[tuple[Relative, str], ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class AnimalSheet:
    """All that is known of one animal.

    ``understood`` is its morph in canonical notation, ``genes`` what is inferred of it and ``why``
    the sentences that say why; ``findings`` are what its genetic records make the keeper look at.
    ``ready`` is ``None`` for an animal outside the collection. ``names`` are all names on the
    sheet. ``as_of`` is the day the season is seen from.
    """

    animal: Animal
    season: SeasonDates
    as_of: date | None
    understood: str
    genes: tuple[GeneOdds, ...]
    why: tuple[str, ...]
    findings: tuple[GeneticFinding, ...]
    risks: tuple[WelfareRisk, ...]
    verdicts: tuple[RuleVerdict, ...]
    ready: Readiness | None
    series: WeightSeries
    clutches: tuple[ClutchOnRecord, ...]
    family: Family
    standing: PairMember
    names: tuple[str, ...]


def animal_sheet(prepared: Prepared, id_: str) -> AnimalSheet:
    """Gather what is known of an animal; raises ``KeyError`` for an id without a row."""
    records, animal = prepared.records, prepared.animals[id_]
    accepted = frozenset(records.settings.rules.accept_welfare)
    judged = readiness(records, prepared.rules, prepared.forecasts, prepared.starts)
    clutches = _clutches(prepared, id_)
    return AnimalSheet(
        animal=animal,
        season=records.settings.season,
        as_of=records.as_of,
        understood=format_morph(prepared.morphs[id_], prepared.catalogue),
        genes=gene_odds(prepared.genotypes[id_], prepared.catalogue),
        why=why_known(prepared.inferred, id_),
        findings=tuple(each for each in prepared.inferred.findings if id_ in each.animals),
        risks=animal_welfare(prepared.genotypes[id_], prepared.catalogue, accepted),
        verdicts=judge_animal(animal, prepared.rules),
        ready=next((one for one in judged if one.animal.id == id_), None),
        series=prepared.rules.series[id_],
        clutches=clutches,
        family=_family(prepared, id_, clutches),
        standing=_standing(prepared.pedigree, id_),
        names=_names(prepared, id_),
    )


def _clutches(prepared: Prepared, id_: str) -> tuple[ClutchOnRecord, ...]:
    """Return the clutches of which the animal is a parent, the earliest first."""
    found = [
        ClutchOnRecord(clutch=clutch, mate=prepared.label(mate) if mate else "")
        for clutch in prepared.records.clutches
        if id_ in (clutch.dam, clutch.sire)
        for mate in [clutch.sire if clutch.dam == id_ else clutch.dam]
    ]
    return tuple(sorted(found, key=lambda each: (str(each.clutch.laid or "~"), each.clutch.row)))


def _family(prepared: Prepared, id_: str, clutches: Iterable[ClutchOnRecord]) -> Family:
    pedigree = prepared.pedigree
    dam, sire = pedigree.parents(id_)
    own_young = sorted(pedigree.young[id_], key=lambda name: _age(prepared, name))
    others = {young: _other_parent(pedigree, young, id_) for young in own_young}
    mates = {other for other in others.values() if other}
    for each in clutches:
        mates |= {each.clutch.dam, each.clutch.sire or id_} - {id_}
    full, half = _siblings(prepared, id_)
    return Family(
        dam=_relative(prepared, dam),
        sire=_relative(prepared, sire),
        full=full,
        half=half,
        mates=tuple(_mate(pedigree, id_, mate) for mate in sorted(mates)),
        young=tuple(
            (_known(prepared, young), prepared.label(other) if other else "")
            for young, other in others.items()
        ),
    )


def _siblings(
    prepared: Prepared, id_: str
) -> tuple[tuple[Relative, ...], tuple[tuple[Relative, str], ...]]:
    """Return full siblings, and half siblings with the parent they share, by id."""
    pedigree = prepared.pedigree
    parents = [parent for parent in pedigree.parents(id_) if parent is not None]
    shared: dict[str, list[str]] = {}
    for parent in parents:
        for young in pedigree.young[parent]:
            if young != id_:
                shared.setdefault(young, []).append(parent)
    full = [_known(prepared, young) for young in sorted(shared) if len(shared[young]) == 2]
    half = [
        (_known(prepared, young), prepared.label(shared[young][0]))
        for young in sorted(shared)
        if len(shared[young]) == 1
    ]
    return tuple(full), tuple(half)


def _age(prepared: Prepared, id_: str) -> tuple[str, str]:
    """Return what sorts animals by age, those of unknown age last."""
    animal = prepared.animals.get(id_)
    return (str(animal.hatched or "~") if animal else "~", id_)


def _other_parent(pedigree: Pedigree, young: str, parent: str) -> str | None:
    dam, sire = pedigree.parents(young)
    return sire if dam == parent else dam


def _relative(prepared: Prepared, id_: str | None) -> Relative | None:
    return None if id_ is None else _known(prepared, id_)


def _known(prepared: Prepared, id_: str) -> Relative:
    return Relative(label=prepared.label(id_), animal=prepared.animals.get(id_))


def _mate(pedigree: Pedigree, one: str, other: str) -> Mate:
    """Return a mate; one of a clutch alone that has no row anywhere is kin to no one on record."""
    if other not in pedigree.index:
        return Mate(label=other, relation="not in the animals table", F=0.0)
    return Mate(
        label=pedigree.label(other),
        relation=relationship(pedigree, one, other).words,
        F=kinship_block(pedigree, (one, other)).phi(one, other),
    )


def _standing(pedigree: Pedigree, id_: str) -> PairMember:
    return PairMember(
        id=id_,
        sex=pedigree.sexes.get(id_),
        F=float(kinship_block(pedigree, (id_,)).F[0]),
        generations=known_generations(pedigree, id_),
        known=tuple(float(share) for share in known_shares(pedigree)[pedigree.index[id_]]),
    )


def _names(prepared: Prepared, id_: str) -> tuple[str, ...]:
    """Return what on the sheet the keeper named: animals, morphs, notes."""
    animals = [name for each in prepared.records.animals for name in (each.label, each.name)]
    own = prepared.animals[id_]
    return (*animals, own.morph, own.notes, prepared.records.settings.season.name)
