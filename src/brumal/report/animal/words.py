"""The words of one animal: the same on the terminal and on the page."""

from __future__ import annotations

from brumal.forecast.weight import Point, WeighingKind, WeightSeries
from brumal.genetics.evidence.findings import GeneticFinding
from brumal.insight.sheets.animal_sheet import AnimalSheet, ClutchOnRecord, Mate, Relative
from brumal.insight.sheets.known_genes import GeneOdds
from brumal.report.cross import words as cross_words
from brumal.report.kin import words as kin_words
from brumal.report.ready.words import facts, ledger_line, outlook
from brumal.report.words import figure
from brumal.rules.verdict import RuleVerdict

REST_NOTE = "At every other gene of the catalogue it is taken as wild type, as far as recorded."
NOTHING = "Nothing on record of it shows or hides a gene."


def head_line(sheet: AnimalSheet) -> str:
    """Say who the animal is."""
    animal = sheet.animal
    told = [str(animal.sex or "sex not recorded"), str(animal.status)]
    told.append(f"hatched {animal.hatched_written}" if animal.hatched else "hatch day not recorded")
    if animal.arrived:
        told.append(f"arrived {animal.arrived}")
    return f"{animal.label}: {', '.join(told)}"


def morph_line(sheet: AnimalSheet) -> str:
    """Say what its morph is as written and as read."""
    written = "" if "morph" in sheet.animal.blank else sheet.animal.morph.strip()
    if written == sheet.understood:
        return f"Morph: {written}."
    return f"Morph as written: {written or 'nothing'}. Read as: {sheet.understood}."


def gene_line(gene: GeneOdds) -> str:
    """Say what it carries at a locus and how sure that is."""
    told = cross_words.gene_words(gene)
    return f"{told}, certain" if gene.certain else told


def finding_line(finding: GeneticFinding) -> str:
    """Say what the genetic records make the keeper look at."""
    return f"Found {finding.found}; expected {finding.expected}. {finding.repair}".strip()


def season_line(sheet: AnimalSheet) -> str:
    """Say how it stands on the first day of pairing."""
    if sheet.ready is None:
        return "It is outside the collection: known for its descent and its genes."
    return f"{facts(sheet.ready, sheet.season.pair_from)}."


def coming_lines(sheet: AnimalSheet) -> list[str]:
    """Say when it should be ready, or what it should bring."""
    if sheet.ready is None:
        return []
    locked = ["You have locked it to sit the season out."] if sheet.ready.rests else []
    return [line for line in (outlook(sheet.ready), ledger_line(sheet.ready), *locked) if line]


def verdicts_by_state(sheet: AnimalSheet) -> list[RuleVerdict]:
    """Return the verdicts: what bars it, what to look at (the gravest first), what is met."""
    return sorted(
        sheet.verdicts,
        key=lambda verdict: (verdict.passed, not verdict.caution, verdict.caution * verdict.rank),
    )


def weight_lines(sheet: AnimalSheet) -> list[str]:
    """Say where its weight is heading, and what of the weighings needs a look."""
    series = sheet.series
    told = [*series.notes, *series.losses]
    return [_trend_line(series), *told] if series.points else told


def _trend_line(series: WeightSeries) -> str:
    trend = series.trend
    if trend is None:
        return "Too few recent weighings tell a present gain."
    low, high = _signed(trend.gain_low), _signed(trend.gain_high)
    return (
        f"Present gain {_signed(trend.gain)} g a day (in four cases of five {low} to {high}), up "
        f"to the weighing of {trend.on}."
    )


def _signed(gain: float) -> str:
    # A loss too small to show is no loss.
    return f"{round(gain, 1) + 0.0:+.1f}"


def weighing_kind(point: Point) -> str:
    """Say how a weighing is read; nothing for a plain one."""
    kinds = {
        WeighingKind.PLAIN: "",
        WeighingKind.OFF_BY_TEN: "about ten times off, left out",
    }
    return kinds.get(point.kind, str(point.kind))


def clutch_line(entry: ClutchOnRecord) -> str:
    """Say what came of a clutch: eggs, slugs, hatched, looks, trouble, note."""
    clutch = entry.clutch
    if clutch.eggs == 0:
        told = "paired, laid nothing"
    else:
        counts = ((clutch.eggs, "egg"), (clutch.slugs, "slug"))
        parts = [kin_words.count(number, word) for number, word in counts if number is not None]
        if clutch.hatched is not None:
            parts.append(f"{clutch.hatched} hatched")
        told = ", ".join(parts) or "no counts recorded"
        if clutch.young:
            told += ": " + "; ".join(
                f"{number} {sex or ''} {morph}".replace("  ", " ")
                for number, morph, sex in clutch.young
            )
    more = [f"Trouble: {clutch.trouble}."] if clutch.trouble else []
    more += [f"Note: {clutch.note}."] if clutch.note else []
    return " ".join([f"{told}.", *more])


def laid_words(entry: ClutchOnRecord) -> str:
    """Say when a clutch was laid."""
    if entry.clutch.eggs == 0:
        day = entry.clutch.laid
        return "not laid" if day is None else f"not laid in {day.year}"
    return str(entry.clutch.laid or "day not recorded")


def mate_words(entry: ClutchOnRecord) -> str:
    """Name the other parent of a clutch."""
    return entry.mate or "mate not recorded"


def relative_words(relative: Relative | None) -> str:
    """Name a relative with its morph."""
    if relative is None:
        return "not recorded"
    if relative.animal is None:
        return f"{relative.label}, known by name only"
    return f"{relative.label}, {relative.animal.look}"


def young_words(young: tuple[Relative, str]) -> str:
    """Name a young of the animals table with its other parent."""
    relative, mate = young
    animal = relative.animal
    hatched = f", hatched {animal.hatched_written}" if animal and animal.hatched else ""
    return f"{relative_words(relative)}{hatched}; with {mate or 'a mate not recorded'}"


def sibling_words(sibling: tuple[Relative, str]) -> str:
    """Name a half sibling with the parent shared."""
    return f"{relative_words(sibling[0])}; through {sibling[1]}"


def kin_groups(sheet: AnimalSheet) -> list[tuple[str, list[str]]]:
    """Return kin on record by kind; kinds without any are left out."""
    family = sheet.family
    groups = [
        ("Parents", [f"Dam: {relative_words(family.dam)}", f"Sire: {relative_words(family.sire)}"]),
        ("Full siblings", [relative_words(each) for each in family.full]),
        ("Half siblings", [sibling_words(each) for each in family.half]),
        ("Mates on record", [mate_line(each) for each in family.mates]),
        ("Young on record", [young_words(each) for each in family.young]),
    ]
    return [(title, lines) for title, lines in groups if lines]


def mate_line(mate: Mate) -> str:
    """Say how a mate is kin, and the F of their young."""
    value = kin_words.coefficient(mate.F)
    return f"{mate.label}: {mate.relation}; F of their young {value} as recorded"


def standing_line(sheet: AnimalSheet) -> str:
    """Say its own F and how much of its pedigree is known."""
    return kin_words.standing_line(sheet.standing, {sheet.animal.id: sheet.animal.label})


def note_lines(sheet: AnimalSheet) -> list[str]:
    """Return the keeper's own remarks."""
    animal = sheet.animal
    lines = [f"Condition {figure(animal.condition)}."] if animal.condition is not None else []
    if animal.vet_cleared is not None:
        lines.append(f"Cleared for breeding by a vet on {animal.vet_cleared}.")
    return [*lines, *([animal.notes] if animal.notes else [])]
