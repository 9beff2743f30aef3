"""Rules on a pair: kinship with exceptions, harmful crosses, completeness."""

from __future__ import annotations

from dataclasses import replace

import pytest

from brumal.genetics.catalogue.genes import Harm, WelfareNote
from brumal.genetics.welfare import WelfareRisk
from brumal.rules.rule import PairFigures
from brumal.rules.table import judge_pair, pair_barred, rule_context
from brumal.rules.verdict import RuleVerdict
from records_by_hand import female, male, records

DAM, SIRE = female("F1", name="Frost"), male("M1", name="Thyme")


def judge(figures: PairFigures, **sections: object) -> dict[str, RuleVerdict]:
    context = rule_context(records([DAM, SIRE], sections=sections))
    figures = replace(figures, exception=context.exceptions.get((DAM.id, SIRE.id), ""))
    verdicts = judge_pair(DAM, SIRE, context, figures)
    barred = pair_barred(figures, context)
    assert barred is not all(verdict.passed for verdict in verdicts)
    assert all(verdict.subject == ("F1", "M1") for verdict in verdicts)
    return {verdict.rule: verdict for verdict in verdicts}


@pytest.mark.parametrize(
    ("F", "passed"), [(0.0, True), (0.0625, True), (0.0625 + 1e-6, False), (0.125, False)]
)
def test_kinship_at_the_cap(F: float, passed: bool) -> None:
    assert judge(PairFigures(F=F))["kinship"].passed is passed


def test_kinship_in_words() -> None:
    verdict = judge(PairFigures(F=0.125))["kinship"]
    assert verdict.text == (
        "Young of Frost and Thyme would have F 0.125; 0.0625 is the most: too closely related."
    )


def test_an_exception_bears_its_reason() -> None:
    kin = {"exceptions": [["F1", "M1", "last chance to prove the line"]]}
    verdict = judge(PairFigures(F=0.25), kin=kin)["kinship"]
    assert (verdict.passed, verdict.caution) == (True, True)
    assert verdict.text.endswith("The keeper makes an exception: last chance to prove the line")
    swapped = {"exceptions": [["M1", "F1", "the wrong way round"]]}
    assert not judge(PairFigures(F=0.25), kin=swapped)["kinship"].passed


def risk(harm: Harm, excluded: bool) -> WelfareRisk:
    note = WelfareNote(harm=harm, carries={"Spider": 1}, text="Wobbles.", source="invented")
    return WelfareRisk(note=note, genotype="Spider", probability=0.5, excluded=excluded)


def test_a_barred_risk_bars_and_says_why() -> None:
    verdict = judge(PairFigures(F=0, risks=(risk(Harm.NEUROLOGICAL, True),)))["welfare"]
    assert not verdict.passed
    assert verdict.text == (
        "Spider in 50% of the young of Frost and Thyme: Wobbles (neurological; invented)."
    )
    assert verdict.remedy == (
        "One copy does the harm, so no choice of mate avoids it. Lethal and neurological risks "
        "stay out of every plan unless rules.accept_welfare names the genotype itself (Spider)."
    )
    both = WelfareNote(harm=Harm.LETHAL, carries={"Spider": 2}, text="Dies.", source="invented")
    double = WelfareRisk(note=both, genotype="Super Spider", probability=0.25, excluded=True)
    remedy = judge(PairFigures(F=0, risks=(double,)))["welfare"].remedy
    assert remedy.startswith("Choose a mate that does not carry it.")


def test_a_lifted_or_lesser_risk_is_a_caution() -> None:
    verdict = judge(PairFigures(F=0, risks=(risk(Harm.SHAPE, False),)))["welfare"]
    assert (verdict.passed, verdict.caution) == (True, True)
    clean = judge(PairFigures(F=0))["welfare"]
    assert (clean.passed, clean.caution) == (True, False)


@pytest.mark.parametrize(("known", "passed"), [(1, False), (2, True), (5, True)])
def test_completeness(known: int, passed: bool) -> None:
    found = judge(PairFigures(F=0, generations=known), kin={"min_generations": 2})
    assert found["completeness"].passed is passed
    assert judge(PairFigures(F=0))["completeness"].passed
