"""Names in the settings that must stand elsewhere: genes, animals on offer, morphs of a market."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from brumal.genetics.catalogue.genes import Catalogue, fold
from brumal.genetics.notation.parse import morph_faults
from brumal.genetics.welfare import accept_problems
from brumal.records.animals import Status
from brumal.records.faults import Fault, Severity, Where, did_you_mean
from brumal.records.folder import SeasonRecords


def setting_name_faults(records: SeasonRecords, catalogue: Catalogue) -> list[Fault]:
    """Return every fault of names in the settings, and what their figures ask for."""
    return [
        *_gene_names(records, catalogue),
        *_listed(records),
        *_failures_asked(records),
    ]


def _gene_names(records: SeasonRecords, catalogue: Catalogue) -> list[Fault]:
    """Gene names outside the morph column: extras and accepted welfare risks."""
    accepted = Where(file=table_file(records, "season"), column="rules.accept_welfare")
    problems = accept_problems(records.settings.rules.accept_welfare, catalogue)
    settings = records.settings
    named = {
        "values.extra.visual": settings.values.extra.visual,
        "values.extra.het": settings.values.extra.het,
    }
    return [
        *morph_faults(problems, accepted),
        *_unknown_genes(records, catalogue, named),
    ]


def _unknown_genes(
    records: SeasonRecords, catalogue: Catalogue, named: Mapping[str, Iterable[str]]
) -> list[Fault]:
    return [
        Fault(
            where=Where(file=table_file(records, "season"), column=column),
            found=repr(gene),
            expected="the name of one gene of the catalogue",
            repair=did_you_mean(gene, catalogue.alleles),
        )
        for column, genes in named.items()
        for gene in genes
        if catalogue.names.get(fold(gene)) not in catalogue.alleles
    ]


def _listed(records: SeasonRecords) -> list[Fault]:
    """Names in the settings that must stand elsewhere: animals on offer, morphs of a market."""
    ids = [animal.id for animal in records.animals]
    morphs = [wanted.morph for wanted in records.settings.values.wanted]
    offers = records.settings.offers
    named = [
        *(
            (f"offers.{kind}", name, "an id of the animals table", ids)
            for kind, listed in (
                ("borrow", offers.borrow),
                ("buy", offers.buy),
                ("sell", offers.sell),
            )
            for name in listed
        ),
        *(
            (
                f"values.markets[{number}].morphs",
                name,
                "the morph of a wanted entry, as written",
                morphs,
            )
            for number, market in enumerate(records.settings.values.markets, start=1)
            for name in market.morphs
        ),
    ]
    return [
        Fault(
            where=Where(file=table_file(records, "season"), column=column),
            found=repr(name),
            expected=expected,
            repair=did_you_mean(name, known),
        )
        for column, name, expected, known in named
        if name not in known
    ] + _offer_faults(records)


def _failures_asked(records: SeasonRecords) -> list[Fault]:
    """Ask for all seasons without a clutch where some are written down and not said to be all."""
    rows = [clutch.row for clutch in records.clutches if clutch.eggs == 0]
    if not rows or records.settings.records.failures:
        return []
    count = "one season" if len(rows) == 1 else f"{len(rows)} seasons"
    return [
        Fault(
            where=Where(file=table_file(records, "clutches"), row=rows[0], column="eggs"),
            found=f"{count} in which a paired female laid nothing",
            expected="every such season of every female, and records: {failures: true} in "
            "season.yaml",
            repair="Until then how often females go stays at what is usual; what is written down "
            "lowers it for that female alone.",
            severity=Severity.NOTICE,
        )
    ]


def _offer_faults(records: SeasonRecords) -> list[Fault]:
    """Offers that contradict each other, or that no plan could ever take."""
    offers = records.settings.offers
    kinds = {"borrow": offers.borrow, "buy": offers.buy, "sell": offers.sell}
    status = {animal.id: animal.status for animal in records.animals}
    faults = []
    for name in sorted({name for listed in kinds.values() for name in listed}):
        within = [kind for kind, listed in kinds.items() if name in listed]
        where = Where(file=table_file(records, "season"), column=f"offers.{within[-1]}")
        if len(within) > 1:
            found = f"{name!r} under {' and '.join(within)}"
            faults.append(Fault(where=where, found=found, expected="each animal in one of them"))
        if status.get(name) not in (None, Status.BREEDER, Status.LOAN):
            faults.append(
                Fault(
                    where=where,
                    found=f"{name!r}, whose status is {status[name]}",
                    expected="an animal that may be planned for",
                    repair="Give it the status loan in the animals table.",
                )
            )
    return faults


def table_file(records: SeasonRecords, table: str) -> str:
    """Return the name of the file that a table was read from, or would be."""
    suffix = "yaml" if table == "season" else "csv"
    return records.files.get(table, f"{table}.{suffix}")
