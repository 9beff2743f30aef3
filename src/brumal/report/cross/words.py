"""The words of a cross: the same on the terminal, the page and in the table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from brumal.genetics.catalogue.genes import Harm
from brumal.genetics.welfare import WelfareRisk
from brumal.insight.sheets.cross_sheet import Count, CrossSheet, Parent
from brumal.insight.sheets.known_genes import GeneOdds
from brumal.insight.sheets.young_odds import GenotypeOdds, LookOdds, Rest, WishOdds
from brumal.report.words import figure
from brumal.rules.verdict import RuleVerdict

MOST_PARTS = 1024
"""Odds are written as a fraction where the denominator is no larger."""
MOST_LISTED = 5000
"""A list of so many rows is still offered whole."""
NO_NOTE = (
    "No welfare note of the catalogue falls on these young. That is what is reported, not proof "
    "of health."
)
CLUTCH_NOTE = (
    "Young of one clutch share their parents: while a parent is uncertain, the chance of at least "
    "one is worked for each thing that the parent may be, and weighed."
)
LETHAL_NOTE = "The odds count young of a lethal genotype like any others: fewer may hatch."
SIDES_NOTE = (
    "Of a male's sex-linked gene the chromosome is named that it lies on; which strand other "
    "linked genes lie on is not told apart."
)


def title(sheet: CrossSheet) -> str:
    """Name the cross."""
    return f"{called(sheet.dam)} x {called(sheet.sire)}"


def called(parent: Parent) -> str:
    """Return the label of an animal, or the notation itself."""
    return parent.label or parent.understood


def parent_line(parent: Parent) -> str:
    """Say what a parent is by its morph."""
    told = parent.understood
    if told.casefold() != parent.written.strip().casefold():
        told += f" (written '{parent.written.strip()}')"
    role = parent.role.capitalize()
    return f"{role} {parent.label}: {told}" if parent.label else f"{role}: {told}"


def unsure_lines(parent: Parent) -> list[str]:
    """Say where it is not certain what a parent carries."""
    return [f"not certain: {gene_words(gene)}" for gene in parent.genes if not gene.certain]


def gene_words(gene: GeneOdds) -> str:
    """Write what an animal may carry at a locus, with chances where it is not certain."""
    if gene.certain:
        return gene.options[0][0]
    return " or ".join(f"{name} ({share(chance)})" for name, chance in gene.options)


def count_line(count: Count) -> str:
    """Say how many young the chances are counted on, and why."""
    clutch = count.forecast
    if clutch is not None:
        return (
            f"Clutch by the forecast: she lays with a chance of {share(clutch.goes)}, then "
            f"{figure(clutch.eggs)} eggs, {share(clutch.fertile)} of them fertile, of which "
            f"{share(clutch.hatched)} hatch: {figure(count.mean)} young expected. That she may "
            "not lay is counted in. --eggs sets a number of young instead."
        )
    if count.stated:
        return f"Counted on {_eggs(count)}, each taken to hatch, as you say."
    return (
        f"Counted on {_eggs(count)}, each taken to hatch: without a folder there is no forecast. "
        "--eggs sets another number."
    )


def _eggs(count: Count) -> str:
    return f"{count.eggs} egg{'' if count.eggs == 1 else 's'}"


def share(chance: float) -> str:
    """Write a chance as a percentage with one decimal; none is rounded to 0 or 100."""
    if chance <= 0 or chance >= 1:
        return f"{chance:.0%}"
    if chance < 0.0005:
        return "<0.1%"
    return ">99.9%" if chance > 0.9995 else f"{chance:.1%}"


def odds(chance: float) -> str:
    """Write a chance as a plain fraction, empty where it is none."""
    near = Fraction(chance).limit_denominator(MOST_PARTS)
    exact = near > 0 and abs(float(near) - chance) < 1e-12 * max(chance, 1e-3)
    return str(near) if exact else ""


def look_name(look: LookOdds) -> str:
    """Name a look, with the second copies of dominants that it may hide."""
    doubles = [f"two copies of {gene} in {share(chance)}" for gene, chance in look.doubles]
    return f"{look.name} ({'; '.join(doubles)})" if doubles else look.name


def genotype_name(genotype: GenotypeOdds) -> str:
    """Name a genotype, its sex where that matters."""
    return f"{genotype.name}, {genotype.sex}" if genotype.sex else genotype.name


def sexes_differ(looks: Iterable[LookOdds]) -> bool:
    """Say whether some look is more often of one sex."""
    return any(abs(look.females - 0.5) > 1e-9 for look in looks)


def rest_line(rest: Rest, what: str, shown: int) -> str:
    """Say what a list leaves out; empty where it is whole."""
    if not rest.kinds:
        return ""
    told = f"{_large(rest.kinds)} more {what}{'' if rest.kinds == 1 else 's'}"
    more = (
        f"--most {shown + rest.kinds} lists them all"
        if rest.kinds <= MOST_LISTED
        else "--most sets how many are listed"
    )
    return f"Not listed: {told}, together {share(rest.chance)} of the young; {more}."


def _large(number: int) -> str:
    return f"{number:,}" if number < 10**12 else f"about {number:.1e}"


def females(look: LookOdds) -> float:
    """Return the share of females among the young of a look."""
    return look.females


def wish_name(wish: WishOdds) -> str:
    """Name a wanted entry."""
    return wish.morph


def within_reach(sheet: CrossSheet) -> list[WishOdds]:
    """Return the wanted entries that this pair can give."""
    return [wish for wish in sheet.wanted if wish.chances.each > 0]


def beyond_line(sheet: CrossSheet) -> str:
    """Name the wanted entries that this pair cannot give; empty where there are none."""
    beyond = [wish.morph for wish in sheet.wanted if wish.chances.each <= 0]
    return f"Not from this pair: {', '.join(beyond)}." if beyond else ""


def more_than_one(wish: WishOdds) -> float:
    """Return the chance of two or more young that satisfy an entry."""
    return max(sum(wish.counts[2:]), 0.0)


def risk_line(risk: WelfareRisk, head: str) -> str:
    """Tell a welfare note plainly after its ``head``: what it does, its kind, the source."""
    told = f"{head}: {risk.note.text.rstrip('.')} ({risk.note.harm}; {risk.note.cited})."
    if risk.excluded:
        told += (
            " Young of this genotype stay out of every plan unless rules.accept_welfare names "
            f"'{risk.genotype}'."
        )
    return told


def young_risks(risks: Sequence[WelfareRisk]) -> list[str]:
    """Tell the welfare notes that young may fall under."""
    told = [
        risk_line(risk, f"{risk.genotype} in {share(risk.probability)} of the young")
        for risk in risks
    ]
    if any(risk.note.harm is Harm.LETHAL for risk in risks):
        told.append(LETHAL_NOTE)
    return told


def warning(risks: Sequence[WelfareRisk]) -> str:
    """Name at the head what keeps such young out of plans; empty where nothing does."""
    told = [
        f"{risk.genotype} ({risk.note.harm}) in {share(risk.probability)} of the young"
        for risk in risks
        if risk.excluded
    ]
    return f"Welfare: {'; '.join(told)}. Read the notes before you pair." if told else ""


def own_risks(
    risks: Iterable[WelfareRisk], name: str, told: Sequence[WelfareRisk] = ()
) -> list[str]:
    """Tell the welfare notes that an animal itself falls under; those told already in brief."""
    known = {id(risk.note) for risk in told}
    return [
        f"{_own_head(risk, name)} ({risk.note.harm}): the note above."
        if id(risk.note) in known
        else risk_line(risk, _own_head(risk, name))
        for risk in risks
    ]


def _own_head(risk: WelfareRisk, name: str) -> str:
    if risk.probability > 1 - 1e-9:
        return f"{name} is {risk.genotype}"
    return f"{name} is {risk.genotype} with {share(risk.probability)}"


def verdict_lines(verdicts: Sequence[RuleVerdict]) -> list[str]:
    """Tell what the rules say: what bars, what to look at, what is met."""
    return [f"{state(verdict)}: {verdict.text} {verdict.remedy}".strip() for verdict in verdicts]


def state(verdict: RuleVerdict) -> str:
    """Say in a word or two how a verdict stands."""
    if not verdict.passed:
        return "Not met"
    return "Look first" if verdict.caution else "Met"
