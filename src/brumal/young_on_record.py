"""Young whose looks were written down, read as evidence: of earlier seasons and of this one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from brumal.genetics.catalogue.genes import Catalogue
from brumal.genetics.evidence.clutch_evidence import ClutchYoung
from brumal.genetics.genotypes import Morph
from brumal.genetics.notation.parse import morph_faults, parse_morph
from brumal.records.animals import Clutch, EventKind
from brumal.records.clutch_table import Young
from brumal.records.faults import Fault, Where
from brumal.records.folder import SeasonRecords
from brumal.setting_names import table_file

InQuestion = tuple[ClutchYoung, Mapping[str, float]]
"""Young of which several males may be the sire, with the chance of each before they were seen."""


def young_on_record(
    records: SeasonRecords, catalogue: Catalogue
) -> tuple[list[ClutchYoung], list[Fault]]:
    """Return the young of earlier seasons whose looks are on record, and every fault in them."""
    young: list[ClutchYoung] = []
    faults: list[Fault] = []
    for clutch in records.clutches:
        where = Where(file=table_file(records, "clutches"), row=clutch.row or None, column="morphs")
        looks, problems = _looks(records, clutch.young, catalogue, where)
        faults += problems
        young.append(
            ClutchYoung(
                dam=clutch.dam,
                sire=clutch.sire,
                young=looks,
                sexes=tuple(sex for _, _, sex in clutch.young),
                row=clutch.row,
                hatched_year=_hatch_year(clutch, records.settings.dates.incubation),
            )
        )
    return young, faults


def season_young(
    records: SeasonRecords, catalogue: Catalogue
) -> tuple[list[ClutchYoung], list[InQuestion], list[Fault]]:
    """Return this season's young: those of sure sires, those of several males, and faults."""
    sure: list[ClutchYoung] = []
    in_question: list[InQuestion] = []
    faults: list[Fault] = []
    rows = {
        event.animal: event.row
        for event in records.events
        if event.kind is EventKind.HATCHED and event.young
    }
    for clutch in records.this_season:
        if not clutch.young:
            continue
        table = "events" if clutch.dam in rows else "clutches"
        row = rows.get(clutch.dam, clutch.row)
        where = Where(file=table_file(records, table), row=row, column="morphs")
        looks, problems = _looks(records, clutch.young, catalogue, where)
        faults += problems
        # A dam that is no female of the table is a fault, told elsewhere.
        female = records.state.females.get(clutch.dam)
        sires = {each.id: each.chance for each in female.sires} if female is not None else {}
        young = ClutchYoung(
            dam=clutch.dam,
            sire=next(iter(sires), None),
            young=looks,
            sexes=tuple(sex for _, _, sex in clutch.young),
            row=clutch.row,
            hatched_year=clutch.hatched_on.year if clutch.hatched_on else None,
        )
        if len(sires) > 1:
            in_question.append((young, sires))
        else:
            sure.append(young)
    return sure, in_question, faults


def _looks(
    records: SeasonRecords, young: Young, catalogue: Catalogue, where: Where
) -> tuple[tuple[tuple[int, Morph], ...], list[Fault]]:
    looks: list[tuple[int, Morph]] = []
    faults: list[Fault] = []
    for count, text, _ in young:
        morph, problems = parse_morph(text, catalogue, records.settings.notation.possible)
        faults += morph_faults(problems, where)
        looks.append((count, morph or Morph()))
    return tuple(looks), faults


def _hatch_year(clutch: Clutch, incubation: tuple[int, int]) -> int | None:
    """Return the year in which a clutch hatched, by the middle of the incubation days, if sure."""
    if clutch.laid is None:
        return None
    wait = timedelta(days=sum(incubation) // 2)
    first, last = (clutch.laid_from or clutch.laid) + wait, clutch.laid + wait
    return last.year if first.year == last.year else None
