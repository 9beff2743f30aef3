"""One cross on a sheet: two parents, how many young, the odds of each kind, welfare, kinship."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from brumal.forecast.clutch import ClutchForecast, clutch_for
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.clutch_odds import Pmf, young_pmf
from brumal.genetics.crosses.cross import parent_belief
from brumal.genetics.crosses.pair_odds import cross_pair
from brumal.genetics.evidence.infer import infer
from brumal.genetics.genotypes import SEX_GROUP, Genotype, Morph
from brumal.genetics.notation.parse import format_morph
from brumal.genetics.welfare import WelfareRisk, animal_welfare, welfare_risks
from brumal.insight.sheets.known_genes import GeneOdds, gene_odds
from brumal.insight.sheets.young_odds import (
    Clutch,
    GenotypeOdds,
    LookOdds,
    Rest,
    WishOdds,
    genotype_odds,
    look_odds,
    wish_odds,
)
from brumal.pedigree.completeness import known_generations
from brumal.pedigree.kinship import kinship_block
from brumal.pedigree.relationship import relationship
from brumal.pipeline import Prepared
from brumal.records.animals import Animal, Sex
from brumal.rules.rule import PairFigures
from brumal.rules.table import judge_animal, judge_pair
from brumal.rules.verdict import RuleVerdict

EGGS = 6
"""Young that two notations are counted on where no number is given."""
MOST = 40
"""So many looks and so many genotypes are listed where no number is given."""
DAM, SIRE = "dam", "sire"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of a cross: ``eggs`` (``None``: the forecast), rows at most, genotypes too."""

    eggs: int | None = None
    most: int = MOST
    genotypes: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Parent:
    """One parent: ``label`` is empty for a notation; ``written`` and ``understood`` its morph."""

    role: str
    label: str
    written: str
    understood: str
    genes: tuple[GeneOdds, ...]
    risks: tuple[WelfareRisk, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Count:
    """How many young the clutch is counted on.

    ``young`` is the chance of 0, 1, 2, ...; ``forecast`` is set where it comes from the forecast,
    else ``eggs`` is the number of eggs, all taken to hatch, and ``stated`` says who gave it.
    """

    young: Pmf
    mean: float
    forecast: ClutchForecast | None = None
    eggs: int | None = None
    stated: bool = False


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CrossSheet:
    """All that is told of a cross.

    ``certain`` says that the parents' genes are known, so that young are independent of each other;
    ``genotypes`` is ``None`` where they were not asked for. ``relation`` (the closest relationship
    in words), ``verdicts`` (F, and what bars the pair or asks for a look) and ``wanted`` are empty
    for two notations; ``season`` names the season folder, seen from the day ``as_of``.
    """

    dam: Parent
    sire: Parent
    certain: bool
    count: Count
    looks: tuple[LookOdds, ...]
    looks_left: Rest
    genotypes: tuple[GenotypeOdds, ...] | None
    genotypes_left: Rest
    wanted: tuple[WishOdds, ...]
    risks: tuple[WelfareRisk, ...]
    season: str = ""
    as_of: date | None = None
    relation: str = ""
    verdicts: tuple[RuleVerdict, ...] = ()


def cross_notations(
    dam: tuple[str, Morph], sire: tuple[str, Morph], catalogue: Catalogue, asked: Asked
) -> CrossSheet:
    """Cross two animals of which only the morph is known, each as (text as written, morph).

    They are taken as unrelated founders. Raises ``ValueError`` for a dam said to carry a gene on Y.
    """
    animals = (Animal(id=DAM, sex=Sex.FEMALE), Animal(id=SIRE, sex=Sex.MALE))
    inferred = infer(animals, {DAM: dam[1], SIRE: sire[1]}, (), catalogue)
    if any(claim.carried_on == "Y" for claim in dam[1].claims):
        raise ValueError("a dam has no Y")
    parents = [
        Parent(
            role=role,
            label="",
            written=text,
            understood=format_morph(morph, catalogue),
            genes=gene_odds(inferred.genotypes[role], catalogue),
            risks=animal_welfare(inferred.genotypes[role], catalogue),
        )
        for role, (text, morph) in ((DAM, dam), (SIRE, sire))
    ]
    eggs = asked.eggs if asked.eggs is not None else EGGS
    count = Count(young=young_pmf(eggs), mean=float(eggs), eggs=eggs, stated=asked.eggs is not None)
    clutch = Clutch(cross_pair(inferred, DAM, SIRE), count.young, catalogue)
    looks, looks_left = look_odds(clutch, asked.most)
    genotypes, genotypes_left = _genotypes(clutch, asked)
    return CrossSheet(
        dam=parents[0],
        sire=parents[1],
        certain=_certain(clutch),
        count=count,
        looks=looks,
        looks_left=looks_left,
        genotypes=genotypes,
        genotypes_left=genotypes_left,
        wanted=(),
        risks=welfare_risks(clutch.offspring, catalogue),
    )


def cross_animals(prepared: Prepared, dam: str, sire: str, asked: Asked) -> CrossSheet:
    """Cross two animals of a season folder by what is inferred of them, their kinship included.

    Raises ``KeyError`` for an id without a row, ``ValueError`` for a male dam or a female sire.
    """
    count = _count(prepared, dam, sire, asked.eggs)
    clutch = Clutch(prepared.cross(dam, sire), count.young, prepared.catalogue)
    settings = prepared.records.settings
    accepted = frozenset(settings.rules.accept_welfare)
    risks = welfare_risks(clutch.offspring, prepared.catalogue, accepted)
    looks, looks_left = look_odds(clutch, asked.most, settings.notation.combination_names)
    genotypes, genotypes_left = _genotypes(clutch, asked)
    return CrossSheet(
        dam=_parent(prepared, dam, DAM, accepted),
        sire=_parent(prepared, sire, SIRE, accepted),
        certain=_certain(clutch),
        count=count,
        looks=looks,
        looks_left=looks_left,
        genotypes=genotypes,
        genotypes_left=genotypes_left,
        wanted=wish_odds(clutch, prepared.wishes),
        risks=risks,
        season=prepared.records.settings.season.name,
        as_of=prepared.records.as_of,
        relation=relationship(prepared.pedigree, dam, sire).words,
        verdicts=_verdicts(prepared, dam, sire, risks),
    )


def _certain(clutch: Clutch) -> bool:
    return all(len(odds.cases) == 1 for odds in clutch.offspring.groups)


def _genotypes(clutch: Clutch, asked: Asked) -> tuple[tuple[GenotypeOdds, ...] | None, Rest]:
    return genotype_odds(clutch, asked.most) if asked.genotypes else (None, Rest(0, 0.0))


def _parent(prepared: Prepared, animal: str, role: str, accepted: frozenset[str]) -> Parent:
    genotype = _in_role(prepared.genotypes[animal], role, prepared.catalogue)
    return Parent(
        role=role,
        label=prepared.label(animal),
        written=prepared.animals[animal].morph,
        understood=format_morph(prepared.morphs[animal], prepared.catalogue),
        genes=gene_odds(genotype, prepared.catalogue),
        risks=animal_welfare(genotype, prepared.catalogue, accepted),
    )


def _in_role(genotype: Genotype, role: str, catalogue: Catalogue) -> Genotype:
    """Return a genotype given that the animal is a dam or a sire, where its sex is open."""
    sex = Sex.FEMALE if role == DAM else Sex.MALE
    belief = parent_belief(genotype.groups.get(SEX_GROUP), catalogue.groups[SEX_GROUP], sex)
    return Genotype({**genotype.groups, SEX_GROUP: belief})


def _count(prepared: Prepared, dam: str, sire: str, eggs: int | None) -> Count:
    if eggs is not None:
        return Count(young=young_pmf(eggs), mean=float(eggs), eggs=eggs, stated=True)
    # The odds of the sheet are of all young, those that do not live among them.
    forecasts = replace(prepared.forecasts, welfare=replace(prepared.forecasts.welfare, lethal={}))
    forecast = clutch_for(forecasts, prepared.animals[dam], prepared.animals[sire])
    return Count(young=forecast.young_pmf, mean=forecast.expected_young, forecast=forecast)


def _verdicts(
    prepared: Prepared, dam: str, sire: str, risks: tuple[WelfareRisk, ...]
) -> tuple[RuleVerdict, ...]:
    """Return the verdict on kinship and all that bar or caution; welfare is told by itself."""
    female, male = prepared.animals[dam], prepared.animals[sire]
    figures = PairFigures(
        F=kinship_block(prepared.pedigree, (dam, sire)).phi(dam, sire),
        generations=min(known_generations(prepared.pedigree, each) for each in (dam, sire)),
        risks=risks,
        exception=prepared.rules.exceptions.get((dam, sire), ""),
    )
    pair = judge_pair(female, male, prepared.rules, figures)
    animals = [*judge_animal(female, prepared.rules), *judge_animal(male, prepared.rules)]
    told = [verdict for verdict in pair if verdict.rule == "kinship"]
    told += [
        verdict
        for verdict in (*pair, *animals)
        if verdict.rule not in ("kinship", "welfare") and (verdict.caution or not verdict.passed)
    ]
    return tuple(told)
