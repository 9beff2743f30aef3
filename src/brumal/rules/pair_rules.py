"""Rules on a pair: kinship, harmful crosses, completeness of the pedigree."""

from __future__ import annotations

from brumal.rules.rule import (
    PRACTICE,
    Finding,
    Meeting,
    PairFigures,
    PairRule,
    RuleContext,
    decimals,
)
from brumal.rules.verdict import Rank

WELFARE = "welfare"
ROUNDING = 1e-9
"""F is a sum of powers of one half; a cap met exactly must not fail by rounding."""


def _over_cap(figures: PairFigures, context: RuleContext) -> bool:
    return figures.F - context.settings.limits.max_F > ROUNDING


def _bars_kinship(figures: PairFigures, context: RuleContext) -> bool:
    return _over_cap(figures, context) and not figures.exception


def _judge_kinship(pair: Meeting) -> Finding:
    cap = pair.context.settings.limits.max_F
    text = (
        f"Young of {pair.names} would have F {decimals(pair.figures.F, 4)}; "
        f"{decimals(cap, 4)} is the most"
    )
    told: dict[str, float | str] = {"F": pair.figures.F, "max_F": cap}
    if not _over_cap(pair.figures, pair.context):
        return Finding(passed=True, text=f"{text}.", figures=told)
    reason = pair.figures.exception
    if reason:
        text = f"{text}. The keeper makes an exception: {reason}"
        return Finding(passed=True, text=text, caution=True, figures=told | {"exception": reason})
    return Finding(
        passed=False,
        text=f"{text}: too closely related.",
        remedy="Choose a mate less closely related; an exception needs a written reason (kin).",
        missing=pair.figures.F - cap,
        figures=told,
    )


def _bars_welfare(figures: PairFigures, _: RuleContext) -> bool:
    return any(risk.excluded for risk in figures.risks)


def _judge_welfare(pair: Meeting) -> Finding:
    if not pair.figures.risks:
        text = f"No harmful genotype on record can come from {pair.names}."
        return Finding(passed=True, text=text)
    barred = _bars_welfare(pair.figures, pair.context)
    told = "; ".join(
        f"{risk.genotype} in {_chance(risk.probability)} of the young of {pair.names}: "
        f"{risk.note.text.rstrip('.')} ({risk.note.harm}; {risk.note.cited})"
        for risk in pair.figures.risks
    )
    return Finding(
        passed=not barred,
        text=f"{told}.",
        remedy=_welfare_remedy(pair) if barred else "",
        caution=not barred,
        figures={"chance": max(risk.probability for risk in pair.figures.risks)},
    )


def _welfare_remedy(pair: Meeting) -> str:
    excluded = [risk for risk in pair.figures.risks if risk.excluded]
    one_copy = all(sum(risk.note.carries.values()) == 1 for risk in excluded)
    mend = (
        "One copy does the harm, so no choice of mate avoids it."
        if one_copy
        else "Choose a mate that does not carry it."
    )
    names = ", ".join(risk.genotype for risk in excluded)
    return (
        f"{mend} Lethal and neurological risks stay out of every plan unless rules.accept_welfare "
        f"names the genotype itself ({names})."
    )


def _chance(probability: float) -> str:
    return f"{probability:.0%}" if probability >= 0.01 else f"{probability:.2%}"


def _bars_completeness(figures: PairFigures, context: RuleContext) -> bool:
    return figures.generations < context.settings.kin.min_generations


def _judge_completeness(pair: Meeting) -> Finding:
    asked = pair.context.settings.kin.min_generations
    known = pair.figures.generations
    text = f"Generations recorded in full behind both {pair.names}: {known}; {asked} asked for"
    passed = not _bars_completeness(pair.figures, pair.context)
    return Finding(
        passed=passed,
        text=f"{text}." if passed else f"{text}: F as recorded may be too low.",
        remedy="" if passed else "Enter the missing parents, or ask the breeder for them.",
        missing=0.0 if passed else float(asked - known),
        figures={"generations": known, "asked": asked},
    )


PAIR_RULES = (
    PairRule(
        id="kinship",
        title="F of the young at most limits.max_F, save for exceptions with a written reason",
        because=f"{PRACTICE}: no threshold for this species in papers; 0.0625 is F of the young of "
        "first cousins (Wright 1922, from memory)",
        keys=("limits.max_F", "kin.exceptions"),
        bars=_bars_kinship,
        judge=_judge_kinship,
        rank=Rank.RECORD,
    ),
    PairRule(
        id=WELFARE,
        title="No cross that can give a lethal or neurological genotype",
        because="animal welfare: Rose & Williams 2014, J Exot Pet Med 23, and Starck et al. 2022, "
        "PLOS ONE e0262788 (abstracts read), on one such disorder; each note names its own source",
        keys=("rules.accept_welfare",),
        bars=_bars_welfare,
        judge=_judge_welfare,
    ),
    PairRule(
        id="completeness",
        title="So many generations recorded in full behind both parents (off unless set)",
        because="an unknown parent is not known to be unrelated, so F as recorded is a lower bound",
        keys=("kin.min_generations",),
        bars=_bars_completeness,
        judge=_judge_completeness,
        rank=Rank.RECORD,
    ),
)
