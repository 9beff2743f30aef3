"""From a season folder to everything the planner and the reports stand on, in one straight line.

records -> catalogue and morphs -> pedigree and kinship -> genotypes -> rules and clutch forecasts.
Every fault of every step is gathered, so that a keeper sees all of them at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path

from brumal.forecast.clutch import ClutchForecasts, forecast_clutches
from brumal.forecast.noted import Welfare
from brumal.forecast.ovulation import OvulationModel, forecast_ovulation
from brumal.forecast.sale import net_costs, net_values
from brumal.genetics.catalogue.file import load_catalogue
from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.crosses.pair_odds import cross_pair
from brumal.genetics.evidence.infer import ClutchYoung, GeneticFinding, Inferred
from brumal.genetics.evidence.sire_odds import SURE, with_sires
from brumal.genetics.genotypes import Genotype, Morph, Offspring
from brumal.genetics.lethal import harm_groups, lethal_shares
from brumal.genetics.notation.parse import morph_faults, parse_morph
from brumal.genetics.welfare import watched_genes
from brumal.genetics.wishes import Wish, wish_of
from brumal.pedigree.completeness import known_generations
from brumal.pedigree.founders import founder_facts, kin_faults
from brumal.pedigree.graph import Pedigree, build_pedigree
from brumal.pedigree.kinship import KinshipBlock, kinship_block
from brumal.records.animals import Animal
from brumal.records.faults import Fault, InputError, Where, is_error
from brumal.records.folder import SeasonRecords
from brumal.records.read import errors_first, read_season, readable_part
from brumal.records.season_state import UNKNOWN_SIRE
from brumal.records.settings import Costs, Values
from brumal.rules.own_risks import clean_lines, event_name_faults, fertile_shares, own_risks
from brumal.rules.rule import RuleContext
from brumal.rules.start import Meetings, Start, starts_of
from brumal.rules.table import rule_context, rule_setting_faults
from brumal.setting_names import setting_name_faults, table_file
from brumal.timings import timed
from brumal.young_on_record import InQuestion, season_young, young_on_record


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """A season made ready: records, genes, kin, rules and forecasts.

    ``wishes`` has one entry for each wanted entry of the settings, in order, ``combinations`` one
    for each combination with a price; ``sires`` holds, for each female that several males visited
    and whose young were seen, the chance of each male; ``kinship`` covers the animals of the
    collection (not those outside it). ``faults`` holds warnings and notices.
    """

    records: SeasonRecords
    catalogue: Catalogue
    morphs: Mapping[str, Morph]
    wishes: tuple[Wish, ...]
    combinations: tuple[Wish, ...]
    inferred: Inferred
    sires: Mapping[str, Mapping[str, float]]
    pedigree: Pedigree
    kinship: KinshipBlock
    rules: RuleContext
    forecasts: ClutchForecasts
    faults: tuple[Fault, ...]

    @cached_property
    def animals(self) -> Mapping[str, Animal]:
        """Return the animals by id."""
        return {animal.id: animal for animal in self.records.animals}

    @cached_property
    def starts(self) -> Mapping[str, Start]:
        """Return from which day each animal of the collection may be paired, by id."""
        return starts_of(self.records.collection, self.rules)

    @cached_property
    def meetings(self) -> Meetings:
        """Return when any two animals of the collection may first meet."""
        return Meetings(self.animals, self.starts, self.rules)

    @cached_property
    def ovulations(self) -> OvulationModel:
        """Return what is known of the days on which females should ovulate this season."""
        return forecast_ovulation(self.records)

    @property
    def sold(self) -> tuple[Wish, ...]:
        """Return all that has a price of its own: wishes, then combinations."""
        return (*self.wishes, *self.combinations)

    @cached_property
    def values(self) -> Values:
        """Return the prices as the money that they bring on average."""
        return net_values(self.records.settings)

    @cached_property
    def costs(self) -> Costs:
        """Return the costs, those of waiting for a buyer among them."""
        return net_costs(self.records.settings)

    @property
    def genotypes(self) -> Mapping[str, Genotype]:
        """Return what is believed of each animal's genes."""
        return self.inferred.genotypes

    def sires_of(self, dam: str) -> Mapping[str, float]:
        """Return the males that may be the sire of a female's clutch, by all that is known."""
        her = self.records.state.females.get(dam)
        return self.sires.get(dam) or {each.id: each.chance for each in (her.sires if her else ())}

    @cached_property
    def mixed(self) -> Mapping[tuple[str, str], Mapping[str, float]]:
        """Return the chance of each sire of pairs that are facts, by pair.

        Pairs of which the sire named is certain are left out.
        """
        found = {}
        for dam, sire in self.records.already_paired:
            odds = {male: p for male, p in self.sires_of(dam).items() if p > 1 - SURE}
            if odds and odds.keys() != {sire}:
                total = sum(odds.values())
                found[dam, sire] = {male: odds[male] / total for male in sorted(odds)}
        return found

    def label(self, animal: str) -> str:
        """Return the name with the id, or the id of an ancestor known by name only."""
        return self.pedigree.label(animal)

    def cross(self, dam: str, sire: str) -> Offspring:
        """Return the exact odds of the young of two animals."""
        return cross_pair(self.inferred, dam, sire)

    @cached_property
    def harmed_groups(self) -> frozenset[str]:
        """Return the linkage groups at which young of the collection may be harmed."""
        genes = {
            gene
            for animal in self.records.collection
            for gene in watched_genes(self.genotypes[animal.id], self.catalogue)
        }
        loci = {self.catalogue.alleles[gene].locus for gene in genes}
        groups = self.catalogue.groups
        return frozenset(g for g in harm_groups(self.catalogue) if loci & set(groups[g].loci))

    @cached_property
    def generations(self) -> Mapping[str, int]:
        """Return how many generations are recorded in full behind each animal of the collection."""
        return {name: known_generations(self.pedigree, name) for name in self.kinship.ids}


@timed("reading")
def prepare(folder: Path, on: date | None = None, today: date | None = None) -> Prepared:
    """Read and prepare a season folder, seen ``on`` a day as ``read_season`` does.

    Raises :class:`InputError` with every fault found.
    """
    records, faults = read_season(folder, on, today)
    if records is None:
        part = readable_part(folder, on, today)
        # Without animals every name would be unknown: nothing more can be told of the rest.
        more = _understand(part)[1] if part is not None and part.animals else ()
        # An id that stands twice is a fault of the table and of the pedigree: it is told once.
        ids = {fault.where for fault in faults if fault.where.column == "id"}
        more = tuple(fault for fault in more if fault.where not in ids)
        raise InputError(errors_first((*faults, *more)))
    return prepare_records(records, faults)


@timed("genetics and kin")
def prepare_records(
    records: SeasonRecords, faults: Iterable[Fault] = (), like: Prepared | None = None
) -> Prepared:
    """Prepare records already read; raises :class:`InputError` with every fault found.

    Genotypes, kinship and forecasts are taken over from a season prepared before (``like``) where
    nothing that they rest on differs; the outcome is the same.
    """
    said, more = _understand(records)
    found = [*faults, *more]
    _stop_on_errors(found)
    known = like if like is not None and _same_lines(records, like.records) else None
    inferred, sires = (known.inferred, known.sires) if known else _infer(records, said)
    # Once the young tell, their likeliest sire is the one whose pair it is.
    records = replace(records, state=records.state.by_young(sires))
    found += [_genetic_fault(records, finding) for finding in inferred.findings]
    _stop_on_errors(found)
    ids = [animal.id for animal in records.collection]
    ids += [UNKNOWN_SIRE.id] if records.has_unknown_sire else []
    same_kin = (
        known is not None
        and known.records.settings.kin == records.settings.kin
        and known.kinship.ids == tuple(ids)
    )
    own = own_risks(records, said.catalogue, inferred.genotypes)
    clean = clean_lines(records, said.catalogue, inferred.genotypes)
    rules = rule_context(records, own, clean)
    welfare = Welfare(
        fertile=fertile_shares(own),
        lethal=lethal_shares(records.collection, inferred, said.catalogue),
    )
    return Prepared(
        records=records,
        catalogue=said.catalogue,
        morphs=said.morphs,
        wishes=said.wishes,
        combinations=said.combinations,
        inferred=inferred,
        sires=sires,
        pedigree=said.pedigree,
        kinship=known.kinship if known and same_kin else kinship_block(said.pedigree, ids),
        rules=rules,
        forecasts=forecast_clutches(
            records, rules.series, like.forecasts if like else None, welfare
        ),
        faults=errors_first(found),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What the records say once every name in them is understood."""

    catalogue: Catalogue
    morphs: Mapping[str, Morph]
    young: tuple[ClutchYoung, ...]
    young_in_question: tuple[InQuestion, ...]
    wishes: tuple[Wish, ...]
    combinations: tuple[Wish, ...]
    pedigree: Pedigree


def _understand(records: SeasonRecords) -> tuple[_Said, tuple[Fault, ...]]:
    """Read every name in the records: genes, morphs, wishes, parents; with every fault found."""
    genes_file = records.files.get("genes", "genes.yaml")
    catalogue, gene_faults = load_catalogue(records.own_genes, genes_file)
    morphs, morph_faults_ = _morphs(records, catalogue)
    young, young_faults = young_on_record(records, catalogue)
    this_season, in_question, season_faults = season_young(records, catalogue)
    values = records.settings.values
    wanted = {
        f"values.wanted[{number}].morph": each.morph
        for number, each in enumerate(values.wanted, start=1)
    }
    wishes, wish_faults = _wishes(records, catalogue, wanted)
    named = {f"values.combinations.{morph}": morph for morph in values.combinations}
    combinations, combination_faults = _wishes(records, catalogue, named)
    kin = records.settings.kin
    pedigree, pedigree_faults = build_pedigree(
        records.animals, founder_facts(kin), file=table_file(records, "animals")
    )
    faults = (
        *gene_faults,
        *morph_faults_,
        *young_faults,
        *season_faults,
        *wish_faults,
        *combination_faults,
        *setting_name_faults(records, catalogue),
        *event_name_faults(records, catalogue),
        *pedigree_faults,
        *kin_faults(kin, pedigree),
        *rule_setting_faults(records),
    )
    said = _Said(
        catalogue=catalogue,
        morphs=morphs,
        young=(*young, *this_season),
        young_in_question=tuple(in_question),
        wishes=wishes,
        combinations=combinations,
        pedigree=pedigree,
    )
    return said, faults


def _infer(
    records: SeasonRecords, said: _Said
) -> tuple[Inferred, Mapping[str, Mapping[str, float]]]:
    return with_sires(
        records.animals, said.morphs, said.young, said.young_in_question, said.catalogue
    )


def _same_lines(one: SeasonRecords, two: SeasonRecords) -> bool:
    """Say whether pedigree, looks and clutches are the same: what genotypes are inferred from."""
    if (one.clutches, one.this_season) != (two.clutches, two.this_season):
        return False
    if one.state != two.state or one.own_genes != two.own_genes:
        return False
    if one.settings.dates.incubation != two.settings.dates.incubation:
        return False
    if one.settings.notation.possible != two.settings.notation.possible:
        return False
    lines = [
        [(a.id, a.name, a.sex, a.hatched, a.dam, a.sire, a.morph, a.row) for a in each.animals]
        for each in (one, two)
    ]
    return lines[0] == lines[1]


def _stop_on_errors(found: list[Fault]) -> None:
    if any(is_error(fault) for fault in found):
        raise InputError(errors_first(found))


def _morphs(records: SeasonRecords, catalogue: Catalogue) -> tuple[dict[str, Morph], list[Fault]]:
    morphs: dict[str, Morph] = {}
    faults: list[Fault] = []
    for animal in records.animals:
        possible = records.settings.notation.possible
        morph, problems = parse_morph(animal.morph, catalogue, possible)
        where = Where(file=table_file(records, "animals"), row=animal.row, column="morph")
        faults += morph_faults(problems, where)
        morphs[animal.id] = morph or Morph()
    return morphs, faults


def _wishes(
    records: SeasonRecords, catalogue: Catalogue, asked: Mapping[str, str]
) -> tuple[tuple[Wish, ...], list[Fault]]:
    """Read what priced entries ask for, by the key that each stands under."""
    wishes: list[Wish] = []
    faults: list[Fault] = []
    for column, morph in asked.items():
        wish, problems = wish_of(morph, catalogue)
        faults += morph_faults(problems, Where(file=table_file(records, "season"), column=column))
        if wish is not None:
            wishes.append(wish)
    return tuple(wishes), faults


def _genetic_fault(records: SeasonRecords, finding: GeneticFinding) -> Fault:
    rows = {animal.id: animal.row for animal in records.animals}
    row = next((rows[name] for name in finding.animals if rows.get(name)), None)
    where = Where(file=table_file(records, "animals"), row=row, column="morph")
    if row is None and finding.clutch_rows:
        where = Where(
            file=table_file(records, "clutches"), row=finding.clutch_rows[0], column="morphs"
        )
    return Fault(
        where=where,
        found=finding.found,
        expected=finding.expected,
        repair=finding.repair,
        severity=finding.severity,
    )
