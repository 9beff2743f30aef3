"""Genotypes in the events: what a vet cleared an animal of, beside the notes it falls under."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.genotypes import Genotype
from brumal.genetics.notation.parse import morph_faults, parse_morph
from brumal.genetics.welfare import (
    accept_problems,
    animal_welfare,
    genotype_key,
    note_key,
    watched_genes,
)
from brumal.records.animals import ABOUT, EventKind
from brumal.records.faults import Fault, Where
from brumal.records.folder import SeasonRecords
from brumal.rules.rule import OwnRisk


def own_risks(
    records: SeasonRecords, catalogue: Catalogue, genotypes: Mapping[str, Genotype]
) -> dict[str, tuple[OwnRisk, ...]]:
    """Return the welfare notes that animals may fall under themselves, with vets' clearances."""
    accepted = frozenset(records.settings.rules.accept_welfare)
    cleared: dict[tuple[str, object], date] = {}
    for event in records.events:
        if event.kind is EventKind.CLEARED and event.about not in ABOUT:
            key = (event.animal, genotype_key(event.about, catalogue))
            cleared[key] = max(event.date, cleared.get(key, event.date))
    return {
        animal.id: tuple(
            OwnRisk(risk=risk, cleared=cleared.get((animal.id, note_key(risk.note))))
            for risk in animal_welfare(genotypes[animal.id], catalogue, accepted)
        )
        for animal in records.collection
    }


def clean_lines(
    records: SeasonRecords, catalogue: Catalogue, genotypes: Mapping[str, Genotype]
) -> frozenset[str]:
    """Return the animals that cannot fall under a note: neither parent may carry a gene of one.

    Both parents must be on record, each with its look or of such parents itself.
    """
    free = {
        animal.id
        for animal in records.animals
        if not watched_genes(genotypes[animal.id], catalogue)
    }
    sure = {animal.id for animal in records.animals if "morph" not in animal.blank}
    clean: set[str] = set()
    more = True
    while more:
        found = {
            animal.id
            for animal in records.animals
            if animal.id not in clean
            and {animal.dam, animal.sire} <= free
            and {animal.dam, animal.sire} <= sure | clean
        }
        clean |= found
        more = bool(found)
    return frozenset(clean)


def fertile_shares(risks: Mapping[str, tuple[OwnRisk, ...]]) -> dict[str, float]:
    """Return the share of the usual fertility that notes leave an animal, where they take any."""
    shares = {
        animal: math.prod(1 - each.risk.probability * (1 - each.risk.note.fertile) for each in own)
        for animal, own in risks.items()
    }
    return {animal: share for animal, share in shares.items() if share < 1}


def event_name_faults(records: SeasonRecords, catalogue: Catalogue) -> list[Fault]:
    """Return faults in the genotypes and morphs of the events.

    A clearance names the genotype of a welfare note, a test any genotype.
    """
    faults: list[Fault] = []
    file = records.files.get("events", "events.csv")
    for event in records.events:
        where = Where(file=file, row=event.row, column="about")
        if event.about and event.about not in ABOUT:
            cleared = event.kind is EventKind.CLEARED
            faults += morph_faults(
                accept_problems([event.about], catalogue)
                if cleared
                else parse_morph(event.about, catalogue)[1],
                where,
            )
        for _, text, _ in event.young:
            _, problems = parse_morph(text, catalogue, records.settings.notation.possible)
            faults += morph_faults(problems, replace(where, column="morphs"))
    return faults
